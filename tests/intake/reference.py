"""docs/reference/files.md, as tests read it: its examples, and its lists of fields."""

import re
from collections.abc import Iterator
from enum import StrEnum
from pathlib import Path
from types import UnionType
from typing import Annotated, Literal, Union, get_args, get_origin

from pydantic.fields import FieldInfo

from ledger.intake.columns import SHEETS, Sheet
from ledger.trade.kinds import KINDS
from ledger.trade.record import Measured, Record, typed_key

PAGE = Path(__file__).parents[2] / "docs" / "reference" / "files.md"
_EXAMPLE = re.compile(r"^```(?:yaml|csv) (\S+)\n(.*?)^```$", re.DOTALL | re.MULTILINE)


def page() -> str:
    return PAGE.read_text(encoding="utf-8")


def examples(text: str) -> list[tuple[str, bytes]]:
    """Name and content of every example, in the order of the page."""
    return [(name, content.encode()) for name, content in _EXAMPLE.findall(text)]


def examples_of_kinds() -> list[tuple[str, bytes]]:
    """The examples that belong together and make a small ledger."""
    _, _, kinds = page().partition("\n## Kinds of entries\n")
    return examples(kinds)


def fields_of(kind: str) -> list[str]:
    """One line of the page for every field of a kind."""
    return list(_fields(KINDS[kind], ""))


def _fields(model: type[Record], around: str, when: str = "") -> Iterator[str]:
    for name, field in model.model_fields.items():
        if name == "typed" and issubclass(model, Measured):
            continue
        path = f"{around}{field.alias or name}"
        unit = typed_key(name) if issubclass(model, Measured) else None
        with_unit = f", or `{around}{unit}` with its unit" if unit else ""
        needed = field.is_required() or name in model.sealed_required
        is_list = get_origin(field.annotation) is tuple
        notes = [*["list"] * is_list, *["needed"] * needed, *[when] * bool(when)]
        noted = f" ({', '.join(notes)})" if notes else ""
        purpose = (field.description or "").rstrip(".")
        yield f"- `{path}`{with_unit}{noted}: {purpose}.{_words(field)}"
        inner = records_in(field.annotation)
        for record in inner:
            told = f"if `basis` is {_basis(record)}" if len(inner) > 1 else ""
            yield from _fields(record, f"{path}.", told)


def _basis(record: type[Record]) -> str:
    return str(get_args(record.model_fields["basis"].annotation)[0])


def _words(field: FieldInfo) -> str:
    words = list(dict.fromkeys(_listed_words(field.annotation)))
    return f" One of: {', '.join(words)}." if words else ""


def _choices(annotation: object) -> list[object]:
    origin = get_origin(annotation)
    if origin is Annotated:
        return _choices(get_args(annotation)[0])
    if origin in {tuple, Union, UnionType}:
        return [c for a in get_args(annotation) if a is not ... for c in _choices(a)]
    return [annotation]


def records_in(annotation: object) -> list[type[Record]]:
    return [
        choice
        for choice in _choices(annotation)
        if isinstance(choice, type) and issubclass(choice, Record)
    ]


def _listed_words(annotation: object) -> Iterator[str]:
    for choice in _choices(annotation):
        if get_origin(choice) is Literal:
            yield from get_args(choice)
        elif isinstance(choice, type) and issubclass(choice, StrEnum):
            yield from (str(word) for word in choice)


def sheet_lines() -> list[str]:
    """One row of the page's table for every sort of CSV file."""
    return [
        f"| `{name}` | {sheet.kind} | {', '.join(columns_of(sheet))} |"
        for name, sheet in SHEETS.items()
    ]


def columns_of(sheet: Sheet) -> list[str]:
    part = [sheet.part] if sheet.part else []
    return ["on", *part, *(column.name for column in sheet.columns)]
