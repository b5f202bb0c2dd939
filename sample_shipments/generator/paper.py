"""Writing files: YAML and CSV as people type them, and what each file records."""

import csv
import io
import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TypeAlias

Tree: TypeAlias = "str | Sequence[Tree] | Mapping[str, Tree]"
"""What a YAML file says; every figure is text, written as typed."""

Row: TypeAlias = Mapping[str, str]
"""One row of a CSV file, by column."""

_PLAIN = re.compile(r"[A-Za-z0-9][A-Za-z0-9 .,/()%+'_;-]*")
_MEANS_SOMETHING_ELSE = frozenset({"true", "false", "yes", "no", "on", "off", "null"})


@dataclass(frozen=True, slots=True)
class File:
    """One file of the scenario.

    Attributes:
        path: Where it lies, below the folder of the scenario.
        text: What is in it.
        records: A name for each entry it records, in order.
    """

    path: str
    text: str
    records: tuple[str, ...]


def kg(grams: int) -> str:
    """Return a mass in grams as kilograms with three decimals."""
    return f"{grams // 1000}.{grams % 1000:03d}"


def money(minor: int) -> str:
    """Return a sum in cents or pence with two decimals."""
    return f"{minor // 100}.{minor % 100:02d}"


def yaml_file(
    path: str, entries: Sequence[Mapping[str, Tree]], *, note: str = "", names: str = ""
) -> File:
    """Return a YAML file of one entry or a list of entries.

    Args:
        path: Where it lies.
        entries: The entries, each with `kind`, `on` and the members of its body.
        note: Comment at its head.
        names: Names of the entries, divided by spaces; the path by default.
    """
    head = f"# {note}\n" if note else ""
    tree: Tree = entries[0] if len(entries) == 1 else entries
    records = tuple(names.split()) or tuple(path for _ in entries)
    return File(path, head + "\n".join(_lines(tree, "")) + "\n", records)


def csv_file(path: str, rows: Sequence[Row], *, names: Sequence[str]) -> File:
    """Return a CSV file whose columns are those of its rows, in their order."""
    columns = list(dict.fromkeys(column for row in rows for column in row))
    written = io.StringIO()
    writer = csv.DictWriter(written, columns, restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return File(path, written.getvalue(), tuple(names))


def _lines(tree: Tree, indent: str) -> list[str]:
    if isinstance(tree, str):
        return [indent + _scalar(tree)]
    if isinstance(tree, Mapping):
        return [
            line for key, value in tree.items() for line in _member(key, value, indent)
        ]
    lines = []
    for item in tree:
        first, *others = _lines(item, indent + "  ")
        lines += [f"{indent}- {first.strip()}", *others]
    return lines


def _member(key: str, value: Tree, indent: str) -> list[str]:
    if isinstance(value, str):
        return [f"{indent}{key}: {_scalar(value)}"]
    if isinstance(value, Sequence) and all(isinstance(item, str) for item in value):
        return [f"{indent}{key}: [{', '.join(_scalar(str(item)) for item in value)}]"]
    return [f"{indent}{key}:", *_lines(value, indent + "  ")]


def _scalar(text: str) -> str:
    is_plain = (
        _PLAIN.fullmatch(text)
        and not text.endswith(" ")
        and text.casefold() not in _MEANS_SOMETHING_ELSE - {"true", "false"}
        and "," not in text
    )
    return text if is_plain else json.dumps(text, ensure_ascii=False)
