"""Whether an audit could be passed: what stands against it, and what has to be explained.

What no ledger sees, such as goods, scales and people, a certifier looks at all the same.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Final

from ledger.books.breach import Breaches
from ledger.books.readiness import Readiness, Signed
from ledger.books.validity import State, Validity

NEARLY_OUT_DAYS: Final = 30
"""Days of sales below which an account is told to run out soon (common practice, no
source)."""

DEFERS: Final = (
    "This is what the books see. A certifier also looks at what no ledger sees: goods, "
    "scales, people and papers. The scheme's published standard, local law and the "
    "certifier have the last word."
)


class Verdict(StrEnum):
    """Whether an audit could be passed."""

    YES = "yes"
    EXPLAIN = "yes, with something to explain"
    NO = "no"


class Topic(StrEnum):
    """What a point is about."""

    ACCOUNTS = "accounts"
    BREACHES = "breaches"
    DUES = "dues"
    CERTIFICATES = "certificates"
    BATCHES = "batches"
    HOLDS = "holds"
    MASSES = "masses"
    SIGNING = "signing"


@dataclass(frozen=True, slots=True)
class Point:
    """One thing that stands against passing an audit, or that has to be explained.

    Attributes:
        topic: What it is about.
        is_against: Whether the audit could not be passed because of it.
        sentence: What it is, in one sentence.
    """

    topic: Topic
    is_against: bool
    sentence: str


def points_of(found: Readiness) -> tuple[Point, ...]:
    """Return what stands against passing an audit, then what has to be explained."""
    points = sorted(_points(found), key=lambda point: not point.is_against)
    return tuple(points)


def verdict_of(points: Iterable[Point]) -> Verdict:
    """Return whether an audit could be passed, by the points."""
    told = [point.is_against for point in points]
    if any(told):
        return Verdict.NO
    return Verdict.EXPLAIN if told else Verdict.YES


def _points(found: Readiness) -> Iterator[Point]:
    yield from _points_of_breaches(found.breaches)
    yield from _points_of_accounts(found)
    yield from _points_of_dues(found)
    yield from _points_of_certificates(found)
    yield from _points_of_making(found)
    yield from _points_of_signing(found.signed)


def _points_of_breaches(breaches: Breaches) -> Iterator[Point]:
    accounts = _count(one.is_open for one in breaches.accounts)
    claims = _count(one.is_open for one in breaches.claims)
    if accounts:
        yield _against(
            Topic.BREACHES,
            f"Accounts that have given out more claims than certified receipts cover: "
            f"{accounts}.",
        )
    if claims:
        yield _against(
            Topic.BREACHES,
            f"Physical claims that the goods sold no longer support: {claims}.",
        )


def _points_of_accounts(found: Readiness) -> Iterator[Point]:
    for average in found.averages:
        if average.excess_g > 0:
            yield _against(
                Topic.ACCOUNTS,
                f"Of what account {average.account} sold from {average.since} to "
                f"{average.on}, more was claimed than its percentage allows.",
            )
    for one in found.headrooms:
        days = one.covered_days
        if days is not None and one.grams >= 0 and days < NEARLY_OUT_DAYS:
            yield _to_explain(
                Topic.ACCOUNTS,
                f"At current sales account {one.account} runs out on {one.runs_out_on}.",
            )


def _points_of_dues(found: Readiness) -> Iterator[Point]:
    overdue, late = len(found.overdue), len(found.paid_late)
    unknown = _count(
        line.amount_minor is None for dues in found.dues for line in dues.lines
    )
    if overdue:
        yield _against(Topic.DUES, f"Payments to growers that are overdue: {overdue}.")
    if late:
        yield _to_explain(
            Topic.DUES,
            f"Dues that were paid late since {found.since}: {late}.",
        )
    if unknown:
        yield _to_explain(Topic.DUES, f"Dues that there is no figure for: {unknown}.")


def _points_of_certificates(found: Readiness) -> Iterator[Point]:
    own = {
        one.certificate.scheme
        for one in found.certificates
        if one.is_own and one.counts
    }
    used = {
        one.account.scheme for one in found.headrooms if one.standing_g or one.claimed_g
    }
    for scheme in sorted(used - own):
        yield _against(
            Topic.CERTIFICATES,
            f"No certificate of the maker's own counts under {scheme}.",
        )
    for one in found.certificates:
        if one.needs_attention and not (one.is_own and not one.counts):
            sentence = _of_certificate(one, found.since)
            if sentence:
                yield _to_explain(Topic.CERTIFICATES, sentence)


def _of_certificate(one: Validity, since: date) -> str:
    name, holder = one.certificate.certificate, one.certificate.holder
    until = one.certificate.valid_until
    match one.state:
        case State.ENDS_SOON:
            return f"Certificate {name} of {holder} ends on {until}."
        case State.LAPSED if until >= since:
            return (
                f"Certificate {name} of {holder} ended on {until}; what it sells does "
                "not count."
            )
        case State.SUSPENDED:
            return (
                f"Certificate {name} of {holder} is suspended from {one.stopped_from}."
            )
        case State.WITHDRAWN if one.stopped_from and one.stopped_from >= since:
            return (
                f"Certificate {name} of {holder} is withdrawn from {one.stopped_from}."
            )
        case _:
            return ""


def _points_of_making(found: Readiness) -> Iterator[Point]:
    flagged = len(found.flagged_batches)
    outside = sum(len(series.outside) for series in found.yields)
    counts = _count(not one.is_within for one in found.masses.counts)
    if flagged:
        yield _to_explain(
            Topic.BATCHES,
            f"Batches outside the maker's limits or the norms of a scheme: {flagged}.",
        )
    if outside:
        yield _to_explain(
            Topic.BATCHES,
            f"Batches whose yield lies outside the control limits: {outside}.",
        )
    if found.held:
        yield _to_explain(Topic.HOLDS, f"Lots on hold: {len(found.held)}.")
    if not found.masses.adds_up:
        yield _against(
            Topic.MASSES,
            f"Masses from {found.since} to {found.on} do not add up.",
        )
    if counts:
        yield _to_explain(
            Topic.MASSES,
            f"Counts that differ from the book beyond their tolerance: {counts}.",
        )


def _points_of_signing(signed: Signed) -> Iterator[Point]:
    if signed.problem is not None:
        problem = f"{signed.problem[:1].upper()}{signed.problem[1:]}."
        yield Point(Topic.SIGNING, signed.is_broken, problem)
    elif not signed.covered:
        yield _to_explain(Topic.SIGNING, "No checkpoint of the record is signed yet.")
    else:
        if signed.since:
            yield _to_explain(
                Topic.SIGNING,
                f"Entries recorded since the last signed checkpoint: {signed.since}.",
            )
        if not signed.seen:
            yield _to_explain(
                Topic.SIGNING,
                "No signed checkpoint was seen by a witness or a timestamp authority.",
            )
        elif signed.seen < signed.covered:
            unseen = signed.covered - signed.seen
            yield _to_explain(
                Topic.SIGNING,
                f"Signed entries that no witness has seen yet: {unseen}.",
            )


def _against(topic: Topic, sentence: str) -> Point:
    return Point(topic, is_against=True, sentence=sentence)


def _to_explain(topic: Topic, sentence: str) -> Point:
    return Point(topic, is_against=False, sentence=sentence)


def _count(told: Iterable[bool]) -> int:
    return sum(told)
