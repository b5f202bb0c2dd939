"""The laws of the books, held against whatever may be recorded, in any order.

The short run is part of the suite; `--hypothesis-profile=long` asks for the long one.
"""

from collections.abc import Callable
from datetime import date
from typing import Any

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from ledger.books.balance import breaches
from ledger.books.effect import Book, Subject, SubjectKind
from ledger.books.memory import MemoryShelf
from ledger.errors import InputError, RefusedError
from tests.agreement import assert_agree, everything, lows
from tests.books import random_ledger as draws
from tests.books.random_correction import correction, rejection, withdrawal
from tests.naive import Naive
from tests.naive_trade import grams
from tests.world import World

LONG = settings.get_current_profile_name() == "long"
Draw = Callable[[st.DrawFn, World, str], draws.Drawn | None]


def _tries(ask: Draw) -> Callable[[Any, st.DataObject], None]:
    """Return a rule that tries to record something."""

    def attempt(self: "Factory", data: st.DataObject) -> None:
        self.attempt(data, ask)

    return rule(data=st.data())(attempt)


class Factory(RuleBasedStateMachine):
    """A factory in which anything is recorded; the books let in what they let in."""

    def __init__(self) -> None:
        super().__init__()
        self.world = draws.factory()
        self.naive = Naive()
        self.read = 0
        self.today = 0
        self.short: set[str] = set()

    def attempt(self, data: st.DataObject, ask: Draw) -> None:
        """Try to record something, on this day or one some days back."""
        self.today += data.draw(st.sampled_from((0, 0, 1, 1, 3, 9)))
        back = data.draw(st.sampled_from((0, 0, 0, 0, 1, 5, 40)))
        day = draws.day(self.today - back)
        drawn = data.draw(st.composite(ask)(self.world, day))
        if drawn is None:
            return
        kind, on, body = drawn
        before = self.world.shelf
        try:
            self.world.record(kind, on, **body)
        except (RefusedError, InputError):
            assert self.world.shelf is before
        else:
            self.note_breaches()

    def note_breaches(self) -> None:
        """Remember the accounts that were allowed to be left short."""
        last = self.world.raws[-1]
        for finding in self.world.warnings:
            if finding.rule == "breach-opened":
                assert last["kind"] in {
                    "certificate.suspended",
                    "certificate.withdrawn",
                    "certificate.reinstated",
                    "certificate.recorded",
                    "shipment.dispatched",
                    "lot.written_off",
                    "lot.rejected",
                } or last["body"].get("accept_breach")
                self.short |= {
                    tally.key
                    for tally in self.world.shelf.tallies(Book.ACCOUNT)
                    if all(part in finding.message for part in _named(tally.key))
                }

    @initialize(data=st.data())
    def start(self, data: st.DataObject) -> None:
        for ask in (*[draws.receipt] * 4, *[draws.batch] * 2, draws.sale):
            self.attempt(data, ask)

    receive = _tries(draws.receipt)
    receive_more = _tries(draws.receipt)
    make = _tries(draws.batch)
    make_more = _tries(draws.batch)
    sell = _tries(draws.sale)
    sell_more = _tries(draws.sale)
    sell_even_more = _tries(draws.sale)
    take_back = _tries(draws.sale_return)
    handle_a_lot = _tries(draws.lot_entry)
    release_a_hold = _tries(draws.release)
    learn_of_a_certificate = _tries(draws.certificate_event)
    find_a_bill_of_lading = _tries(draws.dispatch)
    publish_terms = _tries(draws.terms)
    close_a_period = _tries(draws.close)
    reject_a_lot = _tries(rejection)
    take_a_claim_back = _tries(withdrawal)
    correct = _tries(correction)
    correct_more = _tries(correction)

    @invariant()
    def the_second_reading_agrees(self) -> None:
        for raw in self.world.raws[self.read :]:
            self.naive.read(raw)
        if self.read < len(self.world.raws):
            self.read = len(self.world.raws)
            assert_agree(self.world.shelf, self.naive)

    @invariant()
    def no_lot_is_ever_below_zero(self) -> None:
        low = lows(self.world.shelf)
        for (book, key), of_days in low.items():
            if book == Book.STOCK:
                assert min(of_days.values()) >= 0, key

    @invariant()
    def no_account_is_below_zero_unless_a_breach_was_opened(self) -> None:
        short = {balance.account.tally.key for balance in breaches(self.world.shelf)}

        assert short <= self.short

    @invariant()
    def what_came_in_is_what_is_left_and_what_went_out(self) -> None:
        came = went = 0
        for entry in self.naive.counts.values():
            body = entry.body
            if entry.kind == "shipment.received":
                came += sum(
                    grams(lot["net_landed_kg"])
                    for lot in body["lots"]
                    if lot.get("decision", "accepted") == "accepted"
                )
            lines = body.get("lines", ()) if entry.kind.startswith("sale.") else ()
            sign = 1 if entry.kind == "sale.dispatched" else -1
            went += sign * sum(grams(line["mass_kg"]) for line in lines)
            went += sum(grams(loss["mass_kg"]) for loss in body.get("losses", ()))
            if entry.kind == "lot.written_off":
                went += grams(body["mass_kg"])

        left = sum(
            self.world.stock(t.key) for t in self.world.shelf.tallies(Book.STOCK)
        )
        assert left == came - went

    @invariant()
    def a_rebuild_gives_the_same(self) -> None:
        if not LONG and len(self.world.raws) % 4:
            return
        again = self.world.replayed()
        count = len(self.world.raws)

        assert everything(again, count) == everything(self.world.shelf, count)
        for kind in SubjectKind:
            subjects = again.subjects(kind)
            assert subjects == self.world.shelf.subjects(kind)
            for subject in subjects:
                assert self.holder(again, subject) == self.holder(
                    self.world.shelf, subject
                )

    @staticmethod
    def holder(shelf: MemoryShelf, subject: Subject) -> tuple[int, int, date]:
        found = shelf.introducer(subject)
        assert found is not None
        return found.slot, found.seq, found.occurred_on


def _named(key: str) -> list[str]:
    return [part for part in key.split("|") if part != "all"]


TestLaws = Factory.TestCase
if not LONG:
    TestLaws.settings = settings(max_examples=12, stateful_step_count=40)
