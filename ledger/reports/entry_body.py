"""The body of an entry as a person reads it: what each member is called, and its value.

The names are those of the record, with the unit apart: `found_kg` reads "Found, kg".
What a person typed in a unit of their own stands behind the figure that it became.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from ledger.books.effect import SubjectKind
from ledger.chain.canonical import JsonValue

_UNITS: Final[Mapping[str, str]] = {"_kg": "kg", "_c": "°C", "_percent": "%"}
_FIGURES: Final = frozenset(
    {"hours", "after_hours", "pieces", "share", "size", "bags"}
    | {"cooling_minutes", "racking_minutes", "pieces_per_minute"}
)
_SUBJECTS: Final[Mapping[str, SubjectKind]] = {
    "batch": SubjectKind.BATCH,
    "contract": SubjectKind.CONTRACT,
    "lot": SubjectKind.LOT,
    "lots": SubjectKind.LOT,
    "sale": SubjectKind.SALE,
    "shipment": SubjectKind.SHIPMENT,
}
_CALLED: Final[Mapping[str, str]] = {
    "gln": "GLN",
    "gtin": "GTIN",
    "record": "Process record",
    "sscc": "SSCC",
}
"""Members that GS1 calls by letters, or that read as another word: to record is a verb."""
_PER_UNIT: Final = {"amount", "currency"}, {"amount", "unit"}


@dataclass(frozen=True, slots=True)
class Line:
    """One member of a body.

    Attributes:
        label: What it is called.
        text: Its value; empty where it has members of its own.
        unit: Unit of a figure.
        is_figure: Whether the value is a figure.
        typed: What the person typed instead of the figure, if anything.
        subject: What sort of thing the value names, where there is a page of those.
        groups: Its members: one group for an object, several for a list of them.
        is_list: Whether it is a list, not one object.
    """

    label: str
    text: str = ""
    unit: str = ""
    is_figure: bool = False
    typed: str = ""
    subject: SubjectKind | None = None
    groups: tuple[tuple["Line", ...], ...] = ()
    is_list: bool = True

    @property
    def columns(self) -> tuple["Line", ...]:
        """A line for each column, where its members make a plain table; else nothing."""
        found: dict[str, Line] = {}
        for group in self.groups:
            if any(line.groups for line in group) or len({*group}) < len(group):
                return ()
            found |= {line.label: line for line in group if line.label not in found}
        return tuple(found.values())

    def cells(self, group: tuple["Line", ...]) -> tuple["Line | None", ...]:
        """Return the members of one group, column by column; None where one is missing."""
        named = {line.label: line for line in group}
        return tuple(named.get(column.label) for column in self.columns)


def body_lines(body: Mapping[str, JsonValue]) -> tuple[Line, ...]:
    """Return the members of a body in the order in which they stand.

    Args:
        body: The body, opened as far as its reader may see it.
    """
    given = body.get("typed")
    typed = given if isinstance(given, dict) else {}
    return tuple(
        line
        for name, value in body.items()
        if name != "typed"
        for line in _lines(name, value, str(typed.get(name, "")))
    )


def _lines(name: str, value: JsonValue, typed: str) -> tuple[Line, ...]:
    label, unit = label_of(name)
    match value:
        case dict() if value.keys() in _PER_UNIT:
            of = str(value.get("currency") or value.get("unit"))
            return (Line(label, str(value["amount"]), of, is_figure=True),)
        case dict():
            return (Line(label, groups=(body_lines(value),), is_list=False),)
        case [dict(), *_]:
            groups = tuple(body_lines(one) for one in value if isinstance(one, dict))
            return (Line(label, groups=groups),)
        case list():
            return tuple(
                Line(label, _text(one), subject=_subject(name)) for one in value
            )
        case _:
            is_figure = bool(unit) or name in _FIGURES
            text, subject = _text(value), _subject(name)
            return (Line(label, text, unit, is_figure, typed, subject),)


def label_of(name: str) -> tuple[str, str]:
    """Return what a member of a body is called, and its unit; empty if it has none."""
    for ending, unit in _UNITS.items():
        if name.endswith(ending):
            return _words(name.removesuffix(ending)), unit
    return _words(name), ""


def steps_of(path: str) -> tuple[str, ...]:
    """Return what the steps of a dotted path are called; positions count from 1.

    Args:
        path: Path of a member in a body, such as `lots.0.net_landed`.
    """
    return tuple(
        str(int(step) + 1) if step.isdecimal() else label_of(step)[0]
        for step in path.split(".")
    )


def _words(name: str) -> str:
    if name in _CALLED:
        return _CALLED[name]
    return re.sub("_+", " ", name).strip().capitalize()


def _text(value: JsonValue) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value)


def _subject(name: str) -> SubjectKind | None:
    return _SUBJECTS.get(name)
