"""Every amount of the scenario can be done again from what --why prints."""

from fractions import Fraction

from ledger.books.dues import all_dues
from ledger.reports.workings import explained
from sample_shipments.generator.workday import LAST
from tests.reports.again import done_again
from tests.scenario.conftest import Replayed


def test_every_amount_can_be_done_again_from_its_lines(replayed: Replayed) -> None:
    found = all_dues(replayed.shelf, LAST)

    again = [amount for dues in found for *_, amount in done_again(explained(dues))]

    owed = [line.amount_minor for dues in found for line in dues.lines]
    assert again == [Fraction(minor, 100) for minor in owed if minor is not None]
    assert len(again) > 30
