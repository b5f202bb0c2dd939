"""Tables of mass balance: all accounts, the statement of one, and its running lines.

Titles name the unit of all figures below them, and so does the key of every column.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from itertools import groupby
from typing import TYPE_CHECKING, Final

from ledger.books.balance import Balance, RunningLine
from ledger.books.effect import Cause
from ledger.books.rounding import shown
from ledger.reports.figures import kg_text
from ledger.reports.tables import Column, Table

if TYPE_CHECKING:
    from ledger.books.rolling import Average

UNIT: Final = "kg bean equivalent"

_HEADINGS: Final[Mapping[Cause, str]] = {
    Cause.RECEIVED: "Received",
    Cause.SOLD: "Claimed",
    Cause.RETURNED: "Returned",
    Cause.WRITTEN_OFF: "Written off",
    Cause.LAPSED: "Lapsed",
    Cause.CORRECTED: "Corrected",
}
"""What moves an account, in the order of the statement; a sale is a claim here."""


_KEY_PARTS: Final = (
    "scheme",
    "commodity",
    "site",
    "production",
    "origin",
    "grade",
    "form",
)
"""What accounts are told apart by."""


def heading_of(cause: Cause) -> str:
    """Return what a movement of an account is called."""
    return _HEADINGS.get(cause, cause.capitalize())


def balance_table(
    balances: Iterable[Balance],
    *,
    since: date | None = None,
    until: date | None = None,
    averages: Iterable[Average] = (),
) -> Table:
    """Return opening, movements by cause and closing of accounts, one a row.

    Args:
        balances: The accounts.
        since: First trade date that counts.
        until: Last trade date that counts.
        averages: Windows of accounts whose terms average percentages.
    """
    found = tuple(balances)
    causes = _causes(found)
    key_parts = [Column(name, name.capitalize(), is_detail=True) for name in _KEY_PARTS]
    moved = [
        Column(
            heading_of(cause).lower().replace(" ", "_") + "_kg",
            heading_of(cause),
            is_figure=True,
            is_detail=all(not balance.by_cause.get(cause) for balance in found),
        )
        for cause in causes
    ]
    return Table(
        title=over_days(f"Mass balance, {UNIT}", since, until),
        columns=(
            Column("account", "Account"),
            *key_parts,
            _kilograms("opening_kg", "Opening"),
            *moved,
            _kilograms("closing_kg", "Closing"),
            _kilograms("lowest_kg", "Lowest"),
            Column("lowest_on", "Lowest on"),
        ),
        rows=[_row(balance, causes) for balance in found],
        notes=[
            *(breach_sentence(one) for one in found if one.is_breach),
            *(average_sentence(one) for one in averages),
        ],
    )


def summary_table(balances: Iterable[Balance]) -> Table:
    """Return what came in, what went out and what is left, one account a row."""
    return Table(
        title=f"All accounts, {UNIT}",
        columns=(
            Column("account", "Account", width=34),
            _kilograms("in_kg", "In", width=14),
            _kilograms("out_kg", "Out", width=14),
            _kilograms("closing_kg", "Closing", width=14),
            _kilograms("lowest_kg", "Lowest", width=14),
            Column("lowest_on", "Lowest on", width=12),
        ),
        rows=[
            (
                str(balance.account),
                kg_text(sum(grams for grams in balance.by_cause.values() if grams > 0)),
                kg_text(sum(grams for grams in balance.by_cause.values() if grams < 0)),
                kg_text(balance.closing_g),
                kg_text(balance.lowest_g),
                _day(balance.lowest_on),
            )
            for balance in balances
        ],
    )


def statement_table(
    balance: Balance, *, periods: Sequence[tuple[str, Balance]] = ()
) -> Table:
    """Return the reconciliation of one account: opening, each movement, closing.

    Args:
        balance: The account, over the whole time.
        periods: The same account over parts of that time, by name.
    """
    stretches = (*periods, ("Whole time", balance))
    causes = _causes(tuple(found for _, found in stretches))
    opening = ("Opening", *(kg_text(found.opening_g) for _, found in stretches))
    closing = ("Closing", *(kg_text(found.closing_g) for _, found in stretches))
    moved = [
        (
            heading_of(cause),
            *(kg_text(found.by_cause.get(cause, 0)) for _, found in stretches),
        )
        for cause in causes
    ]
    columns = [
        Column(f"{name}_kg", name, is_figure=True, width=18) for name, _ in stretches
    ]
    return Table(
        title=f"Statement of {balance.account}, {UNIT}",
        columns=(Column("line", "Line", width=15), *columns),
        rows=[opening, *moved, closing],
        notes=[_lowest(balance)],
    )


def running_table(
    balance: Balance,
    lines: Iterable[RunningLine],
    *,
    entries: Mapping[int, tuple[int, str]] | None = None,
) -> Table:
    """Return the movements of one account with what each left standing.

    Args:
        balance: The account, over the same stretch of time.
        lines: Its movements in the order in which they count.
        entries: By slot, the number of the entry that counts there and what it is. Where
            it is left out, the slot stands for the number.
    """
    known = entries or {}
    columns = (
        Column("on", "On", width=13),
        Column("entry", "Entry", is_figure=True, width=9),
        *(() if entries is None else (Column("what", "What", width=34),)),
        Column("cause", "Cause", width=14),
        _kilograms("moved_kg", "Moved", width=16),
        _kilograms("standing_kg", "Standing", width=17),
    )
    return Table(
        title=f"Account {balance.account}, {UNIT}",
        columns=columns,
        rows=[_running_row(line, known, named=entries is not None) for line in lines],
        notes=[f"It opened at {kg_text(balance.opening_g)} kg.", _lowest(balance)],
    )


def _running_row(
    line: RunningLine, known: Mapping[int, tuple[int, str]], *, named: bool
) -> tuple[str, ...]:
    movement = line.movement
    seq, what = known.get(movement.slot, (movement.slot, ""))
    return (
        movement.day.isoformat(),
        str(seq),
        *((what,) if named else ()),
        heading_of(movement.cause),
        kg_text(movement.grams),
        kg_text(line.standing_g),
    )


def monthly_table(balance: Balance, lines: Iterable[RunningLine]) -> Table:
    """Return the movements of one account by month, for an account that moves often.

    Args:
        balance: The account, over the same stretch of time.
        lines: Its movements in the order in which they count.
    """
    rows = []
    opening_g = balance.opening_g
    for month, found in groupby(lines, key=lambda line: f"{line.movement.day:%Y-%m}"):
        month_lines = list(found)
        moved = [line.movement.grams for line in month_lines]
        closing_g = month_lines[-1].standing_g
        figures = (
            opening_g,
            sum(grams for grams in moved if grams > 0),
            sum(grams for grams in moved if grams < 0),
            closing_g,
            min(line.standing_g for line in month_lines),
        )
        rows.append((month, str(len(moved)), *map(kg_text, figures)))
        opening_g = closing_g
    return Table(
        title=f"Account {balance.account} by month, {UNIT}",
        columns=(
            Column("month", "Month", width=12),
            Column("movements", "Movements", is_figure=True, width=12),
            _kilograms("opening_kg", "Opening", width=15),
            _kilograms("in_kg", "In", width=15),
            _kilograms("out_kg", "Out", width=15),
            _kilograms("closing_kg", "Closing", width=15),
            _kilograms("lowest_kg", "Lowest", width=15),
        ),
        rows=rows,
        notes=[
            "Every movement stands in the running lines, which the balance command prints."
        ],
    )


def over_days(what: str, since: date | None, until: date | None) -> str:
    """Return a title that says which days count."""
    if since is None:
        return what if until is None else f"{what} up to {until}"
    return (
        f"{what} from {since}"
        if until is None
        else f"{what} from {since} up to {until}"
    )


def average_sentence(average: Average) -> str:
    """Return in words what came in and was sold over a window, and what was claimed."""
    return (
        f"Account {average.account}, from {average.since} to {average.on}: of "
        f"{kg_text(average.input_g)} kg that came in {kg_text(average.certified_g)} kg "
        f"was certified ({shown(average.allowed * 100)} %), and of "
        f"{kg_text(average.output_g)} kg that was sold {kg_text(average.claimed_g)} kg "
        f"was claimed ({shown(average.claimed_part * 100)} %)."
    )


def breach_sentence(balance: Balance) -> str:
    """Return in words that an account stands below zero."""
    return (
        f"Breach: account {balance.account} stands {kg_text(-balance.lowest_g)} kg below "
        f"zero on {_day(balance.lowest_on)}. It stays open until a receipt, a return or "
        "a correction makes it good."
    )


def _day(on: date | None) -> str:
    return "" if on is None else on.isoformat()


def _causes(balances: tuple[Balance, ...]) -> tuple[Cause, ...]:
    """Return the usual causes, and every other one that moved something."""
    moved = {cause for balance in balances for cause in balance.by_cause}
    return (*_HEADINGS, *(c for c in Cause if c in moved and c not in _HEADINGS))


def _row(balance: Balance, causes: tuple[Cause, ...]) -> tuple[str, ...]:
    account = balance.account
    return (
        str(account),
        account.scheme,
        account.commodity,
        account.site,
        account.production,
        account.origin,
        account.grade,
        account.form,
        kg_text(balance.opening_g),
        *(kg_text(balance.by_cause.get(cause, 0)) for cause in causes),
        kg_text(balance.closing_g),
        kg_text(balance.lowest_g),
        _day(balance.lowest_on),
    )


def _lowest(balance: Balance) -> str:
    if balance.lowest_on is None:
        return "Nothing moved."
    return f"It stood lowest on {balance.lowest_on}, at {kg_text(balance.lowest_g)} kg."


def _kilograms(key: str, heading: str, *, width: int = 10) -> Column:
    return Column(key, heading, is_figure=True, width=width)
