"""Tables of mass balance: all accounts, the statement of one, and its running lines."""

from collections.abc import Iterable, Mapping
from datetime import date
from typing import Final

from ledger.books.balance import Balance, RunningLine
from ledger.books.effect import Cause
from ledger.reports.figures import kg_text
from ledger.reports.tables import Column, Table

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


def heading_of(cause: Cause) -> str:
    """Return what a movement of an account is called."""
    return _HEADINGS.get(cause, cause.capitalize())


def balance_table(
    balances: Iterable[Balance],
    *,
    since: date | None = None,
    until: date | None = None,
) -> Table:
    """Return opening, movements by cause and closing of accounts, one a row."""
    found = tuple(balances)
    causes = _causes(found)
    key_parts = [
        Column(name, name.capitalize())
        for name in ("scheme", "commodity", "site", "production", "origin")
    ]
    moved = [_kilograms(_key(cause), heading_of(cause)) for cause in causes]
    return Table(
        title=f"Mass balance, {UNIT}{period(since, until)}",
        columns=(
            *key_parts,
            _kilograms("opening_kg", "Opening"),
            *moved,
            _kilograms("closing_kg", "Closing"),
            _kilograms("lowest_kg", "Lowest"),
            Column("lowest_on", "Lowest on"),
        ),
        rows=[_row(balance, causes) for balance in found],
        notes=[_short(balance) for balance in found if balance.lowest_g < 0],
    )


def statement_table(balance: Balance) -> Table:
    """Return the reconciliation of one account: opening, each movement, closing."""
    movements = [
        (heading_of(cause), balance.by_cause.get(cause, 0))
        for cause in _causes((balance,))
    ]
    lines = [
        ("Opening", balance.opening_g),
        *movements,
        ("Closing", balance.closing_g),
    ]
    return Table(
        title=f"Statement of {balance.account}",
        columns=(
            Column("line", "Line", width=30),
            Column("mass_kg", "Mass", is_figure=True, unit=UNIT, width=20),
        ),
        rows=[(heading, kg_text(grams)) for heading, grams in lines],
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


def period(since: date | None, until: date | None) -> str:
    """Return the part of a title that says which days count."""
    first = "" if since is None else f" from {since}"
    last = "" if until is None else f" up to {until}"
    return f"{first}{last}"


def _causes(balances: tuple[Balance, ...]) -> tuple[Cause, ...]:
    """Return the usual causes, and every other one that moved something."""
    moved = {cause for balance in balances for cause in balance.by_cause}
    return (*_HEADINGS, *(c for c in Cause if c in moved and c not in _HEADINGS))


def _row(balance: Balance, causes: tuple[Cause, ...]) -> tuple[str, ...]:
    account = balance.account
    return (
        account.scheme,
        account.commodity,
        account.site,
        account.production,
        account.origin,
        kg_text(balance.opening_g),
        *(kg_text(balance.by_cause.get(cause, 0)) for cause in causes),
        kg_text(balance.closing_g),
        kg_text(balance.lowest_g),
        "" if balance.lowest_on is None else balance.lowest_on.isoformat(),
    )


def _lowest(balance: Balance) -> str:
    if balance.lowest_on is None:
        return "Nothing moved."
    return f"It stood lowest on {balance.lowest_on}, at {kg_text(balance.lowest_g)} kg."


def _short(balance: Balance) -> str:
    return (
        f"Breach: account {balance.account} stands {kg_text(-balance.lowest_g)} kg below "
        f"zero on {balance.lowest_on}. It stays open until a receipt, a return or a "
        "correction makes it good."
    )


def _key(cause: Cause) -> str:
    return heading_of(cause).lower().replace(" ", "_") + "_kg"


def _kilograms(key: str, heading: str, *, width: int = 10) -> Column:
    return Column(key, heading, is_figure=True, unit="kg", width=width)
