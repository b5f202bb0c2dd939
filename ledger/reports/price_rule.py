"""The rule of a contract's price in words, as a grower may want to read it."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import TypeVar

from ledger.books.rounding import exactly, shown
from ledger.books.statement import Statement
from ledger.reports.phrases import told
from ledger.reports.tongue import PLAIN, Tongue
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

_Row = TypeVar("_Row", MinimumPrice, OrganicDifferential, Premium)


def price_rule(statement: Statement, tongue: Tongue = PLAIN) -> tuple[str, ...]:
    """Return what the contract and the terms say about its price, in sentences."""
    rule = _Rule(statement.contract, tongue)
    sentences = [*rule.of_contract()]
    for settings, tables in zip(statement.terms, statement.in_force, strict=True):
        sentences += rule.of_scheme(settings, tables)
    if not statement.terms:
        sentences.append(
            tongue.says("No scheme is claimed, so nothing comes on top."),
        )
    return tuple(sentences)


@dataclass(frozen=True, slots=True)
class _Rule:
    """Says the rule of one contract's price in a reader's language."""

    contract: ContractSigned
    tongue: Tongue

    def of_contract(self) -> Iterator[str]:
        says = self.tongue.says
        match self.contract.price:
            case FixedPrice(price=price):
                agreed = says("The contract agrees a price of {1}.")
                yield told(agreed, self._price(price))
            case PriceToBeFixed() as price:
                yield from self._to_be_fixed(price)
            case None:
                yield says("The price of the contract is not disclosed to this reader.")
        yield self._weight()

    def _to_be_fixed(self, price: PriceToBeFixed) -> Iterator[str]:
        says = self.tongue.says
        phrase = (
            says("The price is fixed on the market {1}, month {2}, {3} over it.")
            if Fraction(price.differential.amount) >= 0
            else says("The price is fixed on the market {1}, month {2}, {3} under it.")
        )
        yield told(phrase, price.market, price.month, self._price(price.differential))
        if price.fix_by:
            phrase = (
                says("It is fixed when the buyer calls, at the latest on {1}.")
                if price.call == "buyer"
                else says("It is fixed when the seller calls, at the latest on {1}.")
            )
            yield told(phrase, self.tongue.day(price.fix_by))
        elif price.call == "buyer":
            yield says("It is fixed when the buyer calls.")
        else:
            yield says("It is fixed when the seller calls.")
        yield says("Until it is fixed it is valued by the market of the day.")

    def _weight(self) -> str:
        says, contract = self.tongue.says, self.contract
        pieces = says(contract.weight_basis), contract.delivery, contract.delivery_place
        if contract.franchise_percent is None:
            phrase = says("Paid is the weight as {1}, delivery term {2} {3}.")
            return told(phrase, *pieces)
        phrase = says(
            "Paid is the weight as {1}, delivery term {2} {3}; a loss of up to {4} on the "
            "way is the buyer's, and only what is lost beyond it is the seller's."
        )
        return told(phrase, *pieces, self._percent(contract.franchise_percent))

    def of_scheme(
        self, settings: TermsPublished, tables: TermsPublished
    ) -> Iterator[str]:
        says, name = self.tongue.says, settings.scheme
        minimum = [
            row
            for row in self._for_it(tables.minimum_prices)
            if row.form is self.contract.form and row.delivery is self.contract.delivery
        ]
        if minimum:
            phrase = says(
                "{1}: the price is never less than the guaranteed minimum in force {2}: "
                "{3}."
            )
            on = self._on(settings.minimum_governed_by)
            yield told(phrase, name, on, self._rows(minimum))
        market, goods = settings.market, self.contract
        if market is not None and market.is_of(goods.commodity, goods.form):
            yield self._market(name, market, settings.market_governed_by)
        if minimum and settings.seasonal_differential is not None:
            yield from self._seasonal(settings, tables.seasonal_differential)
        organic = self._for_it(tables.organic_differentials)
        if organic:
            phrase = says("{1}: organic goods are paid more: {2}.")
            yield told(phrase, name, self._rows(organic))
        yield from self._premium(settings, tables)
        yield self._due(name, settings.price_due, settings.premium_due)
        if settings.advance is not None:
            yield self._advance(name, settings.advance)
        if tables.late_interest:
            yield self._interest(name, tables.late_interest)

    def _on(self, governing: Governing) -> str:
        says = self.tongue.says
        match governing:
            case Governing.CONTRACT:
                return says("on the day of the contract")
            case Governing.FIXATION:
                return says("on the day the price is fixed")
            case Governing.SHIPMENT:
                return says("on the day of shipment")
            case Governing.DELIVERY:
                return says("on the day of delivery")

    def _market(
        self, name: str, market: MarketReference, governed_by: Governing
    ) -> str:
        says, made = self.tongue.says, market.average
        on = self._on(governed_by)
        if made is None:
            phrase = says("{1}: nor is it less than the market {2}, {3}.")
            return told(phrase, name, market.market, on)
        phrase = says(
            "{1}: nor is it less than the market {2}, which is the average of the nearest "
            "{3} months of {4}, {5}."
        )
        markets = self._joined([part.market for part in made.markets])
        return told(phrase, name, market.market, str(made.nearest), markets, on)

    def _seasonal(
        self, settings: TermsPublished, rule: SeasonalDifferential | None
    ) -> Iterator[str]:
        seasons = [
            season
            for season in (rule.seasons if rule else ())
            if self.contract.origin in season.origins
            and season.commodity is self.contract.commodity
            and season.form is self.contract.form
        ]
        if not seasons or settings.seasonal_differential is None:
            return
        row = self.tongue.says("{1} from {2} to {3}")
        listed = ", ".join(
            told(
                row,
                self._price(one.reference),
                self._day(one.season_from),
                self._day(one.season_until),
            )
            for one in seasons
        )
        phrase = self.tongue.says(
            "{1}: where the national reference price is below that minimum, the "
            "difference is paid beside the price, by the season {2}: {3}."
        )
        on = self._on(settings.seasonal_differential.governed_by)
        yield told(phrase, settings.scheme, on, listed)

    def _premium(
        self, settings: TermsPublished, tables: TermsPublished
    ) -> Iterator[str]:
        rows = self._for_it(tables.premiums)
        if not rows:
            return
        shares = [self._shares(row) for row in rows]
        listed = (
            f"{self._rows(rows)}, {shares[0]}"
            if len(set(shares)) == 1
            else "; ".join(
                f"{self._rows([row])}, {share}"
                for row, share in zip(rows, shares, strict=True)
            )
        )
        says, on = self.tongue.says, self._on(settings.premium_governed_by)
        if settings.premium_weight is None:
            phrase = says(
                "{1}: on top of everything comes the premium in force {2}: {3}."
            )
            yield told(phrase, settings.scheme, on, listed)
        else:
            phrase = says(
                "{1}: on top of everything comes the premium in force {2}, on {3} "
                "weight: {4}."
            )
            weight = says(settings.premium_weight)
            yield told(phrase, settings.scheme, on, weight, listed)

    def _shares(self, premium: Premium) -> str:
        says = self.tongue.says
        who = {SELLER: says("the cooperative"), FARMERS: says("its farmers in cash")}
        names = [who.get(part.payee, part.payee) for part in premium.payees]
        if len(names) == 1:
            return told(says("all of it to {1}"), names[0])
        part_of = says("{1} to {2}")
        return self._joined(
            [
                told(part_of, self._percent(part.share * 100), name)
                for part, name in zip(premium.payees, names, strict=True)
            ]
        )

    def _due(self, name: str, price: PaymentTerm, premium: PaymentTerm) -> str:
        says = self.tongue.says
        after = {
            "contract": says("the contract"),
            "shipment": says("the shipment"),
            "receipt": says("the receipt"),
        }
        phrase = says(
            "{1}: the price is due {2} days after {3}, the premium {4} days after {5}."
        )
        first, second = after[price.after], after[premium.after]
        return told(phrase, name, str(price.days), first, str(premium.days), second)

    def _advance(self, name: str, advance: AdvanceTerm) -> str:
        phrase = self.tongue.says(
            "{1}: on request up to {2} of the contract's value is paid in advance within "
            "{3} days, and set off when goods arrive."
        )
        return told(phrase, name, self._percent(advance.percent), str(advance.days))

    def _interest(self, name: str, rows: Iterable[LateInterest]) -> str:
        row_of = self.tongue.says("{1} a year from {2} on ({3})")
        listed = ", ".join(
            told(
                row_of,
                self._percent(row.percent_per_year),
                self._day(row.valid_from),
                row.day_count,
            )
            for row in rows
        )
        phrase = self.tongue.says("{1}: what is paid late bears simple interest: {2}.")
        return told(phrase, name, listed)

    def _for_it(self, rows: Iterable[_Row]) -> list[_Row]:
        """Return the rows of a table that hold: those that name its origin, if any."""
        found = [row for row in rows if row.commodity is self.contract.commodity]
        named = [row for row in found if self.contract.origin in row.origins]
        return named or [row for row in found if not row.origins]

    def _rows(self, rows: Iterable[_Row]) -> str:
        row_of = self.tongue.says("{1} from {2} on")
        return ", ".join(
            told(row_of, self._price(row.price), self._day(row.valid_from))
            for row in rows
        )

    def _joined(self, parts: list[str]) -> str:
        joined = parts[0]
        for part in parts[1:]:
            joined = told(self.tongue.says("{1} and {2}"), joined, part)
        return joined

    def _price(self, price: UnitPrice | Differential) -> str:
        figure = self.tongue.figure(shown(abs(Fraction(price.amount))))
        return f"{figure} {price.unit}"

    def _percent(self, figure: object) -> str:
        return f"{self.tongue.figure(exactly(Fraction(str(figure))))} %"

    def _day(self, on: date) -> str:
        return self.tongue.day(on)
