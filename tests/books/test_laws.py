"""The laws of the books, held against whatever may be recorded, in any order.

The short run is part of the suite; `--hypothesis-profile=long` asks for the long one.
"""

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import initialize

from tests.books import random_ledger as draws
from tests.books.machine import LONG, Machine, tries
from tests.books.random_correction import correction, rejection, withdrawal


class Factory(Machine):
    """A factory under two schemes that differ in every rule of accounts and dates."""

    def __init__(self) -> None:
        super().__init__()
        self.world = draws.factory()

    @initialize(data=st.data())
    def start(self, data: st.DataObject) -> None:
        for ask in (*[draws.receipt] * 4, *[draws.batch] * 2, draws.sale):
            self.attempt(data, ask)

    receive = tries(draws.receipt)
    receive_more = tries(draws.receipt)
    make = tries(draws.batch)
    make_more = tries(draws.batch)
    sell = tries(draws.sale)
    sell_more = tries(draws.sale)
    sell_even_more = tries(draws.sale)
    take_back = tries(draws.sale_return)
    handle_a_lot = tries(draws.lot_entry)
    release_a_hold = tries(draws.release)
    learn_of_a_certificate = tries(draws.certificate_event)
    find_a_bill_of_lading = tries(draws.dispatch)
    publish_terms = tries(draws.terms)
    close_a_period = tries(draws.close)
    reject_a_lot = tries(rejection)
    take_a_claim_back = tries(withdrawal)
    correct = tries(correction)
    correct_more = tries(correction)


TestLaws = Factory.TestCase
if not LONG:
    TestLaws.settings = settings(max_examples=12, stateful_step_count=40)
