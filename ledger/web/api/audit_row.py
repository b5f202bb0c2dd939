"""Figures that an auditor asks for: yields, whether all adds up, breaches."""

from datetime import date

from ledger.web.api.row import (
    EntryNumber,
    Figures,
    Kilograms,
    Percent,
    Row,
    example,
)


class YieldRow(Row):
    """Measured yields of one step, with control limits."""

    model_config = example(
        step="roast",
        equipment="drum-roaster",
        recipes=None,
        batches=16,
        by_mass_percent="96.5360",
        mean_percent="96.5525",
        lower_percent="94.5921",
        upper_percent="98.5129",
        lowest_percent="95.8664",
        highest_percent="97.2429",
        outside=None,
    )

    step: str
    equipment: str | None
    recipes: str | None
    batches: int
    by_mass_percent: Percent | None
    mean_percent: Percent | None
    lower_percent: Percent | None
    upper_percent: Percent | None
    lowest_percent: Percent | None
    highest_percent: Percent | None
    outside: str | None
    """Batches outside the limits."""


class FactorRow(Row):
    """What a factor of the terms says beside what was measured."""

    scheme: str
    form: str
    made_kg: Kilograms
    beans_kg: Kilograms
    measured: str
    """Kilograms of beans that one kilogram took."""
    factor: str | None
    """Kilograms of beans that the terms count for it."""
    beyond_percent: Percent | None
    beyond_kg: Kilograms | None
    """Bean equivalents that the factor leaves beyond the measured ones."""
    source: str | None
    """Document that the factor is from."""


class Yields(Figures):
    """Measured yields."""

    since: date
    """First trade date that counts."""
    until: date
    """Last trade date that counts."""
    rows: list[YieldRow]
    factors: list[FactorRow]
    """Conversion factors beside what was measured."""


class FormRow(Row):
    """How the mass of one form came and went."""

    model_config = example(
        form="bean",
        opening_kg="1120.820",
        bought_kg="9515.000",
        made_kg="0.000",
        used_kg="10116.974",
        lost_kg="363.026",
        sold_kg="0.000",
        returned_kg="0.000",
        written_off_kg="0.000",
        corrected_kg="0.000",
        closing_kg="155.820",
        difference_kg="0.000",
    )

    form: str
    opening_kg: Kilograms
    bought_kg: Kilograms
    made_kg: Kilograms
    used_kg: Kilograms
    lost_kg: Kilograms
    sold_kg: Kilograms
    returned_kg: Kilograms
    written_off_kg: Kilograms
    corrected_kg: Kilograms
    closing_kg: Kilograms
    difference_kg: Kilograms
    """What is missing or too much; zero where the masses add up."""


class CountRow(Row):
    """One count of a lot beside the book."""

    entry: EntryNumber
    on: date
    lot: str
    form: str
    book_kg: Kilograms
    found_kg: Kilograms
    difference_kg: Kilograms
    allowed_kg: Kilograms | None
    verdict: str


class Reconciliation(Figures):
    """Whether all masses add up."""

    since: date
    """First trade date that counts."""
    until: date
    """Last trade date that counts."""
    adds_up: bool
    """Whether no mass is missing and every count is within what is allowed."""
    rows: list[FormRow]
    counts: list[CountRow]
    """Counts of stock in the period."""


class BreachRow(Row):
    """One fact about a breach, told by its part."""

    breach: str
    """The account or sale that is in breach."""
    state: str
    """Open or closed."""
    part: str
    """What the row tells."""
    entry: EntryNumber | None
    on: date | None
    lot: str | None
    sale: str | None
    customer: str | None
    mass_kg: Kilograms | None
    bean_equivalent_kg: Kilograms | None
    text: str | None


class Breaches(Figures):
    """Claims that are no longer covered."""

    as_of: date
    """Last trade date that counts."""
    is_open: bool
    """Whether one is not made good yet."""
    rows: list[BreachRow]
