"""What a tonne under a contract would be owed, in pairs of words for a reader."""

from collections.abc import Iterator
from datetime import date
from fractions import Fraction

from ledger.books.effect import Subject, SubjectKind
from ledger.books.market import PerTonne
from ledger.books.price_today import PriceToday, price_today
from ledger.reports.figures import price_text
from ledger.reports.phrases import told
from ledger.reports.tongue import Tongue
from ledger.web.asked import Asked


def price_facts(
    asked: Asked, contract: str, on: date, *, shipped_on: date | None = None
) -> tuple[tuple[str, str], ...]:
    """Return what a tonne received on a day would be owed, against minimum and market.

    Nothing where there is no such contract.

    Args:
        asked: The request.
        contract: Contract number.
        on: The day.
        shipped_on: Day of the bill of lading, where it is known.
    """
    with asked.books() as books:
        signed = books.shelf.introducer(Subject(SubjectKind.CONTRACT, contract))
        if signed is None or signed.occurred_on > on:
            return ()
        found = price_today(books.shelf, signed, on, shipped_on=shipped_on)
    return tuple(_pairs(found, asked.tongue))


def _pairs(found: PriceToday, tongue: Tongue) -> Iterator[tuple[str, str]]:
    says = tongue.says
    yield says("Price agreed"), _price(found.agreed, tongue)
    yield says("Guaranteed minimum"), _price(found.minimum, tongue)
    yield says("Market"), _price(found.market, tongue)
    owed = _price(found.owed, tongue)
    if found.decided_by:
        owed = told(says("{1}, which is the {2}"), owed, says(found.decided_by))
    yield says("Price owed a tonne"), owed
    if found.organic is not None:
        yield says("Organic differential"), _price(found.organic, tongue)
    for scheme, premium in found.premiums:
        yield (
            told(says("Premium of {1}, on top"), scheme),
            _price(premium, tongue),
        )
    for sentence in found.missing:
        yield says("No figure"), says(sentence)


def _price(price: PerTonne | None, tongue: Tongue) -> str:
    if price is None:
        return tongue.says("no figure")
    return f"{tongue.figure(price_text(Fraction(price.amount)))} {price.currency}/t"
