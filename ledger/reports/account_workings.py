"""The arithmetic behind an account or a stock: every movement and what it left standing."""

from collections.abc import Iterable, Iterator

from ledger.books.account import Account
from ledger.books.effect import Book
from ledger.books.rolling import Average
from ledger.books.why_balance import WhyMovement, WhyTotal
from ledger.books.working import Working
from ledger.reports.balance_table import (
    UNIT,
    average_sentence,
    heading_of,
    over_days,
)
from ledger.reports.entry_table import entry_name
from ledger.reports.figures import kg_text
from ledger.reports.tables import Column, Table
from ledger.reports.workings import numbered


def explained_total(why: WhyTotal) -> str:
    """Return how an account or a stock came to stand where it stands, as text."""
    lines = [
        over_days(_title(why), why.since, why.until),
        f"opening: {kg_text(why.opening_g)} kg",
    ]
    for movement in why.movements:
        lines += ["", *_of_movement(why, movement)]
    lines += ["", f"closing: {kg_text(why.closing_g)} kg"]
    return "\n".join(lines) + "\n"


def _title(why: WhyTotal) -> str:
    if why.tally.book is Book.STOCK:
        return f"Stock of lot {why.tally.key}, kg"
    account = Account.of(why.tally)
    if why.tally.book is Book.INPUT:
        return f"All that came in, certified or not, for account {account}, {UNIT}"
    if why.tally.book is Book.OUTPUT:
        return f"All that was sold, claimed or not, for account {account}, {UNIT}"
    return f"Account {account}, {UNIT}"


def explained_average(average: Average, workings: Iterable[Working]) -> str:
    """Return how the percentages of a window were reached, as text."""
    lines = [average_sentence(average), *numbered(workings)]
    return "\n".join(lines) + "\n"


def _of_movement(why: WhyTotal, moved: WhyMovement) -> Iterator[str]:
    movement = moved.line.movement
    yield f"{movement.day}, {_name(moved)}: {_cause(why, moved)}"
    yield from numbered(moved.workings)
    grams = movement.grams
    yield f"  moved: {'' if grams < 0 else '+'}{kg_text(grams)} kg"
    yield f"  standing: {kg_text(moved.line.standing_g)} kg"
    sign = "-" if grams < 0 else "+"
    yield f"       = {kg_text(moved.before_g)} {sign} {kg_text(abs(grams))}"


def _name(moved: WhyMovement) -> str:
    if moved.recorded is None:
        return "no entry"
    return f"entry {moved.recorded.seq} ({entry_name(moved.recorded)})"


def _cause(why: WhyTotal, moved: WhyMovement) -> str:
    """Return what a movement is called; a sale is a claim in an account."""
    cause = moved.line.movement.cause
    return heading_of(cause).lower() if why.tally.book is Book.ACCOUNT else cause


def totals_workings_table(found: Iterable[WhyTotal]) -> Table:
    """Return the arithmetic behind accounts or stocks, one line a row."""
    return Table(
        title="How it came to stand where it stands",
        columns=(
            Column("of", "Of", width=14),
            Column("on", "On", width=10),
            Column("cause", "Cause", width=10),
            Column("moved_kg", "Moved", is_figure=True, unit="kg", width=10),
            Column("standing_kg", "Standing", is_figure=True, unit="kg", width=10),
            Column("line", "Line", is_figure=True, width=5),
            Column("what", "What", width=30),
            Column("figure", "Figure", width=12),
            Column("reckoning", "Arithmetic", width=24),
            Column("rule", "Rule", width=24),
            Column("entry", "Entry", is_figure=True, width=7),
        ),
        rows=[
            (
                _title(why),
                movement.line.movement.day.isoformat(),
                _cause(why, movement),
                kg_text(movement.line.movement.grams),
                kg_text(movement.line.standing_g),
                str(number),
                working.text,
                working.figure,
                working.reckoning,
                working.rule,
                "" if working.entry is None else str(working.entry),
            )
            for why in found
            for movement in why.movements
            for number, working in enumerate(movement.workings, start=1)
        ],
    )
