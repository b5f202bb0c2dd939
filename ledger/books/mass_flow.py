"""The mass of everything that ever came in: from whom, through which forms, where to.

It is the reconciliation of the whole site, in kilograms of goods as weighed: what came in
is what was sold, what is left, and what was lost. A batch spreads each form that goes in
over its outputs and losses in proportion to their masses, as a trace does.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from enum import IntEnum
from fractions import Fraction
from typing import Final

from ledger.books.claimed import LineOut, lines_out
from ledger.books.effect import Recorded
from ledger.books.shelf import Shelf
from ledger.books.source import exact_sum, source_lots
from ledger.books.trace import whole_g
from ledger.trade.batch import BatchMade
from ledger.trade.grams import to_grams
from ledger.trade.lot import LotWrittenOff
from ledger.trade.sale import SaleDispatched
from ledger.trade.words import Form

WITHOUT_CLAIM: Final = "without a claim"
"""Name of the end of goods sold without one."""


class Sort(IntEnum):
    """What mass passes: whom it came from, the forms it had, what became of it."""

    SUPPLIER = 0
    FORM = 1
    CLAIMED = 2
    UNCLAIMED = 3
    IN_STOCK = 4
    LOST = 5
    WRITTEN_OFF = 6


@dataclass(frozen=True, slots=True, order=True)
class Station:
    """One supplier, form or end.

    Attributes:
        sort: What it is.
        name: The supplier, the form, the claim, or the reason of a loss; empty for stock
            and what was written off.
    """

    sort: Sort
    name: str = ""


@dataclass(frozen=True, slots=True)
class MassFlow:
    """Mass between stations, in exact grams.

    Attributes:
        until: Last trade date that counts.
        grams: By where it came from and where it went; never none. What stays in its
            form, such as a fill of a tank, is left out.
    """

    until: date
    grams: Mapping[tuple[Station, Station], Fraction]

    @property
    def came_in_g(self) -> Fraction:
        """Everything that came in."""
        return exact_sum(
            [
                grams
                for (source, _), grams in self.grams.items()
                if source.sort is Sort.SUPPLIER
            ]
            or [Fraction(0)]
        )

    @property
    def ends(self) -> dict[Station, Fraction]:
        """Grams by what became of them; they sum to everything that came in."""
        found: dict[Station, list[Fraction]] = defaultdict(list)
        for (_, target), grams in self.grams.items():
            if target.sort > Sort.FORM:
                found[target].append(grams)
        return {end: exact_sum(found[end]) for end in sorted(found)}


def mass_flow(shelf: Shelf, until: date) -> MassFlow:
    """Return where the mass of everything that came in went.

    Args:
        shelf: What is recorded.
        until: Last trade date that counts.
    """
    forms: dict[str, Form] = {}
    parts: dict[tuple[Station, Station], list[Fraction]] = defaultdict(list)
    moved = (
        *_received(shelf, until, forms),
        *_made(shelf, until, forms),
        *_sold(shelf, until, forms),
        *_written_off(shelf, until, forms),
    )
    for source, target, grams in moved:
        if grams and source != target:
            parts[source, target].append(grams)
    together = {pair: exact_sum(found) for pair, found in sorted(parts.items())}
    return MassFlow(until, together | _left_over(together))


_Moved = tuple[Station, Station, Fraction]


def _received(shelf: Shelf, until: date, forms: dict[str, Form]) -> Iterator[_Moved]:
    for receipt in _up_to(shelf, "shipment.received", until):
        for lot in source_lots(shelf, receipt):
            forms[lot.lot] = lot.form
            supplier = Station(Sort.SUPPLIER, lot.supplier)
            yield supplier, Station(Sort.FORM, lot.form), Fraction(whole_g(lot))


def _made(shelf: Shelf, until: date, forms: dict[str, Form]) -> Iterator[_Moved]:
    batches = [
        found.record
        for found in _up_to(shelf, "batch.made", until)
        if isinstance(found.record, BatchMade)
    ]
    # Batches of a day need not be recorded in the order in which they were made.
    for batch in batches:
        forms |= {output.lot: output.form for output in batch.outputs}
    for batch in batches:
        went = Counter[Station]()
        for output in batch.outputs:
            went[Station(Sort.FORM, output.form)] += to_grams(output.mass_kg)
        for loss in batch.losses:
            went[Station(Sort.LOST, loss.reason)] += to_grams(loss.mass_kg)
        whole = sum(went.values())
        for part in batch.inputs:
            source = Station(Sort.FORM, forms[part.lot])
            for target, grams in went.items():
                yield source, target, Fraction(to_grams(part.mass_kg) * grams, whole)


def _sold(shelf: Shelf, until: date, forms: dict[str, Form]) -> Iterator[_Moved]:
    lines = (
        out
        for sold in _up_to(shelf, "sale.dispatched", until)
        if isinstance(sold.record, SaleDispatched)
        for out in lines_out(shelf, sold.record, until=until)
    )
    for out in lines:
        source = Station(Sort.FORM, forms[out.line.lot])
        for end, grams in _by_claims(out):
            yield source, end, Fraction(grams)


def _by_claims(out: LineOut) -> Iterator[tuple[Station, int]]:
    """Yield grams still with the customer by the claims that they still carry.

    Where claims were taken back for a part of the line under some schemes only, as many
    kilograms as can be are taken to carry all that is left.
    """
    named = {
        claim.scheme: f"{claim.scheme}, {claim.custody}" for claim in out.line.claims
    }
    told_g = 0
    for claimed_g in sorted(set(out.claimed_g.values())):
        carried = [named[s] for s, grams in out.claimed_g.items() if grams >= claimed_g]
        yield Station(Sort.CLAIMED, " and ".join(carried)), claimed_g - told_g
        told_g = claimed_g
    yield Station(Sort.UNCLAIMED, WITHOUT_CLAIM), out.goods_g - told_g


def _written_off(shelf: Shelf, until: date, forms: dict[str, Form]) -> Iterator[_Moved]:
    for found in _up_to(shelf, "lot.written_off", until):
        if isinstance(found.record, LotWrittenOff):
            source = Station(Sort.FORM, forms[found.record.lot])
            grams = to_grams(found.record.mass_kg)
            yield source, Station(Sort.WRITTEN_OFF), Fraction(grams)


def _left_over(
    grams: Mapping[tuple[Station, Station], Fraction],
) -> dict[tuple[Station, Station], Fraction]:
    """Return what is left in every form: what came to it less what went on."""
    left: dict[Station, list[Fraction]] = defaultdict(list)
    for (source, target), moved in grams.items():
        left[source].append(-moved)
        left[target].append(moved)
    return {
        (form, Station(Sort.IN_STOCK)): rest
        for form in sorted(left)
        if form.sort is Sort.FORM and (rest := exact_sum(left[form]))
    }


def _up_to(shelf: Shelf, kind: str, until: date) -> Iterable[Recorded]:
    return (found for found in shelf.of_kind(kind) if found.occurred_on <= until)
