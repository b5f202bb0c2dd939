"""ledger.books.why_claim: what was sold and what came back, with their entries."""

from ledger.books.effect import Cause
from tests.books.told import told
from tests.world import certified, claim


def test_the_mass_sold_is_that_of_the_sale_and_what_came_back_that_of_the_return() -> (
    None
):
    world = certified()
    world.receive({"L": "100"})
    sale = world.sell("X", {"L": "10"}, "2025-02-01", claim())
    back = world.take_back("R", "X", {"L": "4"}, "2025-02-03")

    assert told(world, Cause.SOLD)["lot L, mass sold"].entry == sale
    lines = told(world, Cause.RETURNED)
    assert lines["lot L, mass sold"].entry == sale
    came_back = lines["lot L, came back, claimed as fairfield until now"]
    assert (came_back.figure, came_back.entry) == ("4.00 kg", back)


def test_a_claim_is_told_in_the_account_of_the_site_it_left() -> None:
    world = certified()
    world.receive({"L": "100"}, site="annex")
    sale = world.sell("X", {"L": "10"}, "2025-02-01", claim(), site="annex")

    lines = told(world, Cause.SOLD, site="annex")

    assert lines["lot L, mass sold"].entry == sale
