"""ledger.trade.batch: mass in is mass out, to the gram, in whatever unit it was typed."""

from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from ledger.trade.batch import BatchMade
from ledger.trade.grams import to_grams
from ledger.trade.record import body_of, parse

POUND_KG = Fraction("0.45359237")
"""NIST Special Publication 811 (2008), appendix B.9: the avoirdupois pound, exactly."""


def made(
    inputs: list[str], outputs: list[str], losses: list[str] | None = None
) -> BatchMade:
    """A batch whose masses are given in kilograms, or typed with a unit."""

    def part(mass: str, **about: str) -> dict[str, Any]:
        return {"mass" if " " in mass else "mass_kg": mass, **about}

    body: dict[str, Any] = {
        "batch": "B",
        "step": "tank",
        "inputs": [part(mass, lot=f"I{n}") for n, mass in enumerate(inputs)],
        "outputs": [
            part(mass, lot=f"O{n}", form="liquor") for n, mass in enumerate(outputs)
        ],
        "losses": [part(mass, reason="waste") for mass in losses or []],
    }
    return parse(BatchMade, body)


def pounds(hundredths: list[int]) -> list[str]:
    return [f"{part / 100:.2f} lb" for part in hundredths]


def grams(batch: BatchMade) -> tuple[list[int], list[int], list[int]]:
    taken, given, lost = (
        [to_grams(part.mass_kg) for part in parts]
        for parts in (batch.inputs, batch.outputs, batch.losses)
    )
    return taken, given, lost


def test_a_batch_that_balances_is_taken() -> None:
    assert grams(made(["100"], ["80"], ["20"])) == ([100_000], [80_000], [20_000])


@pytest.mark.parametrize(
    ("outputs", "way_out"),
    [
        (["79.999"], "declare the loss of 0.001 kg"),
        (["80.001"], "weigh again: 0.001 kg cannot come from nowhere"),
    ],
)
def test_a_gram_too_little_or_too_much_is_refused_with_a_way_out(
    outputs: list[str], way_out: str
) -> None:
    with pytest.raises(ValidationError, match=way_out):
        made(["100"], outputs, ["20"])


@pytest.mark.parametrize(
    ("inputs", "outputs"), [(["I0", "I0"], ["O"]), (["I0"], ["O", "O"]), (["A"], ["A"])]
)
def test_a_lot_stands_once_in_a_batch(inputs: list[str], outputs: list[str]) -> None:
    body: dict[str, Any] = {
        "batch": "B",
        "step": "tank",
        "inputs": [{"lot": lot, "mass_kg": str(2 / len(inputs))} for lot in inputs],
        "outputs": [
            {"lot": lot, "mass_kg": str(2 / len(outputs)), "form": "liquor"}
            for lot in outputs
        ],
    }

    with pytest.raises(ValidationError, match="stands more than once"):
        parse(BatchMade, body)


@pytest.mark.parametrize(
    ("inputs", "outputs", "losses", "expected"),
    [
        # 100 lb is 45.359 kg; 60 lb and 40 lb are 27.216 and 18.144, a gram more.
        (["100 lb"], ["60 lb", "40 lb"], [], ([45_359], [27_215, 18_144], [])),
        # With a loss among them, the loss carries it.
        (["100 lb"], ["60 lb"], ["40 lb"], ([45_359], [27_216], [18_143])),
        # What was weighed in kilograms is never touched: an input carries it.
        (
            ["33.3 lb"] * 3,
            ["45.314"],
            [],
            ([15_104, 15_105, 15_105], [45_314], []),
        ),
    ],
)
def test_a_gram_that_only_rounding_left_over_is_carried(
    inputs: list[str],
    outputs: list[str],
    losses: list[str],
    expected: tuple[list[int], list[int], list[int]],
) -> None:
    """Pounds are converted exactly and rounded once, each mass by itself.

    Source: NIST Special Publication 811 (2008), appendix B.9, for the pound.
    """
    assert grams(made(inputs, outputs, losses)) == expected


def test_what_was_typed_is_kept_beside_the_figure_that_carries() -> None:
    batch = made(["100 lb"], ["60 lb", "40 lb"])

    assert [part.typed["mass_kg"] for part in batch.outputs] == ["60 lb", "40 lb"]
    assert parse(BatchMade, body_of(batch)) == batch


def test_a_batch_that_does_not_balance_as_typed_is_refused() -> None:
    with pytest.raises(ValidationError, match="weigh again"):
        made(["100 lb"], ["60 lb", "40.01 lb"])


def test_half_a_gram_as_typed_is_carried_and_more_is_not() -> None:
    """An ounce is a sixteenth of a pound, 28.349523125 g."""
    half_kg = Fraction(45_360 - 1, 1000) - 100 * POUND_KG
    assert abs(half_kg) < Fraction(1, 2000)

    assert grams(made(["100 lb"], ["45.359"])) == ([45_359], [45_359], [])
    with pytest.raises(ValidationError, match="weigh again"):
        made(["100 lb"], ["45.360"])


def test_a_figure_may_part_from_what_was_typed_by_one_gram_and_no_more() -> None:
    body = body_of(made(["100 lb"], ["60 lb", "40 lb"]))
    body["inputs"] = [
        {"lot": "I0", "mass_kg": "45.361", "typed": {"mass_kg": "100 lb"}}
    ]

    with pytest.raises(ValidationError, match="correct one of them"):
        parse(BatchMade, body)


@given(
    st.lists(st.integers(1, 10**6), min_size=1, max_size=8),
    st.lists(st.integers(1, 10**6), min_size=1, max_size=8),
    st.integers(1, 3),
)
def test_whatever_balances_in_hundredths_of_a_pound_balances_to_the_gram(
    outputs: list[int], losses: list[int], used: int
) -> None:
    total = sum(outputs) + sum(losses)
    # Two hundredths cannot be parted in three; nothing taken is no input.
    one = total // used or total
    inputs = [one, total - one] if one < total else [total]

    batch = made(pounds(inputs), pounds(outputs), pounds(losses))

    taken, given, lost = grams(batch)
    assert sum(taken) == sum(given) + sum(lost)
    for typed, figures in ((inputs, taken), (outputs, given), (losses, lost)):
        for hundredths, figure in zip(typed, figures, strict=True):
            assert abs(figure - hundredths * POUND_KG * 10) <= Fraction(3, 2)
    assert parse(BatchMade, body_of(batch)) == batch
    assert all(isinstance(part.mass_kg, Decimal) for part in batch.inputs)
