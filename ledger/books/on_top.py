"""What comes on top of the price: the differentials and the premium."""

from dataclasses import dataclass

from ledger.books.bargain import Bargain, TradeDates, not_disclosed
from ledger.books.market import PerTonne
from ledger.books.minimum import seasonal_is_provisional, seasonal_of
from ledger.books.parcel import Parcel
from ledger.books.price_table import (
    published,
    recorded_price,
    row_for,
    terms_for,
)
from ledger.books.rounding import shown
from ledger.books.working import Working
from ledger.trade.money import currency_of
from ledger.trade.terms import PayeeShare, TermsPublished
from ledger.trade.words import Duty, Governing

Beside = tuple[PerTonne, bool]
"""What is owed per tonne beside the price, and whether it is provisional."""


def organic_of(bargain: Bargain, parcel: Parcel, dates: TradeDates) -> Beside | None:
    """Return what organic production adds per tonne, the highest of the schemes'.

    It is owed for every lot that is received as organic, whatever the contract calls
    it, because such a lot is also credited as organic. Price and organic differential
    are compared between schemes one by one: each scheme is paid what it asks of either.

    Returns:
        The amount and whether it is provisional; None where no scheme has one.

    Raises:
        NotComputableError: A row or a rate is missing.
    """
    if not parcel.organic:
        return None
    found = []
    for terms in _that_count(bargain, parcel):
        governing = terms.minimum_governed_by
        on, in_force = terms_for(bargain, terms, governing, parcel, dates)
        rows = [
            row
            for row in in_force.organic_differentials
            if row.commodity is parcel.commodity
        ]
        if rows:
            row = row_for(rows, parcel, on, "organic differential", terms)
            text = (
                f"organic differential, valid from {row.valid_from} "
                f"({governing} date {on})"
            )
            currency = bargain.currency or currency_of(row.price)
            line = published(bargain, in_force, text, row.price, row.source)
            price = recorded_price(bargain, row.price, line, currency, on, terms.scheme)
            found.append((price, _is_provisional(governing, parcel)))
    return _highest(bargain, found, Duty.ORGANIC)


def differential_of(
    bargain: Bargain, parcel: Parcel, dates: TradeDates
) -> Beside | None:
    """Return the seasonal differential per tonne, the highest of the schemes'.

    Returns:
        The amount and whether it is provisional; None where no scheme has one.

    Raises:
        NotComputableError: A row, season or rate is missing.
    """
    found = []
    for terms in _that_count(bargain, parcel):
        price = seasonal_of(bargain, terms, parcel, dates)
        if price is not None:
            found.append((price, seasonal_is_provisional(terms, parcel)))
    return _highest(bargain, found, Duty.SEASONAL)


def _that_count(bargain: Bargain, parcel: Parcel) -> list[TermsPublished]:
    return [terms for terms in bargain.terms if terms.scheme in parcel.schemes]


def _highest(bargain: Bargain, found: list[Beside], duty: Duty) -> Beside | None:
    if not found:
        return None
    _check_one_currency(bargain, [price for price, _ in found])
    amounts = [price.amount for price, _ in found]
    highest, currency = max(amounts), found[0][0].currency
    workings = tuple(w for price, _ in found for w in price.workings)
    if len(found) > 1:
        workings += (
            Working(
                f"{duty} owed",
                f"{shown(highest)} {currency}/t",
                "the highest of these",
                reckoning=f"highest of ({', '.join(map(shown, amounts))})",
            ),
        )
    return (
        PerTonne(highest, currency, workings),
        any(provisional for _, provisional in found),
    )


@dataclass(frozen=True, slots=True)
class PremiumOwed:
    """A premium per tonne.

    Attributes:
        price: The premium.
        payees: How it is split.
        is_provisional: Whether its row depends on a fixation still to come.
    """

    price: PerTonne
    payees: tuple[PayeeShare, ...]
    is_provisional: bool


def premium_of(
    bargain: Bargain, terms: TermsPublished, parcel: Parcel, dates: TradeDates
) -> PremiumOwed | None:
    """Return the premium of one scheme per tonne; None where it has none.

    Raises:
        NotComputableError: A row or a rate is missing.
    """
    governing = terms.premium_governed_by
    on, in_force = terms_for(bargain, terms, governing, parcel, dates)
    rows = [row for row in in_force.premiums if row.commodity is parcel.commodity]
    if not rows:
        return None
    row = row_for(rows, parcel, on, "premium", terms)
    text = f"premium, valid from {row.valid_from} ({governing} date {on})"
    line = published(bargain, in_force, text, row.price, row.source)
    currency = bargain.currency or currency_of(row.price)
    return PremiumOwed(
        recorded_price(bargain, row.price, line, currency, on, terms.scheme),
        row.payees,
        _is_provisional(governing, parcel),
    )


def _is_provisional(governing: Governing, parcel: Parcel) -> bool:
    return governing is Governing.FIXATION and parcel.tranche.is_open


def _check_one_currency(bargain: Bargain, prices: list[PerTonne]) -> None:
    """Refuse to compare amounts where nothing tells the currency of the contract.

    Raises:
        NotComputableError: They are in several currencies.
    """
    if len({price.currency for price in prices}) > 1:
        raise not_disclosed(bargain.contract.contract)
