"""Dues of the scenario, computed a second time from the bodies of its entries."""

from ledger.books.dues import all_dues
from ledger.trade.record import body_of
from sample_shipments.generator.workday import LAST
from tests.books.naive_dues import naive_dues
from tests.books.test_dues_twice import sums_of
from tests.scenario.conftest import Replayed


def test_both_readings_agree_to_the_cent_on_every_contract(replayed: Replayed) -> None:
    bodies = [
        (entry.kind, str(entry.occurred_on), body_of(entry.record))
        for entry in replayed.entries
    ]

    found = {dues.contract: sums_of(dues) for dues in all_dues(replayed.shelf, LAST)}

    again = {name: naive_dues(bodies, str(LAST), name) for name in found}
    assert again == found
    assert len(found) == 12
