"""What the operators wrote down: temperatures, tastings, minutes and speeds."""

from sample_shipments.generator.cycle import Cycle

_NOTES = (
    "vinegar, sharp",
    "sharp, fruit behind it",
    "red fruit, drying",
    "fruit, less sharp",
    "round, some bitterness",
    "round",
    "smooth, long",
    "smooth, ready",
)
_BETWEEN_TASTINGS = (50, 45, 60, 55, 40, 60)  # in tenths of an hour
_MISSED_AFTER = 3
_MISSED_FOR = 95


def conche_record(cycle: Cycle) -> tuple[dict[str, str], int]:
    """Return the columns of a conche's record, and how many samples were tasted."""
    until, times = cycle.conche_hours * 10, list[int]()
    tenths, turn = 0, int(cycle.number)
    while True:
        missed = cycle.missed_tasting and len(times) == _MISSED_AFTER
        wait = _BETWEEN_TASTINGS[turn % len(_BETWEEN_TASTINGS)]
        tenths += _MISSED_FOR if missed else wait
        turn += 1
        if tenths > until:
            break
        times.append(tenths)
    notes = (_NOTES[place * len(_NOTES) // len(times)] for place in range(len(times)))
    tastings = "; ".join(
        f"{tenths // 10}.{tenths % 10}: {note}"
        for tenths, note in zip(times, notes, strict=True)
    )
    return {"hours": f"{cycle.conche_hours}.0", "tastings": tastings}, len(times)


def temper_record(number: int, *, exit_f: int, racked: bool) -> dict[str, str]:
    """Return the columns of a temperer's record.

    Args:
        number: Number of the cycle.
        exit_f: Usual temperature at the exit, degrees Fahrenheit.
        racked: Whether bars rested on racks before demoulding.
    """
    swing = number * 3 % 5 - 2
    record = {
        "entry_temperature": f"{125 + swing} F",
        "exit_temperature": f"{exit_f + swing // 2} F",
        "carried": f"{12 + number * 5 % 8} lb",
        "cooling_minutes": str(8 + number % 4),
    }
    if racked:
        record["racking_minutes"] = str(36 + number * 7 % 13)
    return record


def wrap_record(number: int) -> dict[str, str]:
    """Return the columns of a wrapping machine's record."""
    return {"pieces_per_minute": str(122 + number * 5 % 17)}
