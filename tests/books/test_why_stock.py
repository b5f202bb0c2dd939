"""ledger.books.why_stock: what moved a lot, as it was typed."""

from ledger.books.why_balance import why_stock
from tests.world import certified


def test_what_was_sold_and_came_back_in_pounds_is_told_as_typed() -> None:
    """A pound is 0.45359237 kg by definition (NIST SP 811, B.8)."""
    world = certified()
    world.receive({"L": "100"}, "2025-01-10")
    world.sell("X", [{"lot": "L", "mass": "22.0462 lb"}], "2025-02-01")
    world.take_back("R", "X", [{"lot": "L", "mass": "11.0231 lb"}], "2025-02-03")

    lines = [one.workings[-1] for one in why_stock(world.shelf, "L").movements[1:]]

    assert [(line.text, line.figure) for line in lines] == [
        ("dispatched with sale X, typed as 22.0462 lb", "10.000 kg"),
        ("came back of sale X, typed as 11.0231 lb", "5.000 kg"),
    ]
