"""What a tonne under a contract would be owed if it came in on a day.

The same rules as for goods that were received (`ledger.books.price`), asked for goods
that are still to come: which of price agreed, guaranteed minimum and market decides.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from functools import partial
from typing import TypeVar

from ledger.books.bargain import (
    Bargain,
    TradeDates,
    Tranche,
    bargain_of,
    open_quantity_g,
)
from ledger.books.effect import Recorded
from ledger.books.market import PerTonne
from ledger.books.minimum import minimum_of
from ledger.books.on_top import organic_of, premium_of
from ledger.books.parcel import Parcel
from ledger.books.price import agreed_price, market_of, price_of
from ledger.books.shelf import Shelf
from ledger.books.working import NotComputableError

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class PriceToday:
    """What a tonne would be owed, and what that is decided by.

    Attributes:
        on: The day.
        agreed: What the contract itself settles.
        minimum: The highest guaranteed minimum of its schemes.
        market: The highest market reference of its schemes, with the differential.
        owed: The price owed: the highest of these.
        organic: What organic production adds.
        premiums: Premium on top, by scheme.
        missing: Why something has no figure, a sentence each.
    """

    on: date
    agreed: PerTonne | None
    minimum: PerTonne | None
    market: PerTonne | None
    owed: PerTonne | None
    organic: PerTonne | None
    premiums: tuple[tuple[str, PerTonne], ...]
    missing: tuple[str, ...]

    @property
    def decided_by(self) -> str:
        """What the price owed is: the price agreed, the minimum, or the market."""
        for name, price in (
            ("price agreed", self.agreed),
            ("guaranteed minimum", self.minimum),
            ("market", self.market),
        ):
            if price and self.owed and price.amount == self.owed.amount:
                return name
        return ""


def price_today(
    shelf: Shelf, recorded: Recorded, on: date, *, shipped_on: date | None = None
) -> PriceToday:
    """Return what a tonne under a contract would be owed if it came in on a day.

    Every scheme of the contract is taken to count.

    Args:
        shelf: What is recorded.
        recorded: The contract's entry.
        on: The day of receipt; quotes, rates and fixations up to it count.
        shipped_on: Day of the bill of lading; that of receipt where left out.

    Raises:
        EntryRefusedError: A scheme's terms did not govern when it was signed.
    """
    bargain = bargain_of(shelf, recorded, on)
    dates = TradeDates(recorded.occurred_on, shipped_on or on, on)
    parcel = _parcel(bargain)
    missing: list[str] = []

    def figure(reckon: Callable[[], T]) -> T | None:
        try:
            return reckon()
        except NotComputableError as error:
            missing.append(error.finding.message)
            return None

    agreed = figure(partial(agreed_price, bargain, parcel.tranche))
    currency = bargain.currency or ""  # without one, the price is sealed
    minimums, markets, premiums = [], [], []
    for terms in bargain.terms:
        asked = (bargain, terms, parcel, dates)
        if currency:
            minimums.append(figure(partial(minimum_of, *asked, currency)))
            markets.append(figure(partial(market_of, *asked, currency)))
        premium = figure(partial(premium_of, *asked))
        if premium is not None:
            premiums.append((terms.scheme, premium.price))
    organic = figure(partial(organic_of, bargain, parcel, dates))
    return PriceToday(
        on=on,
        agreed=agreed,
        minimum=_highest(minimums),
        market=_highest(markets),
        owed=figure(partial(price_of, bargain, parcel, dates)),
        organic=None if organic is None else organic[0],
        premiums=tuple(premiums),
        missing=tuple(dict.fromkeys(missing)),
    )


def _parcel(bargain: Bargain) -> Parcel:
    contract = bargain.contract
    return Parcel(
        lots=(),
        commodity=contract.commodity,
        form=contract.form,
        origin=contract.origin,
        organic=contract.organic,
        schemes=tuple(terms.scheme for terms in bargain.terms),
        tranche=_next_tranche(bargain),
        pieces=(),
    )


def _next_tranche(bargain: Bargain) -> Tranche:
    """Return where the price of goods to come is from: open, or the last fixation."""
    *fixed, last = bargain.tranches
    return fixed[-1] if fixed and not open_quantity_g(bargain) else last


def _highest(found: list[PerTonne | None]) -> PerTonne | None:
    return max(
        (one for one in found if one is not None),
        key=lambda one: one.amount,
        default=None,
    )
