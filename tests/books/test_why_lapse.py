"""ledger.books.why_lapse: which receipts still counted when a year was closed."""

from ledger.books.effect import Cause
from tests.books.test_ageing import move
from tests.books.told import told
from tests.world import certified


def test_of_what_was_moved_away_only_the_part_received_lately_is_taken_off() -> None:
    """Of 150 kg moved 50 are of this year; the 40 kg that come back are of the last."""
    account = {"transfers": ["between sites"]}
    world = certified(account=account, carry_over_periods=1)
    world.receive({"A": "100"}, "2024-06-01")
    world.receive({"B": "100"}, "2025-06-01")
    move(world, "150", "2025-07-01", "mill")
    move(world, "40", "2025-08-01", "annex")
    world.close("2024-01-01", "2025-12-31", "2026-01-05")

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
