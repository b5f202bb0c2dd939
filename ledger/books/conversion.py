"""Bean equivalents: what a kilogram of a form stands for under a scheme's terms."""

from datetime import date
from fractions import Fraction

from ledger.books.finding import refuse
from ledger.books.joint import joint_outputs_with
from ledger.books.measured import measured_factor
from ledger.books.shelf import Shelf
from ledger.trade.balance_terms import Conversion
from ledger.trade.terms import TermsPublished
from ledger.trade.words import Commodity, Form


def factor_to_beans(
    shelf: Shelf,
    terms: TermsPublished,
    commodity: Commodity,
    form: Form,
    on: date,
    *,
    field: str,
) -> Fraction:
    """Return kilograms of bean equivalent for one kilogram of a form.

    A form that comes out beside another stands for as much as the form that is parted,
    kilogram by kilogram. A form whose yield is measured counts as measured, where the
    window holds batches that lead to it; else the published factor counts.

    Args:
        shelf: What is recorded.
        terms: Terms in force.
        commodity: Commodity concerned.
        form: Its form.
        on: Trade date.
        field: Field of the entry that needs it, for the sentence of a refusal.

    Raises:
        EntryRefusedError: The terms have no factor for that form on that date.
    """
    joint = joint_outputs_with(terms, commodity, form, on)
    counted = form if joint is None else joint.of
    if is_measured(terms, commodity, counted):
        measured = measured_factor(shelf, terms, counted, on)
        if measured:
            return measured
    return published_row(terms, commodity, counted, on, field=field).to_beans


def is_measured(terms: TermsPublished, commodity: Commodity, form: Form) -> bool:
    """Tell whether terms convert a form by measured yields."""
    measured = terms.measured_yields
    return (
        measured is not None and commodity is Commodity.COCOA and form in measured.forms
    )


def published_row(
    terms: TermsPublished, commodity: Commodity, form: Form, on: date, *, field: str
) -> Conversion:
    """Return the row of the terms that converts a form.

    Args:
        terms: Terms in force.
        commodity: Commodity concerned.
        form: Its form.
        on: Trade date; the latest row valid from then or before governs.
        field: Field of the entry that needs it, for the sentence of a refusal.

    Raises:
        EntryRefusedError: The terms have no factor for that form on that date.
    """
    rows = [
        row
        for row in terms.conversions
        if row.commodity is commodity and row.form is form and row.valid_from <= on
    ]
    if not rows:
        raise refuse(
            "no-factor",
            field,
            f"{field} needs a conversion factor for {commodity} as {form} on {on}, but "
            f"the terms {terms.version} of {terms.scheme} have none; add the published "
            "factor to a new version of the terms",
        )
    return max(rows, key=lambda row: row.valid_from)
