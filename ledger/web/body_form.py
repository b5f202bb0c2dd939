"""The form of any kind of entry, made from the schema of its body.

It serves where an entry of any kind may have to be typed again: in a correction.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from typing import Any, Final

from ledger.chain.canonical import JsonValue
from ledger.reports.entry_body import label_of
from ledger.trade.kinds import KINDS, model_of
from ledger.trade.record import typed_key
from ledger.web.typed_body import fields_of_body

_SPARE_ROWS: Final = 1
_Schema = Mapping[str, Any]


class Sort(StrEnum):
    """How a part of a form is shown."""

    TEXT = "text"
    DAY = "day"
    CHOICE = "choice"
    GROUP = "group"
    ROWS = "rows"


@dataclass(frozen=True, slots=True)
class Part:
    """A field, a group of fields, or a list of groups.

    Attributes:
        path: Dotted path in the body: the name of a field.
        label: What it is called.
        sort: How it is shown.
        unit: Unit of a figure that is typed without one.
        hint: What it means, by the model.
        value: What stands in the field.
        choices: Words to choose from.
        required: Whether it must be filled in.
        parts: Fields of a group, or the rows of a list.
        is_filled: Whether something stands in it.
    """

    path: str
    label: str
    sort: Sort
    unit: str = ""
    hint: str = ""
    value: str = ""
    choices: tuple[str, ...] = ()
    required: bool = False
    parts: tuple["Part", ...] = ()
    is_filled: bool = False


def form_of(
    kind: str, body: Mapping[str, JsonValue], *, within: str = ""
) -> tuple[Part, ...]:
    """Return the fields of a form that shows a body.

    Args:
        kind: Kind of the entry.
        body: What stands in the form.
        within: What the names of its fields begin with.

    Raises:
        InputError: There is no such kind.
    """
    schema = _schema_of(kind)
    form = _Form(schema.get("$defs", {}), fields_of_body(body), within)
    return tuple(form.members(schema, ""))


@cache
def figures_of(kind: str) -> frozenset[str]:
    """Return the names of the fields of a kind that take a figure with its unit.

    Raises:
        InputError: There is no such kind.
    """
    schema = _schema_of(kind)
    models = (schema, *schema.get("$defs", {}).values())
    return frozenset(
        name
        for model in models
        for name in model.get("properties", {})
        if "typed" in model["properties"] and typed_key(name) is not None
    )


def is_figure(path: str) -> bool:
    """Tell whether a field of a form, by its dotted path, holds a figure."""
    name = path.rpartition(".")[2]
    return bool(label_of(name)[1]) or name in _figures()


@cache
def _figures() -> frozenset[str]:
    """Return the names under which figures of any kind of entry are typed."""
    figures = (name for kind in KINDS for name in figures_of(kind))
    return frozenset(typed_key(name) or name for name in figures) | {"amount"}


@cache
def _schema_of(kind: str) -> _Schema:
    return model_of(kind).model_json_schema()


@dataclass(frozen=True, slots=True)
class _Form:
    models: Mapping[str, _Schema]
    values: Mapping[str, str]
    within: str

    def members(self, schema: _Schema, around: str) -> Iterator[Part]:
        """Yield the parts of an object."""
        required = schema.get("required", ())
        typed = "typed" in schema.get("properties", {})
        for name, inner in schema.get("properties", {}).items():
            if name != "typed":
                key = (typed_key(name) or name) if typed else name
                yield self._part(
                    f"{around}{key}",
                    name,
                    inner,
                    hint=inner.get("description", ""),
                    required=name in required,
                )

    def _part(
        self, path: str, name: str, schema: _Schema, *, hint: str, required: bool
    ) -> Part:
        known = self._resolved(schema)
        label, unit = label_of(name)
        words: dict[str, Any] = {"label": label, "hint": hint, "required": required}
        filled = [one for one in self.values if one.startswith(f"{path}.")]
        named = f"{self.within}{path}"
        if known.get("type") == "array":
            rows = tuple(self._rows(path, known.get("items", {}), filled))
            return Part(
                named, sort=Sort.ROWS, parts=rows, is_filled=bool(filled), **words
            )
        if "properties" in known:
            return Part(
                named,
                sort=Sort.GROUP,
                parts=tuple(self.members(known, f"{path}.")),
                is_filled=bool(filled),
                **words,
            )
        choices = tuple(map(str, known.get("enum", ())))
        if known.get("type") == "boolean":
            choices = ("true", "false")
        sort = Sort.CHOICE if choices else Sort.TEXT
        if known.get("format") == "date":
            sort = Sort.DAY
        value = self.values.get(path, "")
        return Part(
            named,
            sort=sort,
            unit=unit,
            value=value,
            choices=choices,
            is_filled=bool(value),
            **words,
        )

    def _rows(self, path: str, items: _Schema, filled: list[str]) -> Iterator[Part]:
        taken = {int(one[len(path) + 1 :].partition(".")[0]) for one in filled}
        known = self._resolved(items)
        for place in range(max(taken, default=-1) + 1 + _SPARE_ROWS):
            at = f"{path}.{place}"
            if "properties" in known:
                inner = tuple(self.members(known, f"{at}."))
            else:
                inner = (self._part(at, "", items, hint="", required=False),)
            yield Part(
                f"{self.within}{at}",
                str(place + 1),
                Sort.GROUP,
                parts=inner,
                is_filled=place in taken,
            )

    def _resolved(self, schema: _Schema) -> _Schema:
        """Return what a schema describes, several objects that it may be as one."""
        if "$ref" in schema:
            return self._resolved(self.models[schema["$ref"].rpartition("/")[2]])
        options = [
            self._resolved(one)
            for one in (*schema.get("anyOf", ()), *schema.get("oneOf", ()))
            if one.get("type") != "null"
        ]
        if len(options) == 1:
            return options[0]
        objects = [one for one in options if "properties" in one]
        if objects:
            merged = {k: v for one in objects for k, v in one["properties"].items()}
            return {"properties": merged}
        return schema
