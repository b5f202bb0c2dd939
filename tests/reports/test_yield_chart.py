"""Yields drawn: every batch a mark, limits named, what lies outside solid and named."""

from datetime import date
from fractions import Fraction
from xml.etree.ElementTree import Element, fromstring

import pytest

from ledger.books.yield_ratio import YieldSeries, yield_series
from ledger.reports.svg import NAMESPACE, Drawing
from ledger.reports.yield_chart import is_drawn, kind_of, yield_chart
from tests.books.making_world import MakingWorld, day

POINTS_PER_MM = 72 / 25.4


def series(*given_g: int, equipment: str | None = "drum-1") -> YieldSeries:
    """Yields of roasts that each took 1,000 g, one a day."""
    world = MakingWorld()
    world.receive({"A": 1_000_000})
    for number, grams in enumerate(given_g):
        body = {
            "batch": f"R-{number}",
            "step": "roast",
            "equipment": equipment,
            "inputs": [{"lot": "A", "mass_kg": "1"}],
            "outputs": [
                {
                    "lot": f"RB-{number}",
                    "form": "roasted bean",
                    "mass_kg": f"{grams / 1000:.3f}",
                }
            ],
            "losses": [{"reason": "moisture", "mass_kg": f"{1 - grams / 1000:.3f}"}],
        }
        world.record("batch.made", {k: v for k, v in body.items() if v}, number + 1)
    [found] = yield_series(world.shelf, since=day(0), until=day(999))
    return found


USUAL = (960, 961, 962, 961, 960, 961, 962, 961)
ONE_OUT = (*USUAL, 900)


def elements(drawing: Drawing, shape: str) -> list[Element]:
    return fromstring(drawing.svg).findall(f"{{{NAMESPACE}}}{shape}")


def words(drawing: Drawing) -> list[str]:
    return [text.text or "" for text in elements(drawing, "text")]


def marks(drawing: Drawing, fill: str) -> int:
    return sum(one.attrib["fill"] == fill for one in elements(drawing, "polygon"))


def test_every_batch_is_a_mark_and_those_outside_are_solid_and_named() -> None:
    drawing = yield_chart(series(*ONE_OUT))

    assert (marks(drawing, "white"), marks(drawing, "black")) == (8, 1)
    assert "R-8" in words(drawing)
    assert "R-0" not in words(drawing)


def test_limits_and_mean_are_named_with_their_figures() -> None:
    """Mean 96.1, mean moving range 0.1: limits at 3 x 0.1 / 1.128 either way.

    Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2.
    """
    found = words(yield_chart(series(*USUAL)))

    assert "mean  96.1000 %" in found
    reach = 3 * Fraction("0.1") / Fraction("1.128")
    assert f"upper limit  {float(Fraction('96.1') + reach):.4f} %" in found
    assert f"lower limit  {float(Fraction('96.1') - reach):.4f} %" in found


def test_limit_lines_are_dashed_and_lie_where_the_axis_has_them() -> None:
    drawing = yield_chart(series(*USUAL))

    level = [line for line in elements(drawing, "polyline") if _is_level(line)]
    dashed = [line.attrib["stroke-dasharray"] != "none" for line in level]
    heights = [int(line.attrib["points"].split()[0].split(",")[1]) for line in level]
    assert dashed == [True, False, True]
    assert heights == sorted(heights)
    assert abs(heights[0] + heights[2] - 2 * heights[1]) <= 2


def _is_level(line: Element) -> bool:
    corners = line.attrib["points"].split()
    return len(corners) == 2 and len({c.split(",")[1] for c in corners}) == 1


def test_the_drawing_says_in_words_what_it_shows() -> None:
    drawing = yield_chart(series(*ONE_OUT))

    assert drawing.title == "Yields of roast on drum-1, 9 batches, per cent"
    assert drawing.description.startswith(
        "From 90.0000 to 96.2000, between 2024-01-02 and 2024-01-10. Mean "
    )
    assert drawing.description.endswith("Outside: R-8 of 2024-01-10 with 90.0000.")
    assert yield_chart(series(*USUAL)).description.endswith("Outside: none.")


@pytest.mark.parametrize(
    ("given", "drawn"),
    [(USUAL, True), (USUAL[:4], False), ((960,) * 9, False), ((960,), False)],
)
def test_few_batches_or_all_alike_are_not_worth_a_drawing(
    given: tuple[int, ...],
    drawn: bool,  # noqa: FBT001 - a column of the table
) -> None:
    assert is_drawn(series(*given)) is drawn


def test_a_kind_without_equipment_is_named_by_its_step() -> None:
    assert kind_of(series(960, 961, equipment=None)) == "roast"


def test_no_text_is_below_seven_points_on_a_page_standing_up() -> None:
    """A4 is 210 mm wide (ISO 216); margins of 16 mm leave 178 mm."""
    drawing = yield_chart(series(*ONE_OUT))

    width = int(fromstring(drawing.svg).attrib["viewBox"].split()[2])
    smallest = min(int(text.attrib["font-size"]) for text in elements(drawing, "text"))
    assert smallest * 178 * POINTS_PER_MM / width >= 7


def test_dates_are_named_few_enough_to_read() -> None:
    found = words(yield_chart(series(*USUAL * 10)))

    dates = [date.fromisoformat(one) for one in found if one.startswith("2024-")]
    assert dates == sorted(dates)
    assert 2 <= len(dates) <= 7
