"""ledger.books.joint: which forms come out of another together, and from which day."""

from datetime import date
from typing import Any

import pytest

from ledger.books.joint import joint_outputs_with
from ledger.trade.terms import TermsPublished
from ledger.trade.words import Commodity, Form
from tests.world import conversions


def row(of: str, valid_from: str, **shares: str) -> dict[str, Any]:
    outputs = [{"form": form, "share": share} for form, share in shares.items()]
    return {"of": of, "outputs": outputs, "valid_from": valid_from, "source": "s"}


def terms(*rows: dict[str, Any]) -> TermsPublished:
    body = {
        "scheme": "fairfield",
        "version": "1",
        "valid_from": "2023-01-01",
        "source": "an invented standard",
        "custody": ["mass balance"],
        "conversions": conversions(),
        "joint_outputs": list(rows),
    }
    return TermsPublished.model_validate(body)


SPLITS = terms(
    row("liquor", "2025-02-01", butter="0.4", cake="0.6"),
    row("liquor", "2025-01-01", butter="0.5", powder="0.5"),
    row("bean", "2025-01-01", nib="0.8", powder="0.2"),
)


def of(form: Form, on: str, commodity: Commodity = Commodity.COCOA) -> str | None:
    found = joint_outputs_with(SPLITS, commodity, form, date.fromisoformat(on))
    return None if found is None else f"{found.of} {found.outputs[0].share.normalize()}"


@pytest.mark.parametrize(
    ("form", "on", "found"),
    [
        (Form.BUTTER, "2024-12-31", None),
        (Form.BUTTER, "2025-01-01", "liquor 0.5"),
        (Form.BUTTER, "2025-01-31", "liquor 0.5"),
        (Form.BUTTER, "2025-02-01", "liquor 0.4"),
        (Form.CAKE, "2025-01-31", None),
        (Form.CAKE, "2025-02-01", "liquor 0.4"),
        (Form.NIB, "2025-02-01", "bean 0.8"),
        (Form.LIQUOR, "2025-02-01", None),
    ],
)
def test_the_latest_row_of_each_parted_form_counts(
    form: Form, on: str, found: str | None
) -> None:
    assert of(form, on) == found


def test_a_form_that_a_later_row_leaves_out_is_found_with_another() -> None:
    """Powder no longer comes of liquor; it still comes of beans beside nibs."""
    assert of(Form.POWDER, "2025-01-31") == "liquor 0.5"
    assert of(Form.POWDER, "2025-02-01") == "bean 0.8"


def test_only_cocoa_is_parted() -> None:
    assert of(Form.BUTTER, "2025-02-01", Commodity.OTHER) is None
