"""The figures that a pack claims, and the same figures added up again from its entries."""

import csv
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from io import StringIO
from itertools import chain
from typing import Final, TypeAlias

from ledger.audit.layout import FIGURES, TreeHead
from ledger.audit.verdict import Problem, Where
from ledger.books.balance import Balance, balances
from ledger.books.due_line import DueLine
from ledger.books.dues import ContractDues, dues_of
from ledger.books.effect import Cause, SubjectKind
from ledger.books.portion import Portion
from ledger.books.sampling import Drawn, draw_sales
from ledger.books.shelf import Shelf
from ledger.books.stock import stream_stock
from ledger.trade.grams import show_kg
from ledger.trade.money import minor_digits

SAMPLED_SALES: Final = 3
"""How many sales are drawn for a walk back to their purchases."""

Row: TypeAlias = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Asked:
    """What figures are asked of.

    Attributes:
        shelf: What is recorded.
        head: What stands for the entries.
        as_of: Trade date up to which they are added up.
        portion: The part of the ledger that is shown; None for the whole of it.
    """

    shelf: Shelf
    head: TreeHead
    as_of: date
    portion: Portion | None = None

    def shows(self, balance: Balance) -> bool:
        """Tell whether everything that moved an account is shown."""
        return self.portion is None or self.portion.keeps(balance.account.tally)


@dataclass(frozen=True, slots=True)
class Figure:
    """One table of figures.

    Attributes:
        file: Name of its file, without the folder.
        title: What it shows, as a part of the check.
        columns: Its columns.
        key: How many of them, from the left, say what a row is about.
        rows: Adds it up.
    """

    file: str
    title: str
    columns: tuple[str, ...]
    key: int
    rows: Callable[[Asked], Iterable[Row]]


def figure_text(figure: Figure, rows: Iterable[Row]) -> bytes:
    """Return a table of figures as CSV (RFC 4180) in UTF-8."""
    return b"".join(figure_lines(figure, rows))


def figure_lines(figure: Figure, rows: Iterable[Row]) -> Iterator[bytes]:
    """Yield the lines of a table of figures, the one that names the columns first."""
    for row in chain([figure.columns], rows):
        written = StringIO()
        csv.writer(written, lineterminator="\r\n").writerow(row)
        yield written.getvalue().encode()


def compare(
    figure: Figure, claimed: bytes, computed: Sequence[Row]
) -> Iterator[Problem]:
    """Yield every row and cell in which claimed and computed figures differ."""
    file = FIGURES + figure.file
    try:
        lines = list(csv.reader(StringIO(claimed.decode(), newline=""), strict=True))
    except (ValueError, csv.Error) as error:
        yield Problem(Where(file), f"the file cannot be read as CSV in UTF-8 ({error})")
        return
    if not lines or tuple(lines[0]) != figure.columns:
        wanted = ",".join(figure.columns)
        yield Problem(Where(file, 1), f"the first line must name the columns {wanted}")
        return
    wrong = list(_compare_rows(figure, lines[1:], computed))
    yield from wrong
    if not wrong and claimed != figure_text(figure, computed):
        yield Problem(
            Where(file),
            "the figures are right, but the file is not written as packs are: rows in "
            "another order, or other quotes or line ends",
        )


def _compare_rows(
    figure: Figure, claimed: Iterable[Sequence[str]], computed: Sequence[Row]
) -> Iterator[Problem]:
    file = FIGURES + figure.file
    wanted = dict(_numbered(figure, computed))
    for line, (key, cells) in enumerate(_numbered(figure, claimed), start=2):
        right = wanted.pop(key, None)
        if len(cells) != len(figure.columns):
            yield Problem(
                Where(file, line),
                f"the row has {len(cells)} cells where {len(figure.columns)} belong",
            )
        elif right is None:
            yield Problem(
                Where(file, line),
                f"the row of {_named(key)} is claimed, but the entries give no such row",
            )
        else:
            yield from _compare_cells(figure, Where(file, line), cells, right)
    for key in wanted:
        yield Problem(
            Where(file),
            f"the row of {_named(key)} is missing, but the entries give it",
        )


def _compare_cells(
    figure: Figure, where: Where, cells: Sequence[str], right: Sequence[str]
) -> Iterator[Problem]:
    for column, cell, must in zip(figure.columns, cells, right, strict=True):
        if cell != must:
            yield Problem(
                where,
                f"{column} of {_named(tuple(cells[: figure.key]))} is {cell[:80]!r} in the "
                f"pack, but the entries give {must!r}",
            )


def _numbered(
    figure: Figure, rows: Iterable[Sequence[str]]
) -> Iterator[tuple[Row, Sequence[str]]]:
    """Yield rows by key; a key that comes again is told from the first by a number."""
    seen: Counter[Row] = Counter()
    for cells in rows:
        key = tuple(cells[: figure.key])
        seen[key] += 1
        yield (key if seen[key] == 1 else (*key, f"again {seen[key]}")), cells


def _named(key: Row) -> str:
    return ", ".join(part[:80] for part in key if part) or "nothing"


_CAUSES: Final = (
    Cause.RECEIVED,
    Cause.SOLD,
    Cause.RETURNED,
    Cause.WRITTEN_OFF,
    Cause.CONVERTED,
    Cause.TRANSFERRED,
    Cause.LAPSED,
    Cause.CORRECTED,
)


def _balance_rows(asked: Asked) -> Iterator[Row]:
    for balance in balances(asked.shelf, until=asked.as_of):
        if asked.shows(balance):
            yield _balance_row(balance)


def _balance_row(balance: Balance) -> Row:
    account = balance.account
    return (
        account.scheme,
        account.commodity,
        account.site,
        account.production,
        account.origin,
        account.grade,
        account.form,
        *(show_kg(balance.by_cause.get(cause, 0)) for cause in _CAUSES),
        show_kg(balance.closing_g),
        show_kg(balance.lowest_g),
        "" if balance.lowest_on is None else balance.lowest_on.isoformat(),
    )


def _stock_rows(asked: Asked) -> Iterator[Row]:
    # Goods also leave to where a part does not look.
    for held in () if asked.portion else stream_stock(asked.shelf, asked.as_of):
        yield held.lot, held.form or "", held.site or "", show_kg(held.grams)


def _due_rows(asked: Asked) -> Iterator[Row]:
    for contract in dues_shown(asked):
        for line in contract.lines:
            yield _due_row(line, contract.cooperative, asked.as_of)


def _due_row(line: DueLine, cooperative: str, as_of: date) -> Row:
    return (
        line.contract,
        line.shipment,
        line.duty,
        line.scheme or "",
        line.payee,
        line.standing,
        cooperative,
        str(line.entry),
        "" if line.due_on is None else line.due_on.isoformat(),
        line.currency or "",
        _sum(line.amount_minor, line.currency),
        _sum(line.set_off_minor, line.currency),
        _sum(line.outstanding_minor, line.currency),
        str(line.late_days(as_of)),
    )


def _sum(minor: int | None, currency: str | None) -> str:
    if minor is None or currency is None:
        return ""
    return f"{Decimal(minor).scaleb(-minor_digits(currency)):f}"


def _drawn_rows(asked: Asked) -> Iterator[Row]:
    for sale in sales_drawn(asked):
        yield sale.sale, str(sale.seq), sale.ticket


def dues_shown(asked: Asked) -> Iterator[ContractDues]:
    """Yield the dues of every contract of which everything is shown, by number."""
    for subject in asked.shelf.subjects(SubjectKind.CONTRACT):
        signed = asked.shelf.introducer(subject)
        if (
            signed is not None
            and signed.occurred_on <= asked.as_of
            and (
                asked.portion is None
                or asked.portion.has_contract(asked.shelf, subject.name)
            )
        ):
            yield dues_of(asked.shelf, subject.name, asked.as_of)


def sales_drawn(asked: Asked) -> tuple[Drawn, ...]:
    """Return the sales that are drawn to be walked back, the first drawn first."""
    wanted = None if asked.portion is None else asked.portion.has_sale
    return draw_sales(
        asked.shelf, asked.head.root, SAMPLED_SALES, as_of=asked.as_of, wanted=wanted
    )


BALANCES: Final = Figure(
    file="balances.csv",
    title="balances",
    columns=(
        "scheme",
        "commodity",
        "site",
        "production",
        "origin",
        "grade",
        "form",
        "received_kg",
        "sold_kg",
        "returned_kg",
        "written_off_kg",
        "converted_kg",
        "transferred_kg",
        "lapsed_kg",
        "corrected_kg",
        "closing_kg",
        "lowest_kg",
        "lowest_on",
    ),
    key=7,
    rows=_balance_rows,
)
STOCK: Final = Figure(
    file="stock.csv",
    title="stock",
    columns=("lot", "form", "site", "on_hand_kg"),
    key=1,
    rows=_stock_rows,
)
DUES: Final = Figure(
    file="dues.csv",
    title="dues",
    columns=(
        "contract",
        "shipment",
        "duty",
        "scheme",
        "payee",
        "standing",
        "cooperative",
        "entry",
        "due_on",
        "currency",
        "due",
        "paid",
        "outstanding",
        "late_days",
    ),
    key=6,
    rows=_due_rows,
)
SAMPLE: Final = Figure(
    file="sampled-sales.csv",
    title="sampled sales",
    columns=("sale", "entry", "ticket"),
    key=1,
    rows=_drawn_rows,
)

COMPUTED: Final = (BALANCES, STOCK, DUES, SAMPLE)
"""Every table of figures in a pack."""

COMPUTED_FILES: Final = tuple(figure.file for figure in COMPUTED)
"""Their files, without the folder."""
