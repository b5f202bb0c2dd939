"""A draft: one entry as a file gives it, and where each part of it stands there."""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Annotated, Final, cast

from pydantic import Field, ValidationError

from ledger.books.finding import EntryRefusedError
from ledger.books.opening import parse_body
from ledger.chain.canonical import JsonValue
from ledger.errors import InputError
from ledger.trade.control import Correction
from ledger.trade.kinds import KINDS
from ledger.trade.record import Day, Record, Text, typed_key
from ledger.trade.sentence import BodyError, body_error, listed

_INNER_BODY: Final = "replacement.body"


@dataclass(frozen=True, slots=True)
class Draft:
    """One entry as a file gives it; nothing of its body is judged yet.

    Attributes:
        kind: Kind of the entry.
        occurred_on: When it happened in the trade.
        body: Its body: texts as typed, lists, groups.
        where: Where the entry starts, such as "spring.yaml, line 12".
        places: Where each part of it stands, by dotted path into the body.
    """

    kind: str
    occurred_on: date
    body: dict[str, JsonValue]
    where: str
    places: Mapping[str, str] = field(default_factory=dict, compare=False, repr=False)

    def locate(self, path: str) -> str:
        """Return where a part of the body stands, or the nearest part around it.

        Args:
            path: Dotted path, positions counted from 0, as errors and findings have it.
        """
        around, _, last = path.rpartition(".")
        typed = typed_key(last)
        for name in (last, last if typed is None else typed):
            found = self.places.get(f"{around}.{name}" if around else name)
            if found is not None:
                return found
        return self.locate(around) if around else self.where


class _Head(Record):
    """What every entry of a file says of itself beside its body."""

    kind_: Annotated[Text, Field(alias="kind")]
    """Kind of the entry, such as shipment.received."""
    on: Day
    """The day it happened in the trade, such as 2026-03-02."""


def draft_of(
    members: Mapping[str, JsonValue], places: Mapping[str, str], where: str
) -> Draft:
    """Return the draft that an entry's members make.

    Args:
        members: `kind`, `on`, and the members of the body beside them.
        places: Where each of them stands, by dotted path.
        where: Where the entry starts.

    Raises:
        InputError: `kind` or `on` is missing or cannot be read.
    """
    head_given = {name: members[name] for name in ("kind", "on") if name in members}
    body = {name: value for name, value in members.items() if name not in head_given}
    # Beyond this door the day is known by the name it has in an entry.
    known_places = {**places, "occurred_on": places.get("on", where)}
    unread = Draft("", date.min, body, where, known_places)
    try:
        head = _Head.model_validate(head_given)
    except ValidationError as error:
        raise _in_place(unread, body_error("the entry", _Head, error)) from error
    return replace(unread, kind=head.kind_, occurred_on=head.on)


def parse_draft(draft: Draft) -> Record:
    """Return the record that a draft describes; what the books say is not asked.

    The replacement that a correction puts in is read too.

    Raises:
        InputError: The kind is unknown or the body does not follow its model; the
            sentence names file and line or row of each problem.
    """
    with in_its_place(draft):
        record = parse_body(draft.kind, draft.body)
        if isinstance(record, Correction) and record.replacement is not None:
            inner = cast("Mapping[str, JsonValue]", record.replacement.body)
            parse_body(record.replacement.entry_kind, inner)
    return record


@contextmanager
def in_its_place(draft: Draft) -> Iterator[None]:
    """Put the place in the file in front of what is wrong with a draft.

    Raises:
        InputError: What was raised inside, file and line or row in front.
        EntryRefusedError: The same for what the books refuse.
    """
    try:
        yield
    except BodyError as error:
        raise _in_place(draft, error) from error
    except InputError as error:
        named = "kind" if draft.kind not in KINDS else "replacement.entry_kind"
        raise InputError(f"{draft.locate(named)}: {error}") from error
    except EntryRefusedError as error:
        raise EntryRefusedError(
            tuple(
                replace(
                    finding, message=f"{draft.locate(finding.field)}: {finding.message}"
                )
                for finding in error.findings
            )
        ) from error


def _in_place(draft: Draft, error: BodyError) -> InputError:
    inner = draft.kind == Correction.kind and error.kind != draft.kind
    around = f"{_INNER_BODY}." if inner else ""
    sentences, last = [], ""
    for problem in error.problems:
        place = draft.locate(around + problem.path)
        sentences.append(
            problem.sentence if place == last else f"{place}: {problem.sentence}"
        )
        last = place
    return InputError(listed(sentences))
