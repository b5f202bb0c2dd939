"""Certificates on a day: which count, for how long yet, and which were stopped."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Final

from ledger.books.certificate import stopped_on
from ledger.books.effect import SubjectKind
from ledger.books.lookup import expect, opening
from ledger.books.shelf import Shelf
from ledger.trade.party import CertificateRecorded, CertificateSuspended

SOON_DAYS: Final = 90
"""Days before its last that a certificate is called about to lapse (common practice, no
source): an audit and its paperwork take weeks."""


class State(StrEnum):
    """What a certificate counts for on a day."""

    COUNTS = "counts"
    ENDS_SOON = "ends soon"
    NOT_YET = "not yet valid"
    LAPSED = "lapsed"
    SUSPENDED = "suspended"
    WITHDRAWN = "withdrawn"


@dataclass(frozen=True, slots=True)
class Validity:
    """One certificate on one day.

    Attributes:
        certificate: The certificate as recorded.
        entry: Sequence number of its entry.
        on: The day.
        state: What it counts for.
        stopped_from: First day on which a suspension or withdrawal stops it, if one does.
        is_own: Whether it is the maker's.
        is_renewed: Whether another certificate of its holder under its scheme goes on
            after its last day, or counts in its place.
    """

    certificate: CertificateRecorded
    entry: int
    on: date
    state: State
    stopped_from: date | None
    is_own: bool
    is_renewed: bool

    @property
    def days_left(self) -> int:
        """Days on which it still counts after the day asked about; 0 where it does not."""
        if self.state not in {State.COUNTS, State.ENDS_SOON}:
            return 0
        return (self.certificate.valid_until - self.on).days

    @property
    def counts(self) -> bool:
        """Whether it counts on the day."""
        return self.state in {State.COUNTS, State.ENDS_SOON}

    @property
    def needs_attention(self) -> bool:
        """Whether it stopped, or is about to, and nothing stands in its place."""
        return not self.is_renewed and self.state not in {State.COUNTS, State.NOT_YET}


def validities(shelf: Shelf, on: date) -> tuple[Validity, ...]:
    """Return every certificate that is recorded by a day, the first to end first.

    Args:
        shelf: What is recorded.
        on: Trade date; a suspension counts from the day it takes effect.

    Raises:
        EntryRefusedError: The ledger is not opened yet.
    """
    own = opening(shelf).organisation
    recorded = [
        (found.seq, expect(found.record, CertificateRecorded))
        for subject in shelf.subjects(SubjectKind.CERTIFICATE)
        if (found := shelf.introducer(subject)) is not None and found.occurred_on <= on
    ]
    states = {one.certificate: _state(shelf, one, on) for _, one in recorded}
    return tuple(
        Validity(
            certificate=one,
            entry=entry,
            on=on,
            state=states[one.certificate][0],
            stopped_from=states[one.certificate][1],
            is_own=one.holder == own,
            is_renewed=any(
                other.holder == one.holder
                and other.scheme == one.scheme
                and other.valid_until > one.valid_until
                and states[other.certificate][0]
                in {State.COUNTS, State.ENDS_SOON, State.NOT_YET}
                for _, other in recorded
            ),
        )
        for entry, one in sorted(
            recorded, key=lambda item: (item[1].valid_until, item[1].certificate)
        )
    )


def _state(
    shelf: Shelf, certificate: CertificateRecorded, on: date
) -> tuple[State, date | None]:
    stopped = stopped_on(shelf, certificate.certificate, on)
    if stopped is not None:
        is_suspended = isinstance(stopped, CertificateSuspended)
        state = State.SUSPENDED if is_suspended else State.WITHDRAWN
        return state, stopped.from_on
    if on < certificate.valid_from:
        return State.NOT_YET, None
    if on > certificate.valid_until:
        return State.LAPSED, None
    is_soon = (certificate.valid_until - on).days <= SOON_DAYS
    return (State.ENDS_SOON if is_soon else State.COUNTS), None
