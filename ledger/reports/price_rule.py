"""The rule of a contract's price in words, as a grower may want to read it."""

from collections.abc import Iterable, Iterator
from fractions import Fraction
from typing import TypeVar

from ledger.books.rounding import exactly, shown
from ledger.books.statement import Statement
from ledger.trade.contract import ContractSigned, FixedPrice, PriceToBeFixed
from ledger.trade.dues_terms import AdvanceTerm, LateInterest, SeasonalDifferential
from ledger.trade.money import Differential, UnitPrice
from ledger.trade.terms import (
    FARMERS,
    SELLER,
    MarketReference,
    MinimumPrice,
    OrganicDifferential,
    PaymentTerm,
    Premium,
    TermsPublished,
)
from ledger.trade.words import Governing

_ON = {
    Governing.CONTRACT: "on the day of the contract",
    Governing.FIXATION: "on the day the price is fixed",
    Governing.SHIPMENT: "on the day of shipment",
    Governing.DELIVERY: "on the day of delivery",
}
_Row = TypeVar("_Row", MinimumPrice, OrganicDifferential, Premium)
_AFTER = {"contract": "the contract", "shipment": "shipment", "receipt": "receipt"}


def price_rule(statement: Statement) -> tuple[str, ...]:
    """Return what the contract and the terms say about its price, in sentences."""
    sentences = [*_contract(statement.contract)]
    for settings, tables in zip(statement.terms, statement.in_force, strict=True):
        sentences += _scheme(statement.contract, settings, tables)
    if not statement.terms:
        sentences.append("No scheme is claimed, so nothing comes on top.")
    return tuple(sentences)


def _contract(contract: ContractSigned) -> Iterator[str]:
    match contract.price:
        case FixedPrice(price=price):
            yield f"The contract agrees a price of {_price(price)}."
        case PriceToBeFixed() as price:
            amount = Fraction(price.differential.amount)
            side = "over" if amount >= 0 else "under"
            last = f", at the latest on {price.fix_by}" if price.fix_by else ""
            yield (
                f"The price is fixed on the market {price.market}, month {price.month}, "
                f"{_price(price.differential)} {side} it, when the {price.call} calls"
                f"{last}. Until then it is valued by the market of the day."
            )
        case None:
            yield "The price of the contract is not disclosed to this reader."
    basis = f"Paid is the weight as {contract.weight_basis}"
    if contract.franchise_percent is None:
        yield f"{basis}, delivery term {contract.delivery} {contract.delivery_place}."
    else:
        yield (
            f"{basis}, delivery term {contract.delivery} {contract.delivery_place}; a "
            f"loss of up to {_percent(contract.franchise_percent)} on the way is the "
            "buyer's, and only what is lost beyond it is the seller's."
        )


def _scheme(
    contract: ContractSigned, settings: TermsPublished, tables: TermsPublished
) -> Iterator[str]:
    name = settings.scheme
    minimum = [
        row
        for row in _for(contract, tables.minimum_prices)
        if row.form is contract.form and row.delivery is contract.delivery
    ]
    if minimum:
        yield (
            f"{name}: the price is never less than the guaranteed minimum in force "
            f"{_ON[settings.minimum_governed_by]}: {_rows(minimum)}."
        )
    if settings.market is not None:
        yield _market(name, settings.market, settings.market_governed_by)
    if settings.seasonal_differential is not None:
        yield from _seasonal(name, contract, settings, tables.seasonal_differential)
    organic = _for(contract, tables.organic_differentials)
    if organic:
        yield f"{name}: organic goods are paid more: {_rows(organic)}."
    yield from _premium(name, contract, settings, tables)
    yield _due(name, settings.price_due, settings.premium_due)
    if settings.advance is not None:
        yield _advance(name, settings.advance)
    if tables.late_interest:
        yield _interest(name, tables.late_interest)


def _market(name: str, market: MarketReference, governed_by: Governing) -> str:
    made = market.average
    built = ""
    if made is not None:
        markets = " and ".join(part.market for part in made.markets)
        built = (
            f", which is the average of the nearest {made.nearest} months of {markets}"
        )
    return (
        f"{name}: nor is it less than the market {market.market}{built}, "
        f"{_ON[governed_by]}."
    )


def _seasonal(
    name: str,
    contract: ContractSigned,
    settings: TermsPublished,
    rule: SeasonalDifferential | None,
) -> Iterator[str]:
    seasons = [
        season
        for season in (rule.seasons if rule else ())
        if contract.origin in season.origins
    ]
    if seasons and settings.seasonal_differential is not None:
        listed = ", ".join(
            f"{_price(one.reference)} from {one.season_from} to {one.season_until}"
            for one in seasons
        )
        yield (
            f"{name}: where the national reference price is below that minimum, the "
            "difference is paid beside the price, by the season "
            f"{_ON[settings.seasonal_differential.governed_by]}: {listed}."
        )


def _premium(
    name: str,
    contract: ContractSigned,
    settings: TermsPublished,
    tables: TermsPublished,
) -> Iterator[str]:
    rows = _for(contract, tables.premiums)
    if not rows:
        return
    weight = (
        ""
        if settings.premium_weight is None
        else f", on {settings.premium_weight} weight"
    )
    shares = [_shares(row) for row in rows]
    listed = (
        f"{_rows(rows)}, {shares[0]}"
        if len(set(shares)) == 1
        else "; ".join(
            f"{_rows([row])}, {share}" for row, share in zip(rows, shares, strict=True)
        )
    )
    yield (
        f"{name}: on top of everything comes the premium in force "
        f"{_ON[settings.premium_governed_by]}{weight}: {listed}."
    )


def _shares(premium: Premium) -> str:
    who = {SELLER: "the cooperative", FARMERS: "its farmers in cash"}
    names = [who.get(part.payee, part.payee) for part in premium.payees]
    if len(names) == 1:
        return f"all of it to {names[0]}"
    return " and ".join(
        f"{_percent(part.share * 100)} to {name}"
        for part, name in zip(premium.payees, names, strict=True)
    )


def _due(name: str, price: PaymentTerm, premium: PaymentTerm) -> str:
    return (
        f"{name}: the price is due {price.days} days after {_AFTER[price.after]}, the "
        f"premium {premium.days} days after {_AFTER[premium.after]}."
    )


def _advance(name: str, advance: AdvanceTerm) -> str:
    return (
        f"{name}: on request up to {_percent(advance.percent)} of the contract's value is "
        f"paid in advance within {advance.days} days, and set off when goods arrive."
    )


def _interest(name: str, rows: Iterable[LateInterest]) -> str:
    listed = ", ".join(
        f"{_percent(row.percent_per_year)} a year from {row.valid_from} on "
        f"({row.day_count})"
        for row in rows
    )
    return f"{name}: what is paid late bears simple interest: {listed}."


def _for(contract: ContractSigned, rows: Iterable[_Row]) -> list[_Row]:
    """Return the rows of a table for a contract: those that name its origin, if any."""
    found = [row for row in rows if row.commodity is contract.commodity]
    named = [row for row in found if contract.origin in row.origins]
    return named or [row for row in found if not row.origins]


def _rows(rows: Iterable[_Row]) -> str:
    return ", ".join(f"{_price(row.price)} from {row.valid_from} on" for row in rows)


def _price(price: UnitPrice | Differential) -> str:
    return f"{shown(abs(Fraction(price.amount)))} {price.unit}"


def _percent(figure: object) -> str:
    return f"{exactly(Fraction(str(figure)))} %"
