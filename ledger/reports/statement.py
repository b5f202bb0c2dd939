"""The statement to a cooperative: as text for a terminal, and as PDF."""

from dataclasses import dataclass
from datetime import date, datetime

from ledger.books.owing import cooperative_totals
from ledger.books.rounding import STATEMENT
from ledger.books.statement import DOCUMENT, Statement
from ledger.reports.dues_table import DEFERS, cooperatives_table, payments_table
from ledger.reports.page import render_html, render_pdf
from ledger.reports.phrases import told
from ledger.reports.price_rule import price_rule
from ledger.reports.statement_table import (
    amounts_table,
    delivered_table,
    entries_texts,
)
from ledger.reports.tables import Table
from ledger.reports.tongue import PLAIN, Tongue, tongue_of


def settles(tongue: Tongue = PLAIN) -> str:
    """Return what to do with the entries that settle a shortfall."""
    phrase = tongue.says(
        "Each entry below is ready to be recorded once the money has arrived: put the day "
        "of its arrival and, for {1}, the reference of the bank."
    )
    return told(phrase, repr(DOCUMENT))


@dataclass(frozen=True, slots=True)
class StatementCover:
    """What a statement says about itself.

    Attributes:
        maker: The maker's name.
        seller: The cooperative's name.
        as_of: Last trade date that counts.
        made_at: The moment, in UTC.
        made_by: Who made it.
    """

    maker: str
    seller: str
    as_of: date
    made_at: datetime
    made_by: str


@dataclass(frozen=True, slots=True)
class _ContractPages:
    statement: Statement
    rule: tuple[str, ...]
    delivered: Table
    amounts: Table
    payments: Table
    entries: tuple[tuple[str, str], ...]


def statement_html(
    cover: StatementCover, found: tuple[Statement, ...], tongue: Tongue | None = None
) -> str:
    """Return a statement as the page that is printed, in English if nothing is said."""
    tongue = tongue or tongue_of("en-GB")
    return render_html(
        "statement.html",
        cover=cover,
        totals=cooperatives_table(cooperative_totals(one.dues for one in found)),
        contracts=[_pages(statement, tongue) for statement in found],
        defers=DEFERS,
        settles=settles(tongue),
        rounding=STATEMENT,
        tongue=tongue,
        _=tongue.says,
        told=told,
    )


def render_statement(
    cover: StatementCover, found: tuple[Statement, ...], tongue: Tongue | None = None
) -> bytes:
    """Return a statement as tagged PDF/A-3a, the same bytes every time."""
    return render_pdf(statement_html(cover, found, tongue), style="statement.css")


def _pages(statement: Statement, tongue: Tongue) -> _ContractPages:
    return _ContractPages(
        statement=statement,
        rule=price_rule(statement, tongue),
        delivered=delivered_table(statement),
        amounts=amounts_table(statement.dues),
        payments=payments_table(statement.dues),
        entries=tuple(entries_texts(statement, tongue)),
    )
