"""What a tonne is owed before organic differential and premium."""

from dataclasses import replace
from datetime import date
from fractions import Fraction

from ledger.books.bargain import Bargain, TradeDates, Tranche, not_disclosed
from ledger.books.futures import average_on
from ledger.books.market import PerTonne, converted, plain_per_tonne, quote_on
from ledger.books.minimum import minimum_of
from ledger.books.parcel import Parcel
from ledger.books.price_table import recorded_price, written
from ledger.books.rounding import shown
from ledger.books.working import Working
from ledger.trade.contract import FixedPrice, PriceToBeFixed
from ledger.trade.money import currency_of
from ledger.trade.terms import MarketReference, TermsPublished

_HIGHEST = "the highest of the price agreed, the guaranteed minimum and the market"


def price_of(bargain: Bargain, parcel: Parcel, dates: TradeDates) -> PerTonne:
    """Return the price per tonne that a parcel is owed, before organic and premium.

    It is the higher of the guaranteed minimum (less the seasonal differential, where one
    is paid beside it) and the market with the contract's differential, each on the date
    that the terms name, and never less than what the contract agreed; under several
    schemes, the highest that any of them asks for.

    A scheme under which the claim does not count adds nothing: its minimum, market,
    organic differential and premium are what it asks in return for the claim, so goods
    that may not carry the claim are ordinary goods, owed the price that the contract
    agreed. To count them as paid for would show the certifier certified purchases that
    were none. `ledger.books.parcel` reports each such lot, so that a certificate that
    was merely not recorded does not lower a due unseen.

    Raises:
        NotComputableError: A price is sealed, or a row, quote or rate is missing.

    Source:
        The rule that the higher of minimum and market is paid and the premium comes on
        top: published price tables for certified cocoa, for one the rules in force from
        2019-10-01 as reported on candyusa.com. That the contract's own price is the
        least: common practice, no source.
    """
    agreed = agreed_price(bargain, parcel.tranche)
    asked = []
    workings = [*agreed.workings]
    for terms in bargain.terms:
        if terms.scheme not in parcel.schemes:
            workings.append(_asks_nothing(terms, "the claim does not count for them"))
            continue
        found = [
            price
            for price in (
                minimum_of(bargain, terms, parcel, dates, agreed.currency),
                market_of(bargain, terms, parcel, dates, agreed.currency),
            )
            if price is not None
        ]
        asked += found
        workings += [w for price in found for w in price.workings]
        if not found:
            workings.append(_asks_nothing(terms, "it has no minimum and no market"))
    highest = max(agreed.amount, *(price.amount for price in asked), Fraction(0))
    compared = ", ".join(shown(price.amount) for price in (agreed, *asked))
    owed = Working(
        "price owed",
        f"{shown(highest)} {agreed.currency}/t",
        _HIGHEST if asked else "",
        reckoning=f"highest of ({compared}, 0)",
    )
    return PerTonne(highest, agreed.currency, (*workings, owed))


def _asks_nothing(terms: TermsPublished, because: str) -> Working:
    return Working(f"asked for these lots by {terms.scheme}: {because}", "none")


def agreed_price(bargain: Bargain, part: Tranche) -> PerTonne:
    """Return the price per tonne that the contract itself settles for a tranche.

    Where it is still to be fixed: the contract's market on the date of the report with
    the differential, as if it were fixed that day.

    Raises:
        NotComputableError: It is sealed, or the market has no quote.
    """
    price, name = bargain.contract.price, bargain.contract.contract
    entry = bargain.recorded.seq
    match price:
        case FixedPrice():
            return recorded_price(
                bargain,
                price.price,
                Working(
                    f"price agreed in contract {name}", written(price.price), "", entry
                ),
                currency_of(price.price),
                bargain.recorded.occurred_on,
            )
        case PriceToBeFixed():
            currency = currency_of(price.differential)
            level = _level(bargain, price, part, currency)
            return _sum(
                f"price agreed: {price.market} with the differential",
                level,
                _differential(bargain, price),
            )
        case None:
            raise not_disclosed(name)


def _level(
    bargain: Bargain, price: PriceToBeFixed, part: Tranche, currency: str
) -> PerTonne:
    days = bargain.fall_back_days()
    if part.fixation is None or part.fixed_on is None:
        quote, line = quote_on(
            bargain.shelf,
            price.market,
            bargain.as_of,
            fall_back_days=days,
            month=price.month,
        )
        return recorded_price(bargain, quote, line, currency, bargain.as_of)
    level = part.fixation.level
    if level is None:
        raise not_disclosed(bargain.contract.contract)
    line = Working(
        f"{price.market} {price.month} as fixed by {part.fixation.fixation} on "
        f"{part.fixed_on}",
        written(level),
        "",
        part.entry,
    )
    return recorded_price(bargain, level, line, currency, part.fixed_on)


def market_of(
    bargain: Bargain,
    terms: TermsPublished,
    parcel: Parcel,
    dates: TradeDates,
    currency: str,
) -> PerTonne | None:
    """Return the market reference, with the differential where the contract has one.

    None where the terms name no market of what the parcel is.

    Raises:
        NotComputableError: A quote or a rate is missing.
    """
    if terms.market is None or not terms.market.is_of(parcel.commodity, parcel.form):
        return None
    on = bargain.date_of(terms.market_governed_by, dates, parcel.tranche)
    found = _reference(bargain, terms.market, on, currency, terms.scheme)
    governed = Working(
        f"day on which {terms.scheme} reads {terms.market.market}: "
        f"{terms.market_governed_by} date",
        on.isoformat(),
        f"{terms.scheme} {terms.version}",
    )
    found = replace(found, workings=(governed, *found.workings))
    price = bargain.contract.price
    if not isinstance(price, PriceToBeFixed):
        return found
    added = _differential(bargain, price)
    return _sum(f"{terms.market.market} with the differential", found, added)


def _reference(
    bargain: Bargain, market: MarketReference, on: date, currency: str, scheme: str
) -> PerTonne:
    """Return the market itself: as it was quoted, or as the average that it is."""
    days = market.fall_back_days
    if market.average is None:
        quote, line = quote_on(bargain.shelf, market.market, on, fall_back_days=days)
        return recorded_price(bargain, quote, line, currency, on, scheme)
    found = average_on(
        bargain.shelf, market.market, market.average, on, fall_back_days=days
    )
    return converted(bargain.shelf, found, currency, on, fall_back_days=days)


def _differential(bargain: Bargain, price: PriceToBeFixed) -> PerTonne:
    """Return what a contract adds to a market: its currency is the contract's own."""
    text = f"differential of contract {bargain.contract.contract}"
    line = Working(text, written(price.differential), "", bargain.recorded.seq)
    found = plain_per_tonne(price.differential)
    return replace(found, workings=(line, *found.workings))


def _sum(text: str, first: PerTonne, second: PerTonne) -> PerTonne:
    amount = first.amount + second.amount
    line = Working(
        text,
        f"{shown(amount)} {first.currency}/t",
        reckoning=f"{shown(first.amount)} + {shown(second.amount)}",
    )
    return PerTonne(amount, first.currency, (*first.workings, *second.workings, line))
