"""From pydantic's findings about a body to plain sentences.

pydantic says that a value does not fit a model; a person needs the field, the value as
given, the rule and the way out. Each problem becomes one sentence, together with the
place in the body that it is about, so that a reader of files can name the line.
"""

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from types import UnionType
from typing import Annotated, Final, Literal, Union, cast, get_args, get_origin

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from ledger.errors import InputError
from ledger.trade.record import Measured, Record, typed_key
from ledger.trade.refusal import as_given, instead

MOST_LISTED: Final = 5
"""So many problems are told at once; the others are only counted."""

_FIELD_NAME: Final = re.compile("[A-Za-z0-9_]{1,60}")


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that is wrong with a body.

    Attributes:
        path: Where it stands in the body as given, dotted, positions counted from 0;
            empty for the whole body.
        sentence: Field, value, rule and way out.
    """

    path: str
    sentence: str


class BodyError(InputError):
    """A body does not follow the model of its kind; carries every problem found."""

    def __init__(self, kind: str, problems: tuple[Problem, ...]) -> None:
        self.kind = kind
        self.problems = problems
        super().__init__(listed(problem.sentence for problem in problems))


def listed(sentences: Iterable[str]) -> str:
    """Return sentences joined into one, at most five of them."""
    all_of_them = list(sentences)
    left_out = len(all_of_them) - MOST_LISTED
    if left_out > 0:
        all_of_them[MOST_LISTED:] = [f"and {left_out} more"]
    return "; ".join(all_of_them)


def body_error(kind: str, model: type[Record], error: ValidationError) -> BodyError:
    """Return the error that tells in plain sentences what pydantic found.

    Args:
        kind: What the body is called in the sentences.
        model: The model it was held against.
        error: What pydantic raised.
    """
    found: dict[str, Problem] = {}
    # A misspelt field is both unknown and missing; the unknown one leads to the cure.
    details = error.errors(include_url=False)
    for detail in sorted(details, key=lambda detail: detail["type"] == "missing"):
        if detail["type"] == "too_short" and detail["input"]:
            continue  # its items are wrong, which is told by itself
        spot = _spot(model, detail["loc"])
        # Several choices refuse one value one by one; the last and widest speaks.
        found[spot.path] = _problem(kind, spot, detail)
    return BodyError(kind, tuple(found.values()))


def missing_problem(kind: str, model: type[Record], field: str) -> Problem:
    """Return the problem that a field is not given, which is needed all the same."""
    spot = _Spot(field, model, field)
    return Problem(field, f"field {field} of {kind}{_missing(spot, None, {})}")


@dataclass(frozen=True, slots=True)
class _Spot:
    """Where in a model a problem lies: its path, and the record with the field."""

    path: str
    owner: type[Record]
    field: str


def _problem(kind: str, spot: _Spot, detail: ErrorDetails) -> Problem:
    given, context = detail["input"], detail.get("ctx", {})
    subject = f"field {spot.path} of {kind}" if spot.path else kind
    if detail["type"] == "value_error":
        message = str(context["error"])
        inner = _member_named(given, message)
        path = ".".join(step for step in (spot.path, inner) if step)
        if inner and message.startswith(f"{inner}: "):
            subject, message = f"field {path} of {kind}", message[len(inner) + 2 :]
        return Problem(path, f"{subject}: {message}")
    say = _SENTENCES.get(detail["type"])
    if say is None:
        refused = f"{_shape(given)} does not fit ({detail['msg']}); correct it"
        return Problem(spot.path, f"{subject}: {refused}")
    return Problem(spot.path, f"{subject}{say(spot, given, context)}")


def _member_named(given: object, message: str) -> str:
    """Return the member of a body that a sentence about the whole begins with."""
    word = re.match("[a-z_]*", message)
    named = word[0] if word else ""
    return named if isinstance(given, Mapping) and named in given else ""


Context = Mapping[str, object]


def _missing(spot: _Spot, _given: object, _context: Context) -> str:
    purpose = {
        field.alias or name: field.description or ""
        for name, field in spot.owner.model_fields.items()
    }[spot.field]
    unit = typed_key(spot.field) if issubclass(spot.owner, Measured) else None
    add = f"add it, or {unit} with its unit" if unit else "add it"
    return f" is missing ({purpose.rstrip('.')}); {add}"


def _unknown(spot: _Spot, given: object, _context: Context) -> str:
    known = _known_fields(spot.owner)
    return f" ({_shape(given)}) is not known; {instead(spot.field, known)}"


def _known_fields(model: type[Record]) -> list[str]:
    names = [field.alias or name for name, field in model.model_fields.items()]
    if not issubclass(model, Measured):
        return names
    typed = [key for name in names if (key := typed_key(name)) and key not in names]
    return [name for name in names if name != "typed"] + typed


def _not_listed(_spot: _Spot, given: object, context: Context) -> str:
    words = re.findall("'([^']*)'", str(context.get("expected")))
    return (
        f" is {_shape(given)}, which is not one of its words; {instead(given, words)}"
    )


def _unknown_tag(_spot: _Spot, _given: object, context: Context) -> str:
    told_by = str(context["discriminator"]).strip("'")
    words = re.findall("'([^']*)'", str(context["expected_tags"]))
    tag = context["tag"]
    return f" has {told_by} {as_given(tag)}, which is not known; {instead(tag, words)}"


def _no_tag(_spot: _Spot, _given: object, context: Context) -> str:
    told_by = str(context["discriminator"]).strip("'")
    return f" does not say its {told_by}, which decides what else it holds; add it"


def _not_text(_spot: _Spot, given: object, _context: Context) -> str:
    return f" is {_shape(given)}, where one text belongs; write a single value"


def _not_a_list(_spot: _Spot, given: object, _context: Context) -> str:
    return (
        f" is {_shape(given)}, where a list belongs; write each item on a line of its "
        'own after "- ", even if there is only one'
    )


def _not_a_group(spot: _Spot, given: object, _context: Context) -> str:
    fields = ", ".join(_fields_inside(spot)) or "names and values"
    return f" is {_shape(given)}, where a group of fields belongs; give it {fields}"


def _too_few(_spot: _Spot, _given: object, context: Context) -> str:
    return f" is empty; give at least {context['min_length']}"


def _too_long(_spot: _Spot, given: object, context: Context) -> str:
    return f": {as_given(given)} is longer than {context['max_length']}; shorten it"


def _too_small(_spot: _Spot, given: object, context: Context) -> str:
    return f" is {as_given(given)}; write a number from {context['ge']} on"


def _too_large(_spot: _Spot, given: object, context: Context) -> str:
    return f" is {as_given(given)}; write a number up to {context['le']}"


_SENTENCES: Final[Mapping[str, Callable[[_Spot, object, Context], str]]] = {
    "missing": _missing,
    "extra_forbidden": _unknown,
    "enum": _not_listed,
    "literal_error": _not_listed,
    "union_tag_invalid": _unknown_tag,
    "union_tag_not_found": _no_tag,
    "string_type": _not_text,
    "tuple_type": _not_a_list,
    "dict_type": _not_a_group,
    "model_type": _not_a_group,
    "model_attributes_type": _not_a_group,
    "too_short": _too_few,
    "string_too_short": _too_few,
    "string_too_long": _too_long,
    "greater_than_equal": _too_small,
    "less_than_equal": _too_large,
}


def _shape(given: object) -> str:
    if isinstance(given, Mapping):
        return "a group of fields"
    if isinstance(given, Sequence) and not isinstance(given, str):
        return "a list"
    return as_given(given)


def _spot(model: type[Record], loc: tuple[int | str, ...]) -> _Spot:
    """Follow a location through a model, leaving out the labels of choices."""
    here: object = model
    owner, field = model, ""
    path: list[str] = []
    for step in loc:
        records = _records(here)
        if len(records) > 1:
            here = next(record for record in records if step in _tags(record))
            continue
        if records:
            owner, field = records[0], str(step)
            here = _annotations(owner).get(field)
        elif (inside := _inside(here, step)) is None:
            continue
        else:
            here = inside
        path.append(_shown_step(str(step)))
    return _Spot(".".join(path), owner, field)


def _shown_step(step: str) -> str:
    return step if _FIELD_NAME.fullmatch(step) else as_given(step)


def _fields_inside(spot: _Spot) -> list[str]:
    annotation = _annotations(spot.owner).get(spot.field)
    item = _inside(annotation, 0)
    records = _records(annotation) or _records(item)
    return list(
        dict.fromkeys(name for record in records for name in _known_fields(record))
    )


def _annotations(model: type[Record]) -> dict[str, object]:
    return {
        field.alias or name: cast("object", field.annotation)
        for name, field in model.model_fields.items()
    }


def _records(annotation: object) -> list[type[Record]]:
    return [
        choice
        for choice in _choices(annotation)
        if isinstance(choice, type) and issubclass(choice, Record)
    ]


def _inside(annotation: object, step: int | str) -> object:
    """Return what a list holds at a position, or a mapping under a key, else None."""
    wanted = tuple if isinstance(step, int) else dict
    for choice in _choices(annotation):
        if get_origin(choice) is wanted:
            return cast("object", get_args(choice)[0 if wanted is tuple else 1])
    return None


def _tags(record: type[Record]) -> set[object]:
    return {
        tag
        for annotation in _annotations(record).values()
        if get_origin(annotation) is Literal
        for tag in get_args(annotation)
    }


def _choices(annotation: object) -> list[object]:
    """Return what a value may be: the members of a union, without their notes."""
    origin = get_origin(annotation)
    if origin is Annotated:
        return _choices(get_args(annotation)[0])
    if origin in {Union, UnionType}:
        return [
            choice for member in get_args(annotation) for choice in _choices(member)
        ]
    return [annotation]
