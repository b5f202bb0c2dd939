"""Which entries a part of a ledger must show, so that its figures can be added up again.

It begins with what the part is about, and goes on to whatever that rests on: an entry is
judged once more, and every record that the judgement looks at is needed too, and what
those look at, and so on. Every entry that ever stood in a place of those is needed as
well, also where it was corrected or made void.

So whoever has these entries alone comes to the same accounts and dues of the part. What
lots still hold they cannot tell: goods also leave to where the part does not look.
"""

from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import date
from typing import Final, Protocol

from ledger.books.closing import closed_until
from ledger.books.dues import dues_of
from ledger.books.effect import Book, Effects, Recorded, Subject, SubjectKind
from ledger.books.effects import effects_of
from ledger.books.finding import EntryRefusedError, refuse
from ledger.books.hindsight import corrections_by_slot
from ledger.books.lookup import require, schemes_of
from ledger.books.noting import NotingShelf
from ledger.books.opening import replacement_in
from ledger.books.portion import Portion
from ledger.books.resting import CERTIFICATE_KINDS
from ledger.books.shelf import Shelf
from ledger.chain.canonical import JsonValue
from ledger.trade.inspection import FindingNoted
from ledger.trade.party import CertificateRecorded
from ledger.trade.record import body_of

FRAME: Final = (
    "ledger.opened",
    "key.rotated",
    "key.revoked",
    "checkpoint.signed",
    "period.closed",
)
"""Kinds that every part shows: whose ledger it is, who signs, which periods are closed."""

_REST_ON_NOTHING: Final = frozenset({*FRAME, "correction", "terms.published"})
_ACCOUNT_BOOKS: Final = (Book.ACCOUNT, Book.INPUT, Book.OUTPUT)
_NAMED: Final = frozenset(
    {
        SubjectKind.CERTIFICATE,
        SubjectKind.CONTRACT,
        SubjectKind.SHIPMENT,
        SubjectKind.LOT,
        SubjectKind.SALE,
    }
)
"""Sorts of things whose void entries belong to a part, too."""


class History(Protocol):
    """What a shelf cannot tell, because it holds only what counts."""

    def first(self, seq: int) -> Recorded | None:
        """Return an entry as it was first recorded, if it can be read."""

    def on_days(self, since: date | None, until: date | None) -> Iterable[int]:
        """Return the slots of what counts and occurred in a stretch of time."""


def needed(
    shelf: Shelf, history: History, portion: Portion, *, as_of: date
) -> frozenset[int]:
    """Return the numbers of the entries that a part of a ledger must show.

    Args:
        shelf: What is recorded, whole.
        history: What of it no longer counts.
        portion: The part.
        as_of: Trade date up to which its dues are added up.

    Raises:
        EntryRefusedError: Nothing is recorded of the scheme or sale that it is about.
    """
    search = _Search(shelf, history, portion, as_of, corrections_by_slot(shelf))
    search.want(_frame(shelf))
    search.want(_about(shelf, history, portion))
    search.follow()
    while search.want(_void(search)):
        search.follow()
    return search.numbers()


def _frame(shelf: Shelf) -> Iterator[int]:
    for kind in FRAME:
        yield from (found.slot for found in shelf.of_kind(kind))


def _about(shelf: Shelf, history: History, portion: Portion) -> Iterator[int]:
    if portion.sale is not None:
        sale = Subject(SubjectKind.SALE, portion.sale)
        yield require(shelf, sale, field="sale").slot
        yield from (found.slot for found in shelf.about(sale))
        return
    # Batches that are shown are held against them.
    yield from (found.slot for found in shelf.of_kind("limits.published"))
    until = _last_day(shelf, portion)
    for book in _ACCOUNT_BOOKS:
        for tally in shelf.tallies(book):
            if portion.keeps(tally):
                moved = shelf.run(tally, until=until).movements
                yield from (movement.slot for movement in moved)
    if portion.scheme is not None:
        yield from _of_scheme(shelf, portion, portion.scheme)
    else:
        yield from history.on_days(portion.since, portion.until)


def _last_day(shelf: Shelf, portion: Portion) -> date | None:
    """Return the last day on which accounts must be whole.

    What is left lapses when a period is closed, and corrections leave closed periods as
    they are, so neither can be followed with a part of a closed period.
    """
    closed = closed_until(shelf)
    if portion.until is None or closed is None:
        return portion.until
    return max(portion.until, closed)


def _of_scheme(shelf: Shelf, portion: Portion, scheme: str) -> Iterator[int]:
    subject = Subject(SubjectKind.SCHEME, scheme)
    if not shelf.about(subject, "terms.published"):
        raise refuse(
            "unknown-scheme",
            "scheme",
            f"scheme is {scheme}, but no terms of it are recorded; use one of "
            f"{_listed(schemes_of(shelf))}",
        )
    kinds = ("terms.published", "certificate.recorded") if portion.is_dated else (None,)
    for kind in kinds:
        for found in shelf.about(subject, kind):
            # A finding belongs to what it is about, and comes with that.
            if isinstance(found.record, FindingNoted) and found.record.about:
                continue
            yield found.slot
            if isinstance(found.record, CertificateRecorded):
                certificate = Subject(SubjectKind.CERTIFICATE, found.record.certificate)
                yield from (event.slot for event in shelf.about(certificate))
    for contract in shelf.subjects(SubjectKind.CONTRACT):
        if portion.has_contract(shelf, contract.name):
            yield require(shelf, contract, field="contract").slot


def _listed(names: Iterable[str]) -> str:
    return ", ".join(sorted(names)) or "none, since no terms are recorded yet"


def _void(search: "_Search") -> Iterator[int]:
    """Yield corrected places whose earlier entries name what the part is about."""
    names = search.names()
    for slot in search.corrections.keys() - search.slots:
        for version in search.versions(slot):
            words = set(_words(body_of(version.record)))
            if (
                words & names
                or (
                    search.portion.scheme is None
                    and search.portion.is_dated
                    and search.portion.covers(version.occurred_on)
                )
                or (
                    isinstance(version.record, CertificateRecorded)
                    and (search.has_goods_of(version.record))
                )
            ):
                yield slot


def _named_by(effects: Effects) -> Iterator[Subject]:
    """Yield what an entry brings in; of a finding also what it is about.

    What a finding is about may be void by now, which nothing else may be that is named.
    """
    yield from effects.introduces
    if any(subject.kind is SubjectKind.FINDING for subject in effects.introduces):
        yield from effects.mentions


def _words(value: JsonValue) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for part in value.values():
            yield from _words(part)
    elif isinstance(value, list):
        for part in value:
            yield from _words(part)


@dataclass(slots=True)
class _Search:
    """What is needed so far, and what is still to be followed."""

    shelf: Shelf
    history: History
    portion: Portion
    as_of: date
    corrections: Mapping[int, list[Recorded]]
    slots: set[int] = field(default_factory=set)
    waiting: list[int] = field(default_factory=list)
    schemes: set[str] = field(default_factory=set)
    certificates: dict[int, str] = field(default_factory=dict)

    def want(self, slots: Iterable[int]) -> bool:
        """Note slots that are needed, and tell whether any of them is new."""
        new = set(slots) - self.slots
        self.slots |= new
        self.waiting += sorted(new)
        return bool(new)

    def follow(self) -> None:
        """Note whatever rests under the slots that are waiting."""
        while self.waiting:
            self._follow_slot(self.waiting.pop())
            if not self.waiting:
                self.want(self._certificates())

    def _follow_slot(self, slot: int) -> None:
        for version in self.versions(slot):
            self._follow_version(version)
            if version.kind not in CERTIFICATE_KINDS:
                mentions = self.shelf.effects(slot).mentions
                kind = SubjectKind.SCHEME
                self.schemes.update(one.name for one in mentions if one.kind is kind)
        self.want(self._refills(slot))
        for subject in self.shelf.effects(slot).introduces:
            self.want(self._beside(subject))

    def _certificates(self) -> Iterator[int]:
        """Yield the certificates looked at that are of schemes that play a part.

        Whoever asks for one certificate of a holder looks at all of them.
        """
        for slot, scheme in self.certificates.items():
            if scheme in self.schemes:
                yield slot

    def has_goods_of(self, certificate: CertificateRecorded) -> bool:
        """Tell whether goods of the part may have counted under a certificate.

        One that was made void counted until then, which closed periods still show.
        """
        if certificate.scheme not in self.schemes:
            return False
        holder = self.shelf.introducer(Subject(SubjectKind.PARTY, certificate.holder))
        return holder is None or holder.slot in self.slots  # No party is the maker.

    def versions(self, slot: int) -> Iterator[Recorded]:
        """Yield everything that ever stood in a slot."""
        counting = self.shelf.at(slot)
        if slot not in self.corrections:
            if counting is not None:
                yield counting
            return
        first = self.history.first(slot)
        if first is not None:
            yield first
        for correction in self.corrections[slot]:
            replacement = replacement_in(correction, slot=slot)
            if replacement is not None:
                yield replacement

    def names(self) -> set[str]:
        """Return the names of what the part is about, and of what it brings in."""
        sorts = {SubjectKind.SALE} if self.portion.sale is not None else _NAMED
        found = {
            subject.name
            for slot in self.slots
            for subject in _named_by(self.shelf.effects(slot))
            if subject.kind in sorts
        }
        return found | ({self.portion.scheme} if self.portion.scheme else set())

    def numbers(self) -> frozenset[int]:
        """Return the numbers of the entries in every slot that is needed."""
        found = set(self.slots)
        for slot in self.slots & self.corrections.keys():
            found.update(correction.seq for correction in self.corrections[slot])
        return frozenset(found)

    def _follow_version(self, version: Recorded) -> None:
        if version.kind == "correction":
            self.want(
                slot
                for slot, found in self.corrections.items()
                if any(one.seq == version.seq for one in found)
            )
        if version.kind in _REST_ON_NOTHING:
            return
        noting = NotingShelf(self.shelf, without=version.slot)
        # It may no longer hold as it was first written; what it looked at is noted.
        with suppress(EntryRefusedError):
            effects_of(noting, version)
        words = frozenset(_words(body_of(version.record)))
        self.want(noting.noted - self._put_off(noting.noted, named=words))

    def _put_off(
        self, slots: Iterable[int], *, named: frozenset[str] = frozenset()
    ) -> set[int]:
        """Return those of some slots that are certificates, and keep them for later.

        One that is named itself, as by its suspension, is needed whatever its scheme is.
        """
        found = {}
        for slot in slots:
            counting = self.shelf.at(slot)
            record = None if counting is None else counting.record
            if (
                isinstance(record, CertificateRecorded)
                and record.certificate not in named
            ):
                found[slot] = record.scheme
        self.certificates |= found
        return set(found)

    def _refills(self, slot: int) -> Iterator[int]:
        """Yield what brought mass into the lots that an entry takes from."""
        for posting in self.shelf.effects(slot).postings:
            if posting.tally.book is Book.STOCK and posting.grams < 0:
                moved = self.shelf.run(posting.tally).movements
                yield from (one.slot for one in moved if one.grams > 0)

    def _beside(self, subject: Subject) -> Iterator[int]:
        """Yield what belongs to a thing that is needed, though nothing rests on it."""
        kinds = ["document.attached", "finding.noted", "finding.closed"]
        if subject.kind is SubjectKind.PARTY:
            kinds.append("disclosure.erased")
        elif subject.kind is SubjectKind.LOT:
            # A certificate stopped later leaves nothing to ask it, yet when a period was
            # closed in between it had already taken off what was credited.
            kinds.append("lot.rejected")
        for kind in kinds:
            yield from (found.slot for found in self.shelf.about(subject, kind))
        if subject.kind is SubjectKind.SALE:
            yield from (found.slot for found in self.shelf.about(subject))
        elif subject.kind is SubjectKind.CONTRACT:
            yield from self._of_contract(subject)

    def _of_contract(self, contract: Subject) -> Iterator[int]:
        """Yield what the dues of a contract rest on, if the part shows them."""
        if not self.portion.has_contract(self.shelf, contract.name):
            return
        yield from (found.slot for found in self.shelf.about(contract))
        signed = require(self.shelf, contract, field="contract")
        if signed.occurred_on <= self.as_of:
            noting = NotingShelf(self.shelf)
            dues_of(noting, contract.name, self.as_of)
            yield from noting.noted - self._put_off(noting.noted)
