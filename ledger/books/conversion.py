"""Bean equivalents: what a kilogram of a form stands for under a scheme's terms."""

from datetime import date
from fractions import Fraction

from ledger.books.finding import refuse
from ledger.trade.terms import TermsPublished
from ledger.trade.words import Commodity, Form


def factor_to_beans(
    terms: TermsPublished, commodity: Commodity, form: Form, on: date, *, field: str
) -> Fraction:
    """Return kilograms of bean equivalent for one kilogram of a form.

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
    return Fraction(max(rows, key=lambda row: row.valid_from).factor)
