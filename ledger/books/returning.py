"""What goods coming back do: stock returns, and the claims they were sold with.

Claims are not judged again: what was claimed when the goods left is what comes back,
whatever has happened to certificates since.
"""

from collections import Counter
from collections.abc import Iterable, Sequence

from ledger.books.claimed import claims_back, lines_out, outputs_back, take_back
from ledger.books.effect import (
    Cause,
    Effects,
    Posting,
    Recorded,
    Subject,
    SubjectKind,
    Tally,
)
from ledger.books.finding import refuse
from ledger.books.lookup import expect, require
from ledger.books.shelf import Shelf
from ledger.trade.grams import show_kg, to_grams
from ledger.trade.sale import ReturnLine, SaleDispatched, SaleLine, SaleReturned


def effects_of_return(shelf: Shelf, recorded: Recorded) -> Effects:
    """Return what goods coming back do: stock and claims come back with them.

    Raises:
        EntryRefusedError: The sale is unknown, or more comes back than was sold.
    """
    returned = expect(recorded.record, SaleReturned)
    subject = Subject(SubjectKind.SALE, returned.sale)
    sold = require(shelf, subject, field="sale")
    sale = expect(sold.record, SaleDispatched)
    if recorded.occurred_on < sold.occurred_on:
        raise refuse(
            "return-before-sale",
            "sale",
            f"return {returned.return_} is of {recorded.occurred_on}, before sale "
            f"{returned.sale} of {sold.occurred_on}; correct one of the dates",
        )
    _refuse_beyond_sold(shelf, recorded, sale, returned)
    mentions: list[Subject] = [subject]
    postings: list[Posting] = []
    for line in returned.lines:
        mentions.append(Subject(SubjectKind.LOT, line.lot))
        postings.append(
            Posting(
                Tally.stock(line.lot),
                recorded.occurred_on,
                to_grams(line.mass_kg),
                Cause.RETURNED,
            )
        )
    for back in take_back(lines_out(shelf, sale, before=recorded.slot), returned):
        postings += claims_back(shelf, sold, back, recorded.occurred_on)
        postings += outputs_back(shelf, sold, back, recorded.occurred_on)
    return Effects(
        introduces=(Subject(SubjectKind.RETURN, returned.return_),),
        mentions=tuple(mentions),
        postings=tuple(postings),
    )


def _refuse_beyond_sold(
    shelf: Shelf, recorded: Recorded, sale: SaleDispatched, returned: SaleReturned
) -> None:
    back_g = Counter[str]()
    for other in _returns_of(shelf, sale):
        if other.slot != recorded.slot:
            back_g += _grams_by_lot(expect(other.record, SaleReturned).lines)
    sold_g = _grams_by_lot(sale.lines)
    for place, line in enumerate(returned.lines):
        grams, left_g = to_grams(line.mass_kg), sold_g[line.lot] - back_g[line.lot]
        if grams > left_g:
            raise refuse(
                "more-returned-than-sold",
                f"lines.{place}",
                f"lines.{place} returns {show_kg(grams)} kg of lot {line.lot}, but sale "
                f"{sale.sale} has {show_kg(left_g)} kg of it left to return; correct the "
                "mass, or name the sale it was part of",
            )
        back_g[line.lot] += grams


def _returns_of(shelf: Shelf, sale: SaleDispatched) -> Sequence[Recorded]:
    return shelf.about(Subject(SubjectKind.SALE, sale.sale), "sale.returned")


def _grams_by_lot(lines: Iterable[SaleLine | ReturnLine]) -> Counter[str]:
    found = Counter[str]()
    for line in lines:
        found[line.lot] += to_grams(line.mass_kg)
    return found
