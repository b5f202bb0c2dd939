"""The columns of each sort of CSV file, and where in an entry their cells go.

A column's path is dotted as in the body of the entry. In it, `*` stands for the row's
own item of a list, `+` for as many items as the cell joins by "+", and a step that
begins with `#` for an item of a list.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Final

Placed = tuple[str, str]
"""A path into the body, and the text that belongs there."""


def _joined(path: str, text: str) -> Iterator[Placed]:
    """A cell that holds several values joined by "+", one for each item of a list."""
    for place, part in enumerate(text.split("+")):
        yield path.replace("+", f"#{place}"), part.strip()


def _tastings(path: str, text: str) -> Iterator[Placed]:
    """A cell such as "4.0: acid; 8.5: round": hours from the start, and what was found."""
    for place, part in enumerate(text.split(";")):
        hours, _, note = part.partition(":")
        yield f"{path}.#{place}.after_hours", hours.strip()
        yield f"{path}.#{place}.note", note.strip()


def _reading(path: str, text: str) -> Iterator[Placed]:
    """A cell with a temperature; the last step of the path is where it was read."""
    yield f"{path}.point", path.rpartition("#")[2]
    yield f"{path}.value", text


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a sheet.

    Attributes:
        name: What stands in the header.
        path: Where its cells go in the body of an entry.
        spread: Turns the path and a cell's text into the values that the cell holds,
            where it may hold more than one.
    """

    name: str
    path: str
    spread: Callable[[str, str], Iterator[Placed]] | None = None


@dataclass(frozen=True, slots=True)
class Sheet:
    """One sort of CSV file.

    Attributes:
        kind: Kind of the entries it holds.
        columns: Its columns, apart from those named below.
        group: The columns whose values make rows one entry; none where each row is one.
        parted: Columns that part entries further; a row may leave them blank.
        part: The column that says which list a row belongs to; empty where all rows
            belong to the same.
        lists: Those lists, by what stands in `part`.
        day: Where the column `on` goes in the body; empty where it is the entry's day
            only. An entry with a day in each row happened on the last of them.
    """

    kind: str
    columns: tuple[Column, ...]
    group: tuple[str, ...] = ()
    parted: tuple[str, ...] = ()
    part: str = ""
    lists: Mapping[str, str] = field(default_factory=dict)
    day: str = ""

    @property
    def in_every_row(self) -> tuple[str, ...]:
        """The columns in which no row may be blank."""
        return (*self.group, *filter(None, [self.part]))


def _fields(*names: str) -> tuple[Column, ...]:
    """Columns that are fields of the entry itself, under the same name."""
    return tuple(Column(name, name) for name in names)


def _in_rows(rows: str, *names: str) -> tuple[Column, ...]:
    """Columns that are fields of a row's own item, under the same name."""
    return tuple(Column(name, f"{rows}.*.{name}") for name in names)


_MASS: Final = ("mass", "mass_kg")
_POINTS: Final = ("entry", "exit", "drop", "peak")

SHEETS: Final[Mapping[str, Sheet]] = {
    "sales": Sheet(
        "sale.dispatched",
        (
            *_fields("sale", "document", "customer", "site"),
            *_in_rows("lines", "lot", *_MASS, "pieces", "gtin"),
            Column("scheme", "lines.*.claims.+.scheme", _joined),
            Column("custody", "lines.*.claims.+.custody", _joined),
            Column("proportion", "lines.*.claims.+.proportion", _joined),
            Column("label", "lines.*.claims.+.label", _joined),
            Column("sscc", "sscc.+", _joined),
            Column("value", "value.amount"),
            Column("currency", "value.currency"),
        ),
        group=("sale",),
    ),
    "returns": Sheet(
        "sale.returned",
        (
            *_fields("return", "sale", "document", "reason"),
            *_in_rows("lines", "lot", *_MASS, "pieces"),
        ),
        group=("return",),
    ),
    "batches": Sheet(
        "batch.made",
        (
            *_fields("batch", "step", "equipment", "site"),
            *_in_rows("part", "lot", "form", "recipe", *_MASS, "reason"),
            *_in_rows("part", "pieces", "place", "best_before"),
            *(
                Column(name, f"record.{name}")
                for name in (
                    *("hours", "carried", "carried_kg", "cooling_minutes"),
                    *("racking_minutes", "pieces_per_minute", "operator", "note"),
                )
            ),
            *(
                Column(
                    f"{point}_temperature", f"record.temperatures.#{point}", _reading
                )
                for point in _POINTS
            ),
            Column("tastings", "record.tastings", _tastings),
        ),
        group=("batch",),
        part="part",
        lists={"input": "inputs", "output": "outputs", "loss": "losses"},
    ),
    "quotes": Sheet(
        "quote.recorded",
        (*_fields("market", "month", "unit", "source"), *_in_rows("quotes", "level")),
        group=("market",),
        parted=("month",),
        day="quotes.*.on",
    ),
    "rates": Sheet(
        "rate.recorded",
        (
            *_fields("base", "to", "forward_months", "source"),
            *_in_rows("rates", "rate"),
        ),
        group=("base", "to"),
        parted=("forward_months",),
        day="rates.*.on",
    ),
    "payments": Sheet(
        "payment.made",
        (
            *_fields("payment", "contract", "payee", "towards", "document", "shipment"),
            Column("amount", "money.amount"),
            Column("currency", "money.currency"),
        ),
    ),
    "parties": Sheet(
        "party.registered",
        (
            *_fields("party", "country", "legal_name", "address", "gln"),
            *_fields("registered_farmers"),
            Column("roles", "roles.+", _joined),
            Column("contact_person", "contacts.#first.person"),
            Column("contact_phone", "contacts.#first.phone"),
            Column("contact_email", "contacts.#first.email"),
        ),
    ),
    "counts": Sheet(
        "lot.counted",
        _fields("lot", "found", "found_kg", "pieces", "counted_by", "place"),
    ),
}
"""What a CSV file holds, by the beginning of its name."""
