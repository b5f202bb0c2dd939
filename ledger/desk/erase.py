"""Erasing a person's data: what opens the sealed values goes, and that it went stays.

The entries, their digests, every checkpoint and every pack given out before stay as they
are. Nobody can compute the values from what is left, because each was salted.
"""

from collections import Counter
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Final

from ledger.books.effect import Recorded, Subject, SubjectKind
from ledger.books.lookup import terms_of
from ledger.books.shelf import Shelf
from ledger.chain.seal import disclosure_digest
from ledger.desk.record import record
from ledger.desk.showing import sealed_values
from ledger.desk.writing import Writing
from ledger.errors import ConflictError, NotFoundError
from ledger.store.entries import delete_disclosures
from ledger.store.shelf import SqlShelf

if TYPE_CHECKING:
    from ledger.store.rows import Rows

PERSONAL: Final = ("legal_name", "address", "contacts")
"""The sealed members of a party that may be of a person."""

_LAW: Final = (
    "Law may ask that records are kept: of food bought and sold for tracing and recall, of "
    "payments for tax. Where a person asks for erasure and the law asks for keeping, the "
    "law decides; ask somebody who knows yours before you go on."
)


@dataclass(frozen=True, slots=True)
class Erasable:
    """What there is of a party that can be erased, and what speaks against it.

    Attributes:
        party: The party.
        digests: Digests of the disclosures, by the member that each opens.
        last_on: Trade date of the last entry that names the party, if any does.
        kept_until: Last day for which the terms ask that records are kept, by scheme.
    """

    party: str
    digests: tuple[tuple[str, str], ...]
    last_on: date | None
    kept_until: tuple[tuple[str, date], ...]

    def counted(self) -> Iterator[tuple[str, int]]:
        """Yield how many values there are of each member."""
        yield from sorted(Counter(member for member, _ in self.digests).items())


def find_erasable(
    rows: "Rows", party: str, *, members: Collection[str] = PERSONAL
) -> Erasable:
    """Return what there is of a party that can be erased.

    Values of entries that were corrected or made void are found, too.

    Args:
        rows: The ledger.
        party: The party.
        members: Which sealed members of it.

    Raises:
        NotFoundError: No party of that name was ever registered.
        ConflictError: Nothing of it is there any more.
    """
    digests = tuple(
        (found.member, disclosure_digest(found.text))
        for found in sealed_values(rows)
        if found.party == party and found.member in members
    )
    shelf = SqlShelf(rows)
    named = list(shelf.about(Subject(SubjectKind.PARTY, party)))
    if not digests and not named:
        raise NotFoundError(
            f"party {party} was never registered, so there is nothing to erase; check "
            "the name with `evenweight log`"
        )
    if not digests:
        raise ConflictError(
            f"nothing is there of {', '.join(members)} of party {party}: it was never "
            "given, or is erased already"
        )
    last_on = max((found.occurred_on for found in named), default=None)
    return Erasable(party, digests, last_on, tuple(_kept_until(shelf, named)))


def _kept_until(
    shelf: Shelf, named: Collection[Recorded]
) -> Iterator[tuple[str, date]]:
    last_on = max((found.occurred_on for found in named), default=None)
    if last_on is None:
        return
    schemes = {
        subject.name
        for found in named
        for subject in shelf.effects(found.slot).mentions
        if subject.kind is SubjectKind.SCHEME
    }
    for scheme in sorted(schemes):
        years = max(
            (terms.retention_years for terms in terms_of(shelf, scheme)), default=0
        )
        yield scheme, _years_later(last_on, years)


def _years_later(day: date, years: int) -> date:
    try:
        return day.replace(year=day.year + years)
    except ValueError:
        return day.replace(year=day.year + years, day=28)


def erase(writing: Writing, found: Erasable, *, reason: str, on: date) -> int:
    """Erase what there is of a party, record that it was done, and return the entry.

    Args:
        writing: The open transaction.
        found: What there is, as `find_erasable` found it in the same transaction.
        reason: Why, and who asked for it.
        on: Day on which it is done.

    Raises:
        InputError: The reason is not a line of text.
    """
    members = {member for member, _ in found.digests}
    digests = [digest for _, digest in found.digests]
    made = record(
        writing,
        "disclosure.erased",
        on,
        {
            "party": found.party,
            "members": [member for member in PERSONAL if member in members],
            "digests": [*sorted(digests)],
            "reason": reason,
        },
    )
    delete_disclosures(writing.rows, digests)
    return made.recorded.seq


def caution(found: Erasable, *, today: date) -> tuple[str, ...]:
    """Return what to consider before data are erased, in plain sentences."""
    values = ", ".join(
        f"{member.replace('_', ' ')} ({count})" for member, count in found.counted()
    )
    what = f"This erases for good, of party {found.party}: {values}."
    told = [f"{what} Nothing in the ledger can bring it back.", _LAW]
    if found.last_on is not None:
        told.append(
            f"The last entry that names {found.party} is of {found.last_on}. Goods of it "
            "may still be on sale, and a recall needs to reach who has them."
        )
    told += [
        f"The terms of {scheme} ask that records are kept until {until}"
        f"{', which has not come yet' if until > today else ''}."
        for scheme, until in found.kept_until
    ]
    told.append(
        "Packs, reports, backups and files that left the ledger still hold the data; ask "
        "their holders to delete them, and delete your own."
    )
    return tuple(told)
