"""ledger.books.usual: a batch outside the maker's own limits is let in and flagged."""

from typing import Any

import pytest

from tests.world import World, batch_body, certified

DAY = "2025-02-01"


def limited(measure: str, lowest: str | None, highest: str | None) -> World:
    """A world whose maker finds one measure of tempering usual between two figures."""
    world = certified()
    world.receive({"L": "10000"})
    publish(world, "2025-01-01", measure, lowest, highest)
    return world


def publish(
    world: World,
    valid_from: str,
    measure: str,
    lowest: str | None,
    highest: str | None,
    step: str = "temper",
) -> int:
    limit = {"step": step, "measure": measure, "source": "our own notes"}
    bounds = {"lowest": lowest, "highest": highest}
    return world.record(
        "limits.published",
        version=f"of {valid_from}",
        valid_from=valid_from,
        limits=[limit | {name: bound for name, bound in bounds.items() if bound}],
    )


def temper(
    world: World,
    record: dict[str, Any] | None = None,
    *,
    on: str = DAY,
    given: str = "10",
    lost: str = "0",
    step: str = "temper",
) -> list[str]:
    """Record a batch of 10 kg; return the fields that are flagged."""
    body = batch_body(
        f"B{len(world.raws)}",
        {"L": "10"},
        {f"M{len(world.raws)}": given},
        step=step,
        losses={"waste": lost} if lost != "0" else {},
    )
    world.record("batch.made", on, **body, record=record)
    assert set(world.rules) <= {"outside-usual"}
    return [finding.field for finding in world.warnings]


@pytest.mark.parametrize(
    ("measure", "field", "lowest", "highest"),
    [
        ("hours", "hours", ("10.99", "11.00", "11.01"), ("71.99", "72.00", "72.01")),
        (
            "carried kg",
            "carried_kg",
            ("4.535", "4.536", "4.537"),
            ("9.071", "9.072", "9.073"),
        ),
        ("cooling minutes", "cooling_minutes", ("8", "9", "10"), ("11", "12", "13")),
        ("racking minutes", "racking_minutes", ("29", "30", "31"), ("39", "40", "41")),
        (
            "pieces per minute",
            "pieces_per_minute",
            ("99", "100", "101"),
            ("129", "130", "131"),
        ),
    ],
)
def test_a_measure_is_flagged_below_and_above_its_limits_and_not_at_them(
    measure: str, field: str, lowest: tuple[str, ...], highest: tuple[str, ...]
) -> None:
    """Conching 11 to 72 hours, carried in 10 to 20 lb, about 9 minutes of cooling.

    Common practice, no source.
    """
    world = limited(measure, lowest[1], highest[1])

    flagged = [temper(world, {field: value}) for value in (*lowest, *highest)]

    outside = [f"record.{field}"]
    assert flagged == [outside, [], [], [], [], outside]


@pytest.mark.parametrize("point", ["entry", "exit"])
@pytest.mark.parametrize(
    ("value", "flagged"),
    [("32.1", True), ("32.2", False), ("51.7", False), ("51.8", True)],
)
def test_temperatures_are_compared_by_the_point_they_were_read_at(
    point: str, value: str, *, flagged: bool
) -> None:
    """Tempering from about 125 °F, 51.7 °C, to about 90 °F, 32.2 °C.

    Common practice, no source.
    """
    world = limited(f"{point} temperature c", "32.2", "51.7")
    readings = [{"point": "other", "value_c": "5"}, {"point": point, "value_c": value}]

    found = temper(world, {"temperatures": readings})

    assert found == (["record.temperatures.1"] if flagged else [])


@pytest.mark.parametrize(
    ("hours", "flagged"),
    [
        (["4", "8", "14"], []),
        (["3.99", "8"], [0]),
        (["6.01", "10.01"], [0]),
        (["4", "10.01"], [1]),
        (["4", "8", "11.99"], [2]),
    ],
)
def test_tastings_are_compared_by_the_hours_between_them(
    hours: list[str], flagged: list[int]
) -> None:
    """Sampled about every 4 to 6 hours. Common practice, no source."""
    world = limited("tasting interval hours", "4", "6")
    tastings = [{"after_hours": after, "note": "round"} for after in hours]

    found = temper(world, {"tastings": tastings})

    assert found == [f"record.tastings.{place}" for place in flagged]


@pytest.mark.parametrize(
    ("given", "lost", "flagged"),
    [
        ("7.499", "2.501", True),
        ("7.5", "2.5", False),
        ("8.3", "1.7", False),
        ("8.301", "1.699", True),
    ],
)
def test_a_yield_is_flagged_outside_its_limits(
    given: str, lost: str, *, flagged: bool
) -> None:
    """Winnowing loses 17 to 25 %. Source: chocolatealchemy.com, "Ask the Alchemist" 30."""
    world = limited("yield percent", "75", "83")

    assert temper(world, given=given, lost=lost) == (["outputs"] if flagged else [])


def test_a_yield_is_compared_exactly_and_not_as_it_is_rounded() -> None:
    """74.996 % would round to 75.00 and pass."""
    world = limited("yield percent", "75", None)
    body = batch_body("B", {"L": "1000"}, {"M": "749.96"}, losses={"waste": "250.04"})
    world.record("batch.made", DAY, **{**body, "step": "temper"})

    [finding] = world.warnings
    assert (
        "outputs of batch B is 74.996, outside the usual at least 75" in finding.message
    )


@pytest.mark.parametrize(
    ("lowest", "highest", "words"),
    [
        ("11", "72", "the usual 11 to 72 for hours at temper"),
        ("11", None, "the usual at least 11 for hours"),
        (None, "4", "the usual at most 4 for hours"),
    ],
)
def test_what_is_flagged_names_value_limit_and_source(
    lowest: str | None, highest: str | None, words: str
) -> None:
    world = limited("hours", lowest, highest)
    temper(world, {"hours": "9"})

    [finding] = world.warnings
    assert "record.hours of batch" in finding.message
    assert f"is 9, outside {words}" in finding.message
    assert "(of 2025-01-01: our own notes)" in finding.message


def test_a_measure_that_was_not_taken_is_not_flagged() -> None:
    world = limited("hours", "11", "72")

    assert temper(world) == []
    assert temper(world, {"cooling_minutes": "9"}) == []


def test_limits_are_for_their_step_only() -> None:
    world = limited("hours", "11", "72")

    assert temper(world, {"hours": "1"}, step="conche") == []


@pytest.mark.parametrize(
    ("on", "flagged"),
    [
        ("2025-01-31", True),
        ("2025-02-28", False),
        ("2025-03-01", True),
    ],
)
def test_limits_are_those_of_the_day(on: str, *, flagged: bool) -> None:
    world = certified()
    world.receive({"L": "10000"})
    publish(world, "2025-03-01", "hours", "3", None)
    publish(world, "2025-02-01", "hours", "1", None)
    publish(world, "2025-01-01", "hours", "3", None)

    assert bool(temper(world, {"hours": "2"}, on=on)) is flagged


def test_before_the_first_limits_nothing_is_flagged() -> None:
    world = limited("hours", "11", "72")
    world.receive({"K": "100"}, "2024-12-01")
    body = batch_body("B", {"K": "1"}, {"M": "1"}, step="temper")
    world.record("batch.made", "2024-12-31", **body, record={"hours": "1"})

    assert not world.rules
