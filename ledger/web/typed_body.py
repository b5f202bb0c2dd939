"""From the fields of a form to the body of an entry, and back.

A field is named by its dotted path in the body, positions counted from 0, such as
`inputs.0.lot`: so what is wrong with a body names the field it came from. What is left
empty is left out, and the rows of a list close up over rows that are empty.
"""

from collections.abc import Iterable, Iterator, Mapping
from typing import Final

from ledger.chain.canonical import JsonValue
from ledger.reports.tables import PLAIN_NUMBER
from ledger.trade.record import typed_key

_MOST_ROWS: Final = 500
"""Rows of a list beyond which a form is not one of ours."""


def body_of_fields(
    fields: Iterable[tuple[str, str]], *, within: str = ""
) -> dict[str, JsonValue]:
    """Return the body that fields of a form make.

    Args:
        fields: Name and value of each field.
        within: What the names of its fields begin with; others are left out.
    """
    tree: _Tree = {}
    for name, value in fields:
        path, text = name.removeprefix(within), value.strip()
        if name.startswith(within) and text and _is_path(path):
            _plant(tree, path.split("."), text)
    grown = _grown(tree)
    return grown if isinstance(grown, dict) else {}


def fields_of_body(body: Mapping[str, JsonValue]) -> dict[str, str]:
    """Return the value of every field of a form that shows a body.

    A figure that was typed in a unit of its own comes back as it was typed.
    """
    return dict(_fields(body, ""))


def fields_that_differ(
    before: Mapping[str, JsonValue], after: Mapping[str, JsonValue]
) -> Iterator[tuple[str, str, str]]:
    """Yield the fields in which two bodies differ: name, what it was, what it is.

    Where one of the two does not have a field, its value is empty.
    """
    was, is_now = fields_of_body(before), fields_of_body(after)
    for name in dict.fromkeys((*was, *is_now)):
        if was.get(name) != is_now.get(name):
            yield name, was.get(name, ""), is_now.get(name, "")


def with_units(value: JsonValue, *, figures: frozenset[str]) -> JsonValue:
    """Return a body whose figures stand under the name that takes them as typed.

    A plain number is in the unit of the field; anything else is typed with its unit.

    Args:
        value: A body, or a part of one.
        figures: Names of fields with a unit, such as `mass_kg`.
    """
    by_key = {str(typed_key(name)): name for name in figures}
    if isinstance(value, list):
        return [with_units(one, figures=figures) for one in value]
    if not isinstance(value, dict):
        return value
    found: dict[str, JsonValue] = {}
    for name, inner in value.items():
        full = by_key.get(str(name), str(name))
        is_plain = isinstance(inner, str) and PLAIN_NUMBER.fullmatch(inner)
        found[full if is_plain else str(name)] = with_units(inner, figures=figures)
    return found


_Tree = dict[str, "str | _Tree"]


def _is_path(path: str) -> bool:
    return all(
        step and (not step.isdecimal() or int(step) < _MOST_ROWS)
        for step in path.split(".")
    )


def _plant(tree: _Tree, steps: list[str], text: str) -> None:
    *around, last = steps
    for step in around:
        inner = tree.setdefault(step, {})
        if isinstance(inner, str):
            return
        tree = inner
    tree.setdefault(last, text)


def _grown(tree: _Tree) -> JsonValue:
    values = {
        step: inner if isinstance(inner, str) else _grown(inner)
        for step, inner in tree.items()
    }
    if values and all(step.isdecimal() for step in values):
        return [values[step] for step in sorted(values, key=int)]
    return values


def _fields(value: JsonValue, around: str) -> Iterator[tuple[str, str]]:
    if isinstance(value, Mapping):
        typed = value.get("typed")
        texts = typed if isinstance(typed, Mapping) else {}
        for name, inner in value.items():
            if name == "typed":
                continue
            key = typed_key(name)
            if key is not None and name in texts:
                yield f"{around}{key}", str(texts[name])
            else:
                shown = key if key is not None and isinstance(inner, str) else name
                yield from _fields(inner, f"{around}{shown}.")
    elif isinstance(value, list | tuple):
        for place, inner in enumerate(value):
            yield from _fields(inner, f"{around}{place}.")
    elif value is not None:
        text = str(value).lower() if isinstance(value, bool) else str(value)
        yield around.removesuffix("."), text
