"""An entry: what was recorded, when, by whom, and what came before it.

An entry is one JSON object of seven members. Its canonical bytes are stored and hashed
as they are; nothing is ever serialised again in order to verify it.
"""

import hashlib
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Final

from ledger.chain.canonical import (
    MAX_INTEGER,
    JsonValue,
    canonical_bytes,
    parse_canonical,
)
from ledger.errors import InputError

FORMAT_VERSION: Final = 1
"""The number of this format of entries, which the opening entry states."""

GENESIS_PREV: Final = "0" * 64
"""What stands for a predecessor in the first entry, which has none."""

OPENING_KIND: Final = "ledger.opened"
"""The kind of the first entry, and of no other."""

_DIGEST_HEX: Final = re.compile(r"[0-9a-f]{64}")
_KIND: Final = re.compile(r"[a-z][a-z0-9_]*(\.[a-z][a-z0-9_]*)*")


@dataclass(frozen=True, slots=True)
class Entry:
    """One recorded fact in its place in the chain.

    Attributes:
        seq: Place in the chain; the first entry has 0.
        prev: Digest of the entry before, 64 lower-case hexadecimal digits.
        kind: What was recorded, as lower-case words joined by dots.
        occurred_on: The day it happened.
        recorded_at: The moment it was written, in UTC, to the microsecond.
        recorded_by: Who wrote it.
        body: What is recorded, under the profile of `ledger.chain.canonical`.

    Raises:
        InputError: A member has a form that an entry cannot carry. The body is looked
            at only when the entry is written.
    """

    seq: int
    prev: str
    kind: str
    occurred_on: date
    recorded_at: datetime
    recorded_by: str
    body: Mapping[str, JsonValue]

    def __post_init__(self) -> None:
        for name, holds, rule in (
            ("seq", _is_place(self.seq), "an integer from 0 to 2^53 - 1"),
            (
                "prev",
                _DIGEST_HEX.fullmatch(self.prev),
                "64 lower-case hexadecimal digits",
            ),
            (
                "kind",
                _KIND.fullmatch(self.kind),
                "lower-case words joined by dots, such as lot.moved",
            ),
            (
                "occurred_on",
                not isinstance(self.occurred_on, datetime),
                "a day without a time",
            ),
            (
                "recorded_at",
                self.recorded_at.utcoffset() == timedelta(0),
                "a moment in UTC",
            ),
            ("recorded_by", self.recorded_by, "text that is not empty"),
        ):
            if not holds:
                raise InputError(
                    f"{name} of the entry is {getattr(self, name)!r}; it must be {rule}"
                )


def entry_bytes(entry: Entry) -> bytes:
    """Return the canonical bytes of an entry, to be stored and hashed as they are.

    Raises:
        InputError: The body leaves the profile of canonical JSON.

    Source:
        RFC 8785, section 3.2.
    """
    return canonical_bytes(
        {
            "seq": entry.seq,
            "prev": entry.prev,
            "kind": entry.kind,
            "occurred_on": entry.occurred_on.isoformat(),
            "recorded_at": _moment_text(entry.recorded_at),
            "recorded_by": entry.recorded_by,
            "body": dict(entry.body),
        }
    )


def parse_entry(raw: bytes) -> Entry:
    """Read an entry from its canonical bytes.

    Raises:
        InputError: The bytes are not canonical, a member is missing, unknown or of
            the wrong type, or its text has another form than `entry_bytes` writes.
    """
    match parse_canonical(raw):
        case {
            "seq": int() as seq,
            "prev": str() as prev,
            "kind": str() as kind,
            "occurred_on": str() as occurred_on,
            "recorded_at": str() as recorded_at,
            "recorded_by": str() as recorded_by,
            "body": dict() as body,
            **others,
        } if not others:
            return Entry(
                seq=seq,
                prev=prev,
                kind=kind,
                occurred_on=_parse_day(occurred_on),
                recorded_at=_parse_moment(recorded_at),
                recorded_by=recorded_by,
                body=body,
            )
        case _:
            raise InputError(
                "an entry has the integer seq, the texts prev, kind, occurred_on, "
                "recorded_at and recorded_by, the object body, and nothing else"
            )


def leaf_digest(raw: bytes) -> bytes:
    """Return the digest of an entry's canonical bytes: 32 bytes.

    It is the link of the chain (`prev` of the next entry, in hexadecimal) and the leaf
    of the Merkle tree.

    Source:
        RFC 9162, section 2.1.1: the leaf hash is SHA-256(0x00 || entry).
    """
    return hashlib.sha256(b"\x00" + raw).digest()


def _is_place(seq: int) -> bool:
    return not isinstance(seq, bool) and 0 <= seq <= MAX_INTEGER


def _moment_text(moment: datetime) -> str:
    return moment.replace(tzinfo=None).isoformat(timespec="microseconds") + "Z"


def _parse_day(text: str) -> date:
    # The library reads more spellings of a day than the one that an entry may hold.
    try:
        day = date.fromisoformat(text)
    except ValueError:
        day = None
    if day is None or day.isoformat() != text:
        raise InputError(
            f"occurred_on of the entry is {text!r}; it must be a day such as 2026-03-02"
        )
    return day


def _parse_moment(text: str) -> datetime:
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        moment = None
    if moment is None or _moment_text(moment) != text:
        raise InputError(
            f"recorded_at of the entry is {text!r}; it must be a moment in UTC such "
            "as 2026-03-04T10:22:31.123456Z"
        )
    return moment.replace(tzinfo=UTC)
