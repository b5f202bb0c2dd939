"""Forms of cocoa that come out of another together: butter and powder of one liquor."""

from datetime import date

from ledger.trade.balance_terms import JointOutputs
from ledger.trade.terms import TermsPublished
from ledger.trade.words import Commodity, Form


def joint_outputs_with(
    terms: TermsPublished, commodity: Commodity, form: Form, on: date
) -> JointOutputs | None:
    """Return what comes out together with a form on a date, if anything does.

    Args:
        terms: Terms in force.
        commodity: Commodity concerned.
        form: Form that comes out.
        on: Trade date; of each form that is parted, the latest row counts.
    """
    if commodity is not Commodity.COCOA:
        return None
    latest: dict[Form, JointOutputs] = {}
    for row in sorted(terms.joint_outputs, key=lambda row: row.valid_from):
        if row.valid_from <= on:
            latest[row.of] = row
    for row in latest.values():
        if any(output.form is form for output in row.outputs):
            return row
    return None
