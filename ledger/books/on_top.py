"""What comes on top of the price: the organic differential and the premium."""

from dataclasses import dataclass

from ledger.books.bargain import Bargain, TradeDates, not_disclosed
from ledger.books.market import PerTonne
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
from ledger.trade.words import Governing


def organic_of(
    bargain: Bargain, parcel: Parcel, dates: TradeDates
) -> tuple[PerTonne, bool] | None:
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
    for terms in bargain.terms:
        governing = terms.minimum_governed_by
        if terms.scheme not in parcel.schemes:
            continue
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
            line = published(bargain, in_force, text, row)
            found.append(
                (
                    recorded_price(
                        bargain, row.price, line, currency, on, terms.scheme
                    ),
                    _is_provisional(governing, parcel),
                )
            )
    if not found:
        return None
    _check_one_currency(bargain, [price for price, _ in found])
    highest = max(price.amount for price, _ in found)
    workings = tuple(w for price, _ in found for w in price.workings)
    if len(found) > 1:
        text = f"{shown(highest)} {found[0][0].currency}/t"
        workings += (
            Working("organic differential owed", text, "the highest of these"),
        )
    return (
        PerTonne(highest, found[0][0].currency, workings),
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
    line = published(bargain, in_force, text, row)
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
