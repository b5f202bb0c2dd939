"""Entries in a YAML file: one, a list of them, or several documents.

Every value stays text exactly as it is typed: no figure becomes a float, no date an
object, no word a truth value. What YAML can do beyond groups, lists and texts is
refused, because it makes a file say something other than what a person reads in it.
"""

import itertools
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import yaml

from ledger.chain.canonical import JsonValue
from ledger.errors import InputError
from ledger.intake.draft import Draft, draft_of
from ledger.trade.refusal import as_given

DEEPEST: Final = 16
"""How many lists and groups may stand inside one another."""

_FIELD_NAME: Final = re.compile("[A-Za-z_][A-Za-z0-9_]*")
_LEFT_OUT: Final = frozenset({"", "~", "null", "Null", "NULL"})
_REFUSED_BY_READER: Final = (yaml.YAMLError, ValueError, OverflowError)

# The same reader in C, some fifteen times faster, where the library was built with it.
_LOADER: Final = getattr(yaml, "CBaseLoader", yaml.BaseLoader)


def read_yaml(name: str, text: str) -> Iterator[Draft]:
    """Yield the entries of a YAML file in the order in which they stand.

    Args:
        name: Name of the file, for sentences.
        text: Its text.

    Raises:
        InputError: The file is not YAML, uses more of YAML than groups, lists and
            texts, or holds something that is not an entry.
    """
    events = _events(name, text)
    for event in events:
        match event:
            case yaml.SequenceStartEvent():
                for item in _until(events, yaml.SequenceEndEvent):
                    yield _entry(name, events, item)
            case yaml.MappingStartEvent():
                yield _entry(name, events, event)
            case yaml.ScalarEvent() if not _is_left_out(event):
                raise _not_an_entry(name, event)


def read_group(name: str, text: str) -> dict[str, JsonValue]:
    """Return the one group of fields that a YAML file is.

    Args:
        name: Name of the file, for sentences.
        text: Its text.

    Raises:
        InputError: The file is not YAML, uses more of YAML than groups, lists and texts,
            or is anything but one group.
    """
    events = _events(name, text)
    found: dict[str, JsonValue] | None = None
    for event in events:
        is_document = isinstance(event, yaml.MappingStartEvent) and found is None
        if is_document:
            found = _Entry(name, events, {}).group("")
        elif isinstance(event, yaml.NodeEvent):
            raise InputError(
                f"{_line(name, event)}: something stands here beside the one group of "
                "fields that the file is; write names, each with a colon and its value"
            )
    if found is None:
        raise InputError(f"{name}: the file holds no fields; write some")
    return found


def _events(name: str, text: str) -> Iterator[yaml.Event]:
    """Yield what stands in the file, and refuse what no ledger file needs."""
    depth = 0
    try:
        for event in yaml.parse(text, Loader=_LOADER):
            depth += isinstance(event, yaml.CollectionStartEvent)
            depth -= isinstance(event, yaml.CollectionEndEvent)
            _check_event(name, event, depth)
            yield event
    except _REFUSED_BY_READER as error:
        mark = getattr(error, "problem_mark", None)
        where = name if mark is None else f"{name}, line {mark.line + 1}"
        raise InputError(
            f"{where}: the file cannot be read as YAML from here on "
            f"({getattr(error, 'problem', None) or 'a character that YAML excludes'}); "
            "check colons, dashes, indentation and quotes here and on the line above"
        ) from error


def _check_event(name: str, event: yaml.Event, depth: int) -> None:
    if isinstance(event, yaml.AliasEvent) or getattr(event, "anchor", None) is not None:
        raise InputError(
            f"{_line(name, event)}: an anchor (&) or alias (*) stands here, which would "
            "repeat another part of the file unseen; write the value out, or put a text "
            "that begins so in quotes"
        )
    if getattr(event, "tag", None) is not None:
        raise InputError(
            f"{_line(name, event)}: a tag (!) stands here, but every value is read as "
            "text; take the tag out, or put a text that begins so in quotes"
        )
    if depth > DEEPEST:
        raise InputError(
            f"{_line(name, event)}: more than {DEEPEST} lists and groups stand inside "
            "one another; no entry needs that, so check the brackets or indentation"
        )


def _line(name: str, event: yaml.Event) -> str:
    mark = event.start_mark
    return f"{name}, line {mark.line + 1}" if mark is not None else name


def _until(
    events: Iterator[yaml.Event], end: type[yaml.CollectionEndEvent]
) -> Iterator[yaml.Event]:
    """Yield the first event of each thing inside a list or group, up to its end."""
    return itertools.takewhile(lambda event: not isinstance(event, end), events)


def _entry(name: str, events: Iterator[yaml.Event], first: yaml.Event) -> Draft:
    if not isinstance(first, yaml.MappingStartEvent):
        raise _not_an_entry(name, first)
    entry = _Entry(name, events, {})
    return draft_of(entry.group(""), entry.places, _line(name, first))


def _not_an_entry(name: str, event: yaml.Event) -> InputError:
    found = as_given(event.value) if isinstance(event, yaml.ScalarEvent) else "a list"
    return InputError(
        f"{_line(name, event)}: {found} stands where an entry belongs; an entry is a "
        "group of fields, so write kind: and on: and the fields of that kind"
    )


@dataclass(frozen=True, slots=True)
class _Entry:
    """One entry while it is read.

    Attributes:
        name: Name of the file.
        events: What stands in the file from here on.
        places: Where each part of the entry stands, by dotted path.
    """

    name: str
    events: Iterator[yaml.Event]
    places: dict[str, str]

    def group(self, around: str) -> dict[str, JsonValue]:
        """Read the members of a group up to its end; `around` ends in a dot."""
        members: dict[str, JsonValue] = {}
        for event in _until(self.events, yaml.MappingEndEvent):
            key = _field_name(self.name, event)
            path = f"{around}{key}"
            if path in self.places:
                raise InputError(
                    f"{_line(self.name, event)}: the field {path} was given before, at "
                    f"{self.places[path]}; keep one of them"
                )
            self.places[path] = _line(self.name, event)
            value = self.value(next(self.events), path)
            if value is not None:
                members[key] = value
        return members

    def items(self, around: str) -> list[JsonValue]:
        """Read the items of a list up to its end; `around` ends in a dot."""
        items: list[JsonValue] = []
        for event in _until(self.events, yaml.SequenceEndEvent):
            path = f"{around}{len(items)}"
            self.places[path] = _line(self.name, event)
            item = self.value(event, path)
            if item is None:
                raise InputError(
                    f"{self.places[path]}: the item {path} of the list is empty; write "
                    "it, or take its dash or comma out"
                )
            items.append(item)
        return items

    def value(self, first: yaml.Event, path: str) -> JsonValue:
        """Read a value; one that is left out is None."""
        match first:
            case yaml.MappingStartEvent():
                return self.group(f"{path}.")
            case yaml.SequenceStartEvent():
                return self.items(f"{path}.")
            case yaml.ScalarEvent() if not _is_left_out(first):
                return first.value
            case _:
                return None


def _field_name(name: str, event: yaml.Event) -> str:
    given = event.value if isinstance(event, yaml.ScalarEvent) else None
    if given == "<<":
        raise InputError(
            f"{_line(name, event)}: a merge (<<) stands here, which would repeat another "
            "part of the file unseen; write the fields out"
        )
    if given is None or not _FIELD_NAME.fullmatch(given):
        found = "a list or group" if given is None else as_given(given)
        raise InputError(
            f"{_line(name, event)}: {found} stands where the name of a field belongs; "
            "write a name of letters, digits and _, then a colon and a space"
        )
    return given


def _is_left_out(event: yaml.ScalarEvent) -> bool:
    is_plain, _ = event.implicit  # a text in quotes is one that somebody meant to write
    return is_plain and event.value in _LEFT_OUT
