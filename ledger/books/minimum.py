"""The guaranteed minimum, and the seasonal differential that tops a price up to it."""

from datetime import date
from fractions import Fraction

from ledger.books.bargain import Bargain, TradeDates
from ledger.books.market import PerTonne
from ledger.books.parcel import Parcel
from ledger.books.price_table import published, recorded_price, row_for, terms_for
from ledger.books.rounding import shown
from ledger.books.working import NotComputableError, Working
from ledger.trade.dues_terms import Season
from ledger.trade.money import currency_of
from ledger.trade.terms import MinimumPrice, TermsPublished
from ledger.trade.words import Governing


def minimum_of(
    bargain: Bargain,
    terms: TermsPublished,
    parcel: Parcel,
    dates: TradeDates,
    currency: str,
) -> PerTonne | None:
    """Return what the price itself may not fall below; None where there is no minimum.

    Where a seasonal differential is paid beside the price, it is part of the minimum, so
    the price may be lower by as much.

    Raises:
        NotComputableError: A row or a rate is missing.
    """
    found = _row_of(bargain, terms, parcel, dates)
    if found is None:
        return None
    minimum = _guaranteed(bargain, terms, parcel, found, currency)
    differential = seasonal_of(bargain, terms, parcel, dates)
    if differential is None:
        return minimum
    amount = minimum.amount - differential.amount
    line = Working(
        "guaranteed minimum less the seasonal differential, paid beside the price",
        f"{shown(amount)} {currency}/t",
        reckoning=f"{shown(minimum.amount)} - {shown(differential.amount)}",
    )
    workings = (*minimum.workings, *differential.workings, line)
    return PerTonne(amount, currency, tuple(dict.fromkeys(workings)))


def seasonal_of(
    bargain: Bargain, terms: TermsPublished, parcel: Parcel, dates: TradeDates
) -> PerTonne | None:
    """Return what a scheme adds per tonne in a season; None where it has no seasons.

    It is the guaranteed minimum less the national reference price, never below 0, and is
    owed whatever price was agreed.

    Raises:
        NotComputableError: A row, season or rate is missing.

    Source:
        A published minimum-price table for cocoa, definition of its differential:
        minimum less national reference price, not below 0, by the seasons of 1 October
        to 31 March and 1 April to 30 September.
    """
    found = _seasons_of(bargain, terms, parcel, dates)
    row = _row_of(bargain, terms, parcel, dates) if found else None
    if found is None or row is None:
        return None
    on, in_force, seasons = found
    season = _season_on(terms, parcel, seasons, on)
    currency = bargain.currency or currency_of(row[2].price)
    minimum = _guaranteed(bargain, terms, parcel, row, currency)
    line = published(
        bargain,
        in_force,
        f"national reference price, season {season.season_from} to "
        f"{season.season_until} (date {on})",
        season.reference,
        season.source,
    )
    reference = recorded_price(
        bargain, season.reference, line, currency, on, terms.scheme
    )
    amount = max(minimum.amount - reference.amount, Fraction(0))
    owed = Working(
        "seasonal differential: minimum less reference price, not below 0",
        f"{shown(amount)} {currency}/t",
        reckoning=f"highest of ({shown(minimum.amount)} - {shown(reference.amount)}, 0)",
    )
    workings = (*minimum.workings, *reference.workings, owed)
    return PerTonne(amount, currency, workings)


def seasonal_is_provisional(terms: TermsPublished, parcel: Parcel) -> bool:
    """Tell whether a seasonal differential depends on a fixation still to come."""
    rule = terms.seasonal_differential
    return parcel.tranche.is_open and Governing.FIXATION in {
        terms.minimum_governed_by,
        rule.governed_by if rule else None,
    }


_Row = tuple[date, TermsPublished, MinimumPrice]
"""The date that governs, the terms in force then, and their row."""


def _guaranteed(
    bargain: Bargain, terms: TermsPublished, parcel: Parcel, found: _Row, currency: str
) -> PerTonne:
    on, in_force, row = found
    text = (
        f"guaranteed minimum for {parcel.commodity} {parcel.form} from {parcel.origin}, "
        f"{row.delivery}, valid from {row.valid_from} ({terms.minimum_governed_by} date "
        f"{on})"
    )
    line = published(bargain, in_force, text, row.price, row.source)
    return recorded_price(bargain, row.price, line, currency, on, terms.scheme)


def _row_of(
    bargain: Bargain, terms: TermsPublished, parcel: Parcel, dates: TradeDates
) -> _Row | None:
    on, in_force = terms_for(bargain, terms, terms.minimum_governed_by, parcel, dates)
    rows = [
        row
        for row in in_force.minimum_prices
        if row.commodity is parcel.commodity and row.form is parcel.form
    ]
    if not rows:
        return None
    delivery = bargain.contract.delivery
    row = row_for(
        [row for row in rows if row.delivery is delivery],
        parcel,
        on,
        f"minimum price {delivery}",
        terms,
    )
    return on, in_force, row


def _seasons_of(
    bargain: Bargain, terms: TermsPublished, parcel: Parcel, dates: TradeDates
) -> tuple[date, TermsPublished, list[Season]] | None:
    """Return the date that picks a season, and the seasons; None where there is none."""
    if terms.seasonal_differential is None:
        return None
    governing = terms.seasonal_differential.governed_by
    on, in_force = terms_for(bargain, terms, governing, parcel, dates)
    rule = in_force.seasonal_differential
    seasons = [
        season
        for season in (rule.seasons if rule else ())
        if season.commodity is parcel.commodity
        and season.form is parcel.form
        and parcel.origin in season.origins
    ]
    return (on, in_force, seasons) if seasons else None


def _season_on(
    terms: TermsPublished, parcel: Parcel, seasons: list[Season], on: date
) -> Season:
    for season in seasons:
        if season.season_from <= on <= season.season_until:
            return season
    raise NotComputableError(
        "no-row",
        f"the terms of {terms.scheme} have seasons for {parcel.commodity} {parcel.form} "
        f"from {parcel.origin}, but none on {on}; publish terms with the national "
        "reference price of that season",
    )
