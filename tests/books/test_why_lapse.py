"""ledger.books.why_lapse: which receipts still counted when a year was closed."""

from ledger.books.effect import Cause
from tests.books.test_ageing import move
from tests.books.told import told
from tests.world import World, certified, claim


def moved() -> tuple[World, dict[str, int]]:
    """Of 150 kg moved 50 are of this year; the 40 kg that come back are of the last."""
    account = {"transfers": ["between sites"]}
    world = certified(account=account, carry_over_periods=1)
    world.receive({"A": "100"}, "2024-06-01")
    entries = {"received": world.receive({"B": "100"}, "2025-06-01")}
    entries["there"] = move(world, "150", "2025-07-01", "mill")
    entries["back"] = move(world, "40", "2025-08-01", "annex")
    world.close("2024-01-01", "2025-12-31", "2026-01-05")
    return world, entries


def test_of_what_was_moved_away_only_the_part_received_lately_is_taken_off() -> None:
    world, entries = moved()

    lines = told(world, Cause.LAPSED)

    assert {text: (line.figure, line.reckoning) for text, line in lines.items()} == {
        "standing on 2025-12-31, before anything lapses": ("90.00 kg", ""),
        "received on 2025-06-01": ("100.00 kg", ""),
        "transferred on 2025-07-01, the part of it that was received in this time": (
            "-50.00 kg",
            "",
        ),
        "received from 2025-01-01 to 2025-12-31, which still counts": (
            "50.00 kg",
            "100.00 + -50.00",
        ),
        "lapsed": ("40.000 kg", "highest of (90.00 - 50.00, 0)"),
    }
    assert lines["received on 2025-06-01"].entry == entries["received"]
    [terms] = world.shelf.of_kind("terms.published")
    assert {line.entry for text, line in lines.items() if "still counts" in text} == {
        terms.seq
    }


def test_what_was_moved_in_is_as_old_as_where_it_came_from() -> None:
    """At the other site 110 kg are left, of which 50 were received this year."""
    world, entries = moved()

    lines = told(world, Cause.LAPSED, site="annex")

    there = [line for text, line in lines.items() if "on 2025-07-01" in text]
    assert [(line.figure, line.reckoning, line.entry) for line in there] == [
        ("150.00 kg", "", entries["there"]),
        ("50.00 kg", "150.00 * 50.00 / 150.00", entries["there"]),
    ]
    assert lines["lapsed"].figure == "60.000 kg"


def test_what_no_longer_lapsed_is_told_with_what_had_and_why() -> None:
    """Of 100 kg 90 had lapsed; without the receipt only the 10 that were claimed count."""
    world = certified(reconciliation_months=3, carry_over_periods=0)
    world.receive({"P": "1000"}, "2025-01-02", contract="PLAIN")
    receipt = world.receive({"X": "100"}, "2025-01-10")
    world.sell("S", {"P": "10"}, "2025-02-01", claim())
    world.close("2025-01-01", "2025-03-31", "2025-04-02")
    world.void(receipt, "2025-05-01", accept_breach=True)

    lines = told(world, Cause.LAPSED)

    assert {text: (line.figure, line.reckoning) for text, line in lines.items()} == {
        "standing on 2025-03-31, before anything lapses": ("-10.00 kg", ""),
        "received from 2025-04-01 to 2025-03-31, which still counts": ("0.00 kg", "0"),
        "lapsed on 2025-03-31, as everything counts now": (
            "0.000 kg",
            "highest of (-10.00 - 0.00, 0)",
        ),
        "had lapsed before": ("90.00 kg", ""),
        "less that lapsed": ("90.000 kg", "90.00 - 0.00"),
    }
