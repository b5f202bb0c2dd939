"""What findings do: they stand beside what they are about, and move nothing."""

from collections.abc import Iterator
from dataclasses import dataclass

from ledger.books.admitting import access_of
from ledger.books.effect import Effects, Recorded, Subject, SubjectKind
from ledger.books.finding import refuse
from ledger.books.lookup import expect, require
from ledger.books.shelf import Shelf
from ledger.trade.inspection import FindingClosed, FindingNoted
from ledger.trade.role import Role


@dataclass(frozen=True, slots=True)
class Inspected:
    """A finding, and whether it was settled.

    Attributes:
        noted: The entry that notes it.
        finding: What it says.
        closed: The entry that settles it, if there is one.
    """

    noted: Recorded
    finding: FindingNoted
    closed: Recorded | None


def effects_of_finding(shelf: Shelf, recorded: Recorded) -> Effects:
    """Return what noting a finding does: it is found by what it is about.

    Raises:
        EntryRefusedError: Who records it may not act as a certifier of the scheme, or it
            is about something that is not recorded.
    """
    finding = expect(recorded.record, FindingNoted)
    _refuse_others(shelf, recorded, finding.scheme)
    mentions = [Subject(SubjectKind.SCHEME, finding.scheme)]
    if not shelf.about(mentions[0], "terms.published"):
        raise refuse(
            "unknown-scheme",
            "scheme",
            f"scheme is {finding.scheme}, but no terms of it are recorded; correct the "
            "name",
        )
    for place, about in enumerate(finding.about):
        subject = Subject(SubjectKind(about.subject), about.name)
        if not is_recorded(shelf, subject):
            require(shelf, subject, field=f"about.{place}.name")
        mentions.append(subject)
    return Effects(
        introduces=(Subject(SubjectKind.FINDING, finding.finding),),
        mentions=tuple(mentions),
    )


def effects_of_settling(shelf: Shelf, recorded: Recorded) -> Effects:
    """Return what settling a finding does: it is open no more.

    Raises:
        EntryRefusedError: There is no such finding, it is settled already, or who
            records it may not act as a certifier of its scheme.
    """
    closed = expect(recorded.record, FindingClosed)
    subject = Subject(SubjectKind.FINDING, closed.finding)
    noted = require(shelf, subject, field="finding")
    _refuse_others(shelf, recorded, expect(noted.record, FindingNoted).scheme)
    for earlier in shelf.about(subject, recorded.kind):
        raise refuse(
            "finding-closed",
            "finding",
            f"finding {closed.finding} was settled by entry {earlier.seq} already; note "
            "another one if there is more to say",
        )
    return Effects(mentions=(subject,))


def findings(shelf: Shelf) -> Iterator[Inspected]:
    """Yield every finding, in the order noted."""
    for noted in shelf.of_kind("finding.noted"):
        finding = expect(noted.record, FindingNoted)
        subject = Subject(SubjectKind.FINDING, finding.finding)
        closed = shelf.about(subject, "finding.closed")
        yield Inspected(noted, finding, closed[0] if closed else None)


def is_recorded(shelf: Shelf, subject: Subject) -> bool:
    """Tell whether something is recorded that a finding may be about.

    A shipment is, too, if only its arrival was recorded.
    """
    names = [subject]
    if subject.kind is SubjectKind.SHIPMENT:
        names.append(Subject(SubjectKind.ARRIVAL, subject.name))
    return any(shelf.introducer(one) is not None for one in names)


def _refuse_others(shelf: Shelf, recorded: Recorded, scheme: str) -> None:
    access = access_of(shelf, recorded.recorded_by)
    if access is None or Role.CERTIFIER not in access.roles:
        raise refuse(
            "not-a-certifier",
            "",
            f"{recorded.recorded_by} records it, who may not act as a certifier in this "
            "ledger; findings are a certifier's own, so sign in as one",
        )
    if access.scheme not in {None, scheme}:
        raise refuse(
            "scheme-not-shown",
            "scheme",
            f"scheme is {scheme}, but {recorded.recorded_by} looks at {access.scheme} "
            "only; note it under that scheme",
        )
