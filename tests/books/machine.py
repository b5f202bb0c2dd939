"""A machine that tries to record anything, and holds the laws of the books after each.

Whoever uses it says which world it starts with, and what may be drawn.
"""

from collections.abc import Callable
from datetime import UTC, date, datetime
from typing import Any

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule

from ledger.books.balance import breaches
from ledger.books.effect import Book, Subject, SubjectKind
from ledger.books.memory import MemoryShelf
from ledger.errors import InputError, RefusedError
from tests.agreement import assert_agree, assert_limits_agree, everything, lows
from tests.books import random_ledger as draws
from tests.naive import Naive
from tests.naive_limits import fell_below
from tests.naive_trade import grams
from tests.world import World

LONG = settings.get_current_profile_name() == "long"
Draw = Callable[[st.DrawFn, World, str], draws.Drawn | None]


def tries(ask: Draw) -> Callable[[Any, st.DataObject], None]:
    """Return a rule that tries to record something."""

    def attempt(self: "Machine", data: st.DataObject) -> None:
        self.attempt(data, ask)

    return rule(data=st.data())(attempt)


class Machine(RuleBasedStateMachine):
    """A factory in which anything is recorded; the books let in what they let in.

    Attributes:
        world: The books, and the entries that filled them.
        naive: The second reading of the entries.
        pace: Days that go by between one entry and the next, to draw from.
        is_prompt: Whether what happens is recorded within the day, and not years later.
    """

    pace = (0, 0, 1, 1, 3, 9)
    is_prompt = False

    def __init__(self) -> None:
        super().__init__()
        self.world = World()
        self.naive = Naive()
        self.read = self.compared = 0
        self.today = 0
        self.short: set[str] = set()

    def attempt(self, data: st.DataObject, ask: Draw) -> None:
        """Try to record something, on this day or one some days back."""
        self.today += data.draw(st.sampled_from(self.pace))
        back = data.draw(st.sampled_from((0, 0, 0, 0, 1, 5, 40)))
        day = draws.day(self.today - back)
        drawn = data.draw(st.composite(ask)(self.world, day))
        if drawn is None:
            return
        kind, on, body = drawn
        if self.is_prompt:
            noon = datetime.fromisoformat(f"{draws.day(self.today)}T12:00:00")
            self.world.recorded_at = noon.replace(tzinfo=UTC)
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

    def reading(self) -> Naive:
        """Return the second reading, of all that is recorded."""
        for raw in self.world.raws[self.read :]:
            self.naive.read(raw)
        self.read = len(self.world.raws)
        return self.naive

    @invariant()
    def the_second_reading_agrees(self) -> None:
        naive, before = self.reading(), self.compared
        self.compared = self.read
        if before < self.compared:
            assert_agree(self.world.shelf, naive)
            assert_limits_agree(self.world.shelf, naive)

    @invariant()
    def no_lot_is_ever_below_zero(self) -> None:
        low = lows(self.world.shelf)
        for (book, key), of_days in low.items():
            if book == Book.STOCK:
                assert min(of_days.values()) >= 0, key

    @invariant()
    def no_account_is_below_zero_unless_a_breach_was_opened(self) -> None:
        """An account that was never settled is short by the passing of time alone."""
        fell = {
            key
            for key in (
                balance.account.tally.key for balance in breaches(self.world.shelf)
            )
            if fell_below(self.reading(), ("account", key))
        }

        assert fell <= self.short

    @invariant()
    def what_came_in_is_what_is_left_and_what_went_out(self) -> None:
        came = went = 0
        for entry in self.reading().counts.values():
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
