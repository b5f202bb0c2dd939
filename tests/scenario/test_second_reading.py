"""The invented two years, read a second time by plain loops over the entries' bodies."""

from ledger.trade.record import body_of
from tests.agreement import assert_agree
from tests.naive import read_all
from tests.scenario.conftest import Replayed


def test_a_plain_second_reading_agrees_to_the_gram_on_every_date(
    replayed: Replayed,
) -> None:
    naive = read_all(
        [
            {
                "seq": entry.seq,
                "kind": entry.kind,
                "occurred_on": str(entry.occurred_on),
                "body": body_of(entry.record),
            }
            for entry in replayed.entries
        ]
    )

    assert len(naive.lots()) > 200
    assert_agree(replayed.shelf, naive)
