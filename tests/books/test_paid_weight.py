"""ledger.books.paid_weight: what a receipt is paid for, and how that was reached."""

from fractions import Fraction
from typing import Any

import pytest

from ledger.books.paid_weight import is_by_shipped, kg, payable_weight_g, show_weight
from ledger.trade.contract import ContractSigned

Lines = list[tuple[str, str, str]]
"""Text, figure and reckoning of each line."""


def contract(basis: str, franchise: str | None = None) -> ContractSigned:
    body: dict[str, Any] = {
        "contract": "C",
        "seller": "alder",
        "claims": [],
        "origin": "PE",
        "crop": "2024/25",
        "quantity_kg": "1000",
        "price": {"basis": "fixed", "price": {"amount": "3000", "unit": "USD/t"}},
        "delivery_place": "a port",
        "weight_basis": basis,
    }
    if franchise is not None:
        body["franchise_percent"] = franchise
    return ContractSigned.model_validate(body)


def reached(
    basis: str, franchise: str | None, shipped_g: int, landed_g: int
) -> tuple[Fraction, Lines]:
    payable, workings = payable_weight_g(
        contract(basis, franchise), shipped_g, landed_g, entry=7
    )
    return payable, [(one.text, one.figure, one.reckoning) for one in workings]


@pytest.mark.parametrize(
    ("basis", "franchise", "landed_g", "payable_g"),
    [
        ("shipped", None, 990_000, 1_000_000),
        ("landed", None, 990_000, 990_000),
        ("shipped", "0.5", 995_000, 1_000_000),
        ("shipped", "0.5", 994_999, 999_999),
        ("landed", "0.5", 990_000, 995_000),
        ("shipped", "0", 999_999, 999_999),
        ("shipped", "0.5", 1_000_001, 1_000_000),
        ("landed", "0.5", 1_000_001, 1_000_001),
        ("landed", "0.5", 1_000_000, 1_000_000),
    ],
)
def test_the_seller_bears_what_is_lost_beyond_the_franchise(
    basis: str, franchise: str | None, landed_g: int, payable_g: int
) -> None:
    """Source: International Trade Centre, The Coffee Guide, question 238 (franchise)."""
    payable, _ = reached(basis, franchise, 1_000_000, landed_g)

    assert payable == payable_g


def test_without_a_franchise_one_weighing_says_it_all() -> None:
    _, lines = reached("shipped", None, 1_000_000, 990_000)
    assert lines == [("net shipped weight of the lots taken", "1000.00 kg", "")]

    _, lines = reached("landed", None, 1_000_000, 990_000)
    assert lines == [("net landed weight of the lots taken", "990.00 kg", "")]


def test_with_one_every_step_can_be_done_again() -> None:
    _, lines = reached("landed", "0.5", 1_000_000, 990_000)

    assert lines == [
        ("net shipped weight of the lots taken", "1000.00 kg", ""),
        ("net landed weight of the lots taken", "990.00 kg", ""),
        (
            "natural loss that the buyer bears: 0.50 % of the shipped weight",
            "5.00 kg",
            "1000.00 * 0.50 / 100",
        ),
        (
            "loss beyond it, which is the seller's",
            "5.00 kg",
            "highest of (1000.00 - 990.00 - 5.00, 0)",
        ),
        (
            "weight paid for: as shipped, less the loss beyond",
            "995.00 kg",
            "1000.00 - 5.00",
        ),
    ]


def test_more_landed_than_shipped_is_paid_as_landed() -> None:
    _, lines = reached("landed", "0.5", 1_000_000, 1_000_250)

    assert lines[-1] == (
        "weight paid for: as landed, more than shipped",
        "1000.25 kg",
        "1000.25",
    )


def test_lines_name_the_receipt_and_the_clause() -> None:
    _, workings = payable_weight_g(contract("landed", "1"), 1_000, 900, entry=7)

    assert [one.entry for one in workings] == [7, 7, None, None, None]
    assert [one.rule for one in workings] == [
        "",
        "",
        "contract C, weight basis landed",
        "",
        "",
    ]


@pytest.mark.parametrize(
    ("grams", "shown", "in_a_line"),
    [
        (1_250, "1.25 kg", "1.25"),
        (Fraction(1000, 3), "0.333333… kg", "(1 / 3)"),
        (0, "0.00 kg", "0.00"),
    ],
)
def test_a_weight_without_end_is_cut_for_the_eye_and_exact_in_a_line(
    grams: Fraction | int, shown: str, in_a_line: str
) -> None:
    assert show_weight(grams)[:4] == shown[:4]
    assert show_weight(grams).endswith(shown[-3:])
    assert kg(grams) == in_a_line


@pytest.mark.parametrize(
    ("basis", "franchise", "by_shipped"),
    [
        ("shipped", None, True),
        ("landed", None, False),
        ("landed", "0", True),
        ("shipped", "1", True),
    ],
)
def test_lots_share_by_shipped_weight_where_a_franchise_is_agreed(
    basis: str, franchise: str | None, *, by_shipped: bool
) -> None:
    assert is_by_shipped(contract(basis, franchise)) is by_shipped
