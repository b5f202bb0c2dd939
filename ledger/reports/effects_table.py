"""Tables of what one entry does to the books."""

from collections.abc import Iterable

from ledger.books.account import Account
from ledger.books.effect import Book, Effects, Posting
from ledger.reports.figures import kg_text
from ledger.reports.tables import Column, Table


def effects_tables(effects: Effects) -> tuple[Table, ...]:
    """Return what an entry moves: in lots, and in accounts; those that move nothing not."""
    stock = [one for one in effects.postings if one.tally.book is Book.STOCK]
    accounts = [one for one in effects.postings if one.tally.book is Book.ACCOUNT]
    tables = (
        Table(
            title="Moved in lots",
            columns=(Column("lot", "Lot", width=20), *_MOVED),
            rows=[(one.tally.key, *_moved(one)) for one in stock],
        ),
        Table(
            title="Moved in mass-balance accounts",
            columns=(Column("account", "Account", width=40), *_MOVED),
            rows=_by_account(accounts),
            notes=("Accounts are kept in kilograms of bean equivalent.",),
        ),
    )
    return tuple(table for table in tables if table.rows)


_MOVED = (
    Column("on", "On", width=12),
    Column("mass_kg", "Mass", is_figure=True, unit="kg", width=14),
    Column("cause", "Why", width=14),
)


def _by_account(postings: Iterable[Posting]) -> list[tuple[str, ...]]:
    return [(str(Account.of(one.tally)), *_moved(one)) for one in postings]


def _moved(posting: Posting) -> tuple[str, str, str]:
    return posting.day.isoformat(), kg_text(posting.grams), posting.cause.value
