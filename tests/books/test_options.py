"""The laws of the books, and a second reading of them, under every option of terms.

Half of the worlds stand under the three invented terms files of the docs, the others
under terms whose options are drawn: transfers, percentages that are averaged, butter and
powder of one liquor, measured yields, floors below zero, grades, blends.
"""

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import initialize

from tests.books import random_ledger as draws
from tests.books import random_terms as options
from tests.books.machine import LONG, Machine, tries
from tests.books.random_correction import correction, rejection, withdrawal
from tests.world import World


class Options(Machine):
    """A factory under terms that use any option, which records what happens promptly."""

    pace = (0, 0, 1, 3, 9, 25)
    is_prompt = True

    @initialize(world=options.worlds(), data=st.data())
    def start(self, world: World, data: st.DataObject) -> None:
        self.world = world
        first = (
            (options.receipt,) * 4 + (options.step,) * 4 + (options.claimed_sale,) * 2
        )
        for ask in first:
            self.attempt(data, ask)

    receive = tries(options.receipt)
    receive_more = tries(options.receipt)
    receive_sugar = tries(options.sugar)
    make_the_next_form = tries(options.step)
    make_more = tries(options.step)
    make_anything = tries(draws.batch)
    sell_anything = tries(draws.sale)
    claim = tries(options.claimed_sale)
    claim_more = tries(options.claimed_sale)
    claim_even_more = tries(options.claimed_sale)
    take_back = tries(draws.sale_return)
    move_a_claim = tries(options.transfer)
    move_it_on = tries(options.transfer)
    handle_a_lot = tries(draws.lot_entry)
    learn_of_a_certificate = tries(draws.certificate_event)
    publish_terms = tries(draws.terms)
    close_a_period = tries(draws.close)
    reject_a_lot = tries(rejection)
    take_a_claim_back = tries(withdrawal)
    correct = tries(correction)
    correct_more = tries(correction)


TestOptions = Options.TestCase
if not LONG:
    TestOptions.settings = settings(max_examples=15, stateful_step_count=30)
