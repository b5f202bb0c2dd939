"""Why an account or a stock stands where it stands: every movement and its arithmetic."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date

from ledger.books.account import Account
from ledger.books.balance import RunningLine, lines_of
from ledger.books.closing import closed_until
from ledger.books.effect import Book, Cause, Posting, Recorded, Tally
from ledger.books.paid_weight import kg
from ledger.books.rolling import Average
from ledger.books.shelf import Shelf
from ledger.books.why_claim import Reached
from ledger.books.why_posting import reached_by
from ledger.books.working import Working
from ledger.trade.grams import show_kg

AS_SIGNED_OFF = (
    "what lies in a closed period stays as it was signed off; balance --recorded-by a "
    "moment before the change, with --why, shows the arithmetic of then"
)
"""Rule of a figure that would be another one by now."""


@dataclass(frozen=True, slots=True)
class WhyMovement:
    """A movement of a running total, and how its mass was reached.

    Attributes:
        line: The movement, and what it left standing.
        before_g: What stood before it.
        recorded: The entry that counts in its slot.
        workings: How its mass was reached, without its sign; the last line is the mass.
    """

    line: RunningLine
    before_g: int
    recorded: Recorded | None
    workings: tuple[Working, ...]


@dataclass(frozen=True, slots=True)
class WhyTotal:
    """An account or the stock of a lot over a stretch of time, movement by movement.

    Attributes:
        tally: Its running total.
        since: First trade date; None from the beginning.
        until: Last trade date; None to the end.
        opening_g: What stood before.
        movements: Every movement, in the order in which they count.
    """

    tally: Tally
    since: date | None
    until: date | None
    opening_g: int
    movements: tuple[WhyMovement, ...]

    @property
    def closing_g(self) -> int:
        """What stands after the last movement."""
        return self.movements[-1].line.standing_g if self.movements else self.opening_g


def why_balance(
    shelf: Shelf,
    account: Account,
    *,
    since: date | None = None,
    until: date | None = None,
) -> WhyTotal:
    """Return an account with the arithmetic of every movement.

    Args:
        shelf: What is recorded.
        account: The account.
        since: First trade date; from the beginning where left out.
        until: Last trade date; to the end where left out.
    """
    return why_total(shelf, account.tally, since=since, until=until)


def why_stock(shelf: Shelf, lot: str, *, until: date | None = None) -> WhyTotal:
    """Return what is on hand of a lot with what every movement rests on.

    Args:
        shelf: What is recorded.
        lot: Lot number.
        until: Last trade date; to the end where left out.
    """
    return why_total(shelf, Tally.stock(lot), until=until)


def why_window(shelf: Shelf, average: Average) -> tuple[WhyTotal, WhyTotal]:
    """Return all that came in and all that was sold over the window of an average."""
    came_in, sold = (
        why_total(
            shelf,
            Tally(book, average.account.key),
            since=average.since,
            until=average.on,
        )
        for book in (Book.INPUT, Book.OUTPUT)
    )
    return came_in, sold


def why_total(
    shelf: Shelf, tally: Tally, *, since: date | None = None, until: date | None = None
) -> WhyTotal:
    """Return a running total, an account's or a lot's, movement by movement."""
    opening_g = shelf.run(tally, since=since, until=until).opening_g
    standing_g, movements = opening_g, []
    told: dict[int, dict[int, tuple[Working, ...]]] = {}
    for line in lines_of(shelf, tally, since=since, until=until):
        slot = line.movement.slot
        if slot not in told:
            told[slot] = _by_line(shelf, tally, slot)
        workings = told[slot][line.movement.line]
        movements.append(WhyMovement(line, standing_g, shelf.at(slot), workings))
        standing_g = line.standing_g
    return WhyTotal(tally, since, until, opening_g, tuple(movements))


def _by_line(shelf: Shelf, tally: Tally, slot: int) -> dict[int, tuple[Working, ...]]:
    """Return how every posting of a slot in a running total was reached, by its place.

    Postings are matched with what the entry moves as things stand. One that is not among
    it was signed off with a closed period, or corrects what was.
    """
    recorded = shelf.at(slot)
    waiting = [
        reached
        for reached in (() if recorded is None else reached_by(shelf, recorded))
        if reached.posting.tally == tally
    ]
    now = list(waiting)
    found: dict[int, tuple[Working, ...]] = {}
    earlier: list[Posting] = []
    own = [
        (place, posting)
        for place, posting in enumerate(shelf.effects(slot).postings)
        if posting.tally == tally
    ]
    for place, posting in own:
        match = next((one for one in waiting if one.posting == posting), None)
        if match is not None:
            waiting.remove(match)
            found[place] = match.workings
        elif posting.cause is Cause.CORRECTED and place == own[-1][0]:
            found[place] = tuple(_correction(recorded, posting, now, earlier))
        else:
            found[place] = (_signed_off(shelf, recorded, posting),)
        earlier.append(posting)
    return found


def _signed_off(shelf: Shelf, recorded: Recorded | None, posting: Posting) -> Working:
    closed = closed_until(shelf)
    return Working(
        f"{posting.cause} on {posting.day}, as signed off with the books up to {closed}",
        f"{show_kg(abs(posting.grams))} kg",
        AS_SIGNED_OFF,
        None if recorded is None else recorded.seq,
    )


def _correction(
    recorded: Recorded | None,
    posting: Posting,
    now: Iterable[Reached],
    earlier: Iterable[Posting],
) -> Iterator[Working]:
    """Yield how a difference was reached: what counts now, less what was signed off."""
    entry = None if recorded is None else recorded.seq
    counts = []
    for reached in now:
        yield from reached.workings
        counts.append(_signed(reached.posting.grams))
    counts_g = sum(reached.posting.grams for reached in now)
    yield Working(
        "what the entry moves as it counts now; nothing, where it is void",
        f"{show_kg(counts_g)} kg",
        "",
        entry,
        reckoning=_sum(counts),
    )
    stayed = [_signed(one.grams) for one in earlier]
    stayed_g = sum(one.grams for one in earlier)
    yield Working(
        "what stays as signed off, and what earlier corrections added",
        f"{show_kg(stayed_g)} kg",
        AS_SIGNED_OFF,
        reckoning=_sum(stayed),
    )
    sign, left, right = (
        ("", counts_g, stayed_g) if posting.grams >= 0 else ("-", stayed_g, counts_g)
    )
    yield Working(
        "difference, which lands here" + (", taken away" if sign else ""),
        f"{show_kg(abs(posting.grams))} kg",
        "a correction of a closed period lands in the open one",
        reckoning=f"{_signed(left)} - {_signed(right)}",
    )


def _signed(grams: int) -> str:
    """Return grams as kilograms for a sum; below zero in brackets."""
    return kg(grams) if grams >= 0 else f"(0 - {kg(-grams)})"


def _sum(parts: list[str]) -> str:
    return " + ".join(parts) or "0"
