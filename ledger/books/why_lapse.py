"""Why some of an account lapsed when a period was closed, line by line."""

from collections.abc import Iterable, Iterator

from ledger.books.ageing import RecentMove, related_to
from ledger.books.effect import Book, Cause, Recorded, Tally
from ledger.books.lapsing import (
    Lapse,
    closed_periods,
    lapses_by_end,
    window_start,
)
from ledger.books.lookup import expect
from ledger.books.paid_weight import kg
from ledger.books.shelf import Shelf
from ledger.books.why_claim import Reached
from ledger.books.why_factor import terms_entry, terms_rule
from ledger.books.working import CREDITED, Working
from ledger.trade.control import PeriodClosed
from ledger.trade.grams import show_kg


def lapses_reached(shelf: Shelf, recorded: Recorded) -> Iterator[Reached]:
    """Yield what lapsed with a period that was closed, and what no longer did since.

    The arithmetic is that of all that counts now. What was signed off otherwise, because
    something was not known yet, is told by the difference that landed last.
    """
    close = expect(recorded.record, PeriodClosed)
    postings = [
        posting
        for posting in shelf.effects(recorded.slot).postings
        if posting.tally.book is Book.ACCOUNT and posting.cause is Cause.LAPSED
    ]
    for tally in sorted({posting.tally for posting in postings}):
        lapses = _lapses(shelf, tally, recorded.slot)
        mine = [posting for posting in postings if posting.tally == tally]
        for posting in mine:
            if posting.day <= close.end:
                found = [lapse for lapse in lapses if lapse.posting == posting]
                yield from (
                    Reached(posting, tuple(_workings(shelf, lapse))) for lapse in found
                )
            elif posting is mine[-1]:
                before_g = -sum(one.grams for one in mine[:-1])
                yield Reached(posting, tuple(_anew(shelf, lapses, before_g)))


def _lapses(shelf: Shelf, tally: Tally, slot: int) -> list[Lapse]:
    found = lapses_by_end(shelf, related_to(shelf, tally), closed_periods(shelf))
    return [lapse for lapse in found if (lapse.tally, lapse.slot) == (tally, slot)]


def _anew(shelf: Shelf, lapses: Iterable[Lapse], before_g: int) -> Iterator[Working]:
    now_g = 0
    for lapse in lapses:
        *lines, last = _workings(shelf, lapse)
        yield from lines
        yield Working(
            f"lapsed on {lapse.end}, as everything counts now",
            last.figure,
            reckoning=last.reckoning,
        )
        now_g += lapse.grams
    yield Working("had lapsed before", f"{kg(before_g)} kg")
    yield Working(
        "more that lapsed" if now_g > before_g else "less that lapsed",
        f"{show_kg(abs(now_g - before_g))} kg",
        reckoning=f"{kg(max(now_g, before_g))} - {kg(min(now_g, before_g))}",
    )


def _workings(shelf: Shelf, lapse: Lapse) -> Iterator[Working]:
    end, terms = lapse.end, lapse.terms
    yield Working(
        f"standing on {end}, before anything lapses", f"{kg(lapse.standing_g)} kg"
    )
    for move in lapse.recent:
        yield from _move(shelf, move)
    yield Working(
        f"received from {window_start(terms, end)} to {end}, which still counts",
        f"{kg(lapse.recent_g)} kg",
        terms_rule(
            terms,
            f"a receipt counts for {terms.carry_over_periods} periods of "
            f"{terms.reconciliation_months} months after its own; the oldest is used first",
        ),
        terms_entry(shelf, terms),
        reckoning=" + ".join(kg(move.recent_g) for move in lapse.recent) or "0",
    )
    yield Working(
        "lapsed",
        f"{show_kg(lapse.grams)} kg",
        reckoning=f"highest of ({kg(lapse.standing_g)} - {kg(lapse.recent_g)}, 0)",
    )


def _move(shelf: Shelf, move: RecentMove) -> Iterator[Working]:
    movement = move.movement
    found = shelf.at(movement.slot)
    entry = None if found is None else found.seq
    figure = f"{kg(move.recent_g)} kg"
    if move.on_the_way is None:
        text = f"{movement.cause} on {movement.day}"
        if move.recent_g != movement.grams:
            text += ", the part of it that was received in this time"
        yield Working(text, figure, "", entry)
        return
    recent_g, whole_g = move.on_the_way
    yield Working(
        f"{movement.cause} on {movement.day}: moved in all",
        f"{kg(movement.grams)} kg",
        "",
        entry,
    )
    yield Working(
        f"{movement.cause} on {movement.day}: the part of it that was received in this "
        "time where it came from",
        figure,
        CREDITED,
        entry,
        reckoning=f"{kg(movement.grams)} * {kg(recent_g)} / {kg(whole_g)}",
    )
