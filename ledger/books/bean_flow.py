"""The reconciliation of a period in bean equivalent, under the terms of each scheme.

Every form is turned into beans by the factor that the terms have on the last day, goods
made to a recipe by the cocoa in the recipe. In making, bean equivalent does not stay the
same: what is lost, and what the factors count otherwise than it happened, shows as one
figure. It is a difference of the factors, not of the goods, and is shown as such.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from datetime import date
from fractions import Fraction

from ledger.books.conversion import factor_to_beans
from ledger.books.finding import EntryRefusedError
from ledger.books.lookup import expect, governing_terms, recipe_named
from ledger.books.reconciliation import Flow, Goods, Reconciliation
from ledger.books.shelf import Shelf
from ledger.trade.terms import TermsPublished
from ledger.trade.words import Commodity, Form


@dataclass(frozen=True, slots=True)
class BeanFlow:
    """All cocoa of a period in grams of bean equivalent, exact.

    Attributes:
        scheme: Scheme whose terms convert it.
        terms: Version of its terms.
        on: Date on which the factors are read.
        grams: By column of `ledger.books.reconciliation.Flow`.
        without_factor: Forms that hold cocoa but have no factor in the terms; they are
            left out.
    """

    scheme: str
    terms: str
    on: date
    grams: Mapping[str, Fraction]
    without_factor: tuple[Form, ...]

    @property
    def converted_g(self) -> Fraction:
        """Beans that went into batches beyond those that came out, by the factors."""
        return self.grams["used_g"] + self.grams["lost_g"] - self.grams["made_g"]

    @property
    def difference_g(self) -> Fraction:
        """Closing beyond what all columns explain; 0 where it adds up."""
        grams = self.grams
        expected = (
            grams["opening_g"]
            + grams["bought_g"]
            - self.converted_g
            - grams["sold_g"]
            + grams["returned_g"]
            - grams["written_off_g"]
            + grams["corrected_g"]
        )
        return grams["closing_g"] - expected


def bean_flows(shelf: Shelf, found: Reconciliation) -> tuple[BeanFlow, ...]:
    """Return a reconciliation in bean equivalent, by scheme that has terms in force.

    Args:
        shelf: What is recorded.
        found: The reconciliation in kilograms as weighed.
    """
    schemes = {
        expect(published.record, TermsPublished).scheme
        for published in shelf.of_kind("terms.published")
    }
    return tuple(
        _under(shelf, found, terms)
        for scheme in sorted(schemes)
        if (terms := governing_terms(shelf, scheme, found.until)) is not None
    )


def _under(shelf: Shelf, found: Reconciliation, terms: TermsPublished) -> BeanFlow:
    without: set[Form] = set()
    converted: list[tuple[Fraction, Flow]] = []
    for goods, flow in found.flows.items():
        if goods is None:
            continue
        factor = Fraction(0)
        for form, share in cocoa_in(shelf, goods):
            try:
                beans = factor_to_beans(
                    shelf, terms, Commodity.COCOA, form, found.until, field="forms"
                )
            except EntryRefusedError:
                without.add(form)
            else:
                factor += share * beans
        converted.append((factor, flow))
    return BeanFlow(
        scheme=terms.scheme,
        terms=terms.version,
        on=found.until,
        grams={part.name: _sum(part.name, converted) for part in fields(Flow)},
        without_factor=tuple(form for form in Form if form in without),
    )


def _sum(column: str, converted: Iterable[tuple[Fraction, Flow]]) -> Fraction:
    return sum(
        (factor * int(getattr(flow, column)) for factor, flow in converted),
        Fraction(0),
    )


def cocoa_in(shelf: Shelf, goods: Goods) -> list[tuple[Form, Fraction]]:
    """Return the cocoa in some goods: forms in which it is counted, and shares of mass."""
    if goods.recipe is None:
        is_cocoa = goods.commodity is Commodity.COCOA
        return [(goods.form, Fraction(1))] if is_cocoa else []
    recipe = recipe_named(shelf, goods.recipe, field="recipe")
    return [
        (part.form, Fraction(part.share))
        for part in recipe.ingredients
        if part.commodity is Commodity.COCOA
    ]
