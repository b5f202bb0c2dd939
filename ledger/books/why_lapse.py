"""Why some of an account lapsed when a period was closed, line by line."""

from collections.abc import Iterator

from ledger.books.account import Account
from ledger.books.ageing import RecentMove, recent_moves
from ledger.books.closing import window_start
from ledger.books.effect import Book, Cause, Posting, Recorded
from ledger.books.lookup import governing_terms
from ledger.books.paid_weight import kg
from ledger.books.shelf import Shelf
from ledger.books.why_claim import Reached
from ledger.books.why_factor import terms_entry, terms_rule
from ledger.books.working import CREDITED, Working
from ledger.trade.grams import show_kg
from ledger.trade.terms import TermsPublished


def lapses_reached(shelf: Shelf, recorded: Recorded) -> Iterator[Reached]:
    """Yield what lapsed with a period that was closed, as it was signed off.

    Nothing up to the end of a closed period moves any more, so its arithmetic can be done
    again from what stands there.
    """
    for posting in shelf.effects(recorded.slot).postings:
        if posting.tally.book is not Book.ACCOUNT or posting.cause is not Cause.LAPSED:
            continue
        scheme = Account.of(posting.tally).scheme
        terms = governing_terms(shelf, scheme, posting.day)
        if terms is None:
            continue
        workings = tuple(_workings(shelf, posting, terms))
        if workings[-1].figure == f"{show_kg(-posting.grams)} kg":
            yield Reached(posting, workings)


def _workings(
    shelf: Shelf, posting: Posting, terms: TermsPublished
) -> Iterator[Working]:
    end, since = posting.day, window_start(terms, posting.day)
    standing_g = shelf.run(posting.tally, until=end).closing_g - posting.grams
    yield Working(f"standing on {end}, before anything lapses", f"{kg(standing_g)} kg")
    moves = recent_moves(shelf, posting.tally, since, end)
    for move in moves:
        yield from _move(shelf, move)
    recent_g = sum(move.recent_g for move in moves)
    yield Working(
        f"received from {since} to {end}, which still counts",
        f"{kg(recent_g)} kg",
        terms_rule(
            terms,
            f"a receipt counts for {terms.carry_over_periods} periods of "
            f"{terms.reconciliation_months} months after its own; the oldest is used first",
        ),
        terms_entry(shelf, terms),
        reckoning=" + ".join(kg(move.recent_g) for move in moves) or "0",
    )
    yield Working(
        "lapsed",
        f"{show_kg(max(0, standing_g - recent_g))} kg",
        reckoning=f"highest of ({kg(standing_g)} - {kg(recent_g)}, 0)",
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
