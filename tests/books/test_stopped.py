"""ledger.books.stopped: which received lots no longer count, and why."""

from ledger.books.stopped import stopped_lots
from tests.world import MAKER, claim, opened


def test_a_lot_traded_on_the_only_day_of_a_certificate_stops_with_it() -> None:
    """The first and the last day of a certificate are days on which it is valid."""
    world = opened()
    world.terms()
    world.certify(MAKER)
    day = "2025-01-10"
    world.certify("alder", certificate="short", valid_from=day, valid_until=day)
    world.sign("C", "alder", claim())
    world.receive({"L": "100"}, day)
    seq = world.stop("short", "2025-03-01", from_on="2025-01-01")

    [stopped] = stopped_lots(world.shelf)

    assert (stopped.lot.lot, stopped.because.seq) == ("L", seq)
