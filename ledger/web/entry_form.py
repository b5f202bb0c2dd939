"""A form that becomes an entry: recorded as typed, refused in words, or only foreseen."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Final

from starlette.responses import Response

from ledger.books.finding import EntryRefusedError
from ledger.chain.canonical import JsonValue
from ledger.desk.foresee import foresee
from ledger.desk.record import Recording, record
from ledger.errors import LedgerError
from ledger.trade.record import typed_key
from ledger.trade.sentence import BodyError
from ledger.web.asked import Asked
from ledger.web.door import status_of
from ledger.web.foretold import Foretold, foretold

FRAGMENT: Final = "parts/foresight.html"


@dataclass(frozen=True, slots=True)
class Wrong:
    """Why a form was not recorded.

    Attributes:
        sentence: What is wrong, for the top of the form.
        by_field: What is wrong with each field, by its dotted path in the body of the
            entry; a figure that may be typed with its unit stands under both its names.
        status: Status of the answer.
    """

    sentence: str = ""
    by_field: Mapping[str, str] = field(default_factory=dict)
    status: int = 200


NOTHING_WRONG: Final = Wrong()
"""For a form that is shown for the first time."""


def record_typed(
    asked: Asked, kind: str, on: date, body: dict[str, JsonValue]
) -> Recording | Wrong:
    """Record an entry in the name of who asks, or say why it was refused.

    Args:
        asked: The request.
        kind: Kind of the entry.
        on: When it happened in the trade.
        body: Its body as typed.
    """
    try:
        with asked.writing() as writing:
            return record(writing, kind, on, body)
    except LedgerError as error:
        return wrong_with(error)


def foresee_typed(
    asked: Asked, kind: str, on: date, body: dict[str, JsonValue]
) -> Foretold:
    """Return what would come of an entry, in sentences; nothing is recorded."""
    found = foresee(asked.writing, kind, on, body)
    told = foretold(found, asked.tongue)
    return replace(told, is_unfinished=_is_unfinished(found.refusal, body))


def _is_unfinished(error: LedgerError | None, body: JsonValue) -> bool:
    """Tell whether all that is wrong with a body is that something is not there yet."""
    return isinstance(error, BodyError) and all(
        problem.path
        and not any(_stands_in(body, name.split(".")) for name in _names(problem.path))
        for problem in error.problems
    )


def _stands_in(value: JsonValue, steps: list[str]) -> bool:
    """Tell whether a body holds something at a path."""
    for step in steps:
        if isinstance(value, Mapping) and step in value:
            value = value[step]
        elif isinstance(value, list) and step.isdecimal() and int(step) < len(value):
            value = value[int(step)]
        else:
            return False
    return True


def show_foretold(
    asked: Asked, found: Foretold, *, worked_out: Iterable[tuple[str, str]] = ()
) -> Response:
    """Answer with what would come of an entry as a part of a page.

    Args:
        asked: The request.
        found: What would come of it.
        worked_out: Pairs of words that stand above it, such as net weight and figure.
    """
    return asked.page(FRAGMENT, foretold=found, worked_out=list(worked_out))


def is_for_fragment(asked: Asked) -> bool:
    """Tell whether the script of a form asks, which takes a part of the page alone."""
    return asked.request.headers.get("x-part") == "foresight"


def wrong_with(error: LedgerError) -> Wrong:
    """Return why a form was not recorded, from what was raised."""
    by_field: dict[str, str] = {}
    for path, sentence in _sentences(error):
        for name in _names(path):
            by_field.setdefault(name, sentence)
    return Wrong(str(error), by_field, status_of(error))


def _sentences(error: LedgerError) -> Iterator[tuple[str, str]]:
    if isinstance(error, BodyError):
        yield from ((one.path, one.sentence) for one in error.problems)
    if isinstance(error, EntryRefusedError):
        yield from ((one.field, one.message) for one in error.findings)


def _names(path: str) -> Iterator[str]:
    around, _, last = path.rpartition(".")
    for name in filter(None, (last, typed_key(last))):
        yield f"{around}.{name}" if around else name
