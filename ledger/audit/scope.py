"""Two small files of a pack: what its figures cover, and its tree head."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Final

from ledger.audit.layout import SCOPE, TREE_HEAD, Scope, TreeHead
from ledger.books.portion import Portion
from ledger.chain.canonical import JsonValue, canonical_bytes, parse_canonical
from ledger.chain.tree import DIGEST_SIZE
from ledger.errors import InputError

_PORTION: Final = frozenset({"scheme", "from", "until", "sale"})


def scope_text(scope: Scope) -> bytes:
    """Return what the figures cover, as one line of canonical JSON."""
    told: dict[str, JsonValue] = {
        "as_of": scope.as_of.isoformat(),
        "entries": scope.entries,
        "made_at": _moment_text(scope.made_at),
        "made_by": scope.made_by,
    }
    if scope.portion is not None:
        told["portion"] = _portion_told(scope.portion)
    if scope.profile is not None:
        told["profile"] = scope.profile
    return _line(told)


def _portion_told(portion: Portion) -> dict[str, JsonValue]:
    told = {
        "scheme": portion.scheme,
        "from": None if portion.since is None else portion.since.isoformat(),
        "until": None if portion.until is None else portion.until.isoformat(),
        "sale": portion.sale,
    }
    return {name: value for name, value in told.items() if value is not None}


def parse_scope(raw: bytes) -> Scope:
    """Read what the figures cover.

    Raises:
        InputError: The bytes are not what `scope_text` writes.
    """
    match _parse_line(raw, SCOPE):
        case {
            "as_of": str() as as_of,
            "entries": int() as entries,
            "made_at": str() as made_at,
            "made_by": str() as made_by,
            **others,
        } if others.keys() <= {"portion", "profile"}:
            scope = _scope_of(as_of, entries, made_at, made_by)
        case _:
            raise InputError(
                f"{SCOPE} must hold the day as_of, the number entries, the moment made_at "
                "and the text made_by, may hold portion and profile, and nothing else"
            )
    if scope is not None:
        scope = _with_others(scope, others)
    if scope is None or scope_text(scope) != raw:
        raise InputError(
            f"{SCOPE} holds something else than a day, a number and a moment in UTC, or is "
            "not written as packs are"
        )
    return scope


def tree_head_text(head: TreeHead) -> bytes:
    """Return a tree head as one line of canonical JSON."""
    return _line({"size": head.size, "root": head.root.hex()})


def parse_tree_head(raw: bytes) -> TreeHead:
    """Read a tree head.

    Raises:
        InputError: The bytes are not what `tree_head_text` writes.
    """
    match _parse_line(raw, TREE_HEAD):
        case {"size": int() as size, "root": str() as root, **others} if not others:
            head = _head_of(size, root)
        case _:
            head = None
    if head is None or tree_head_text(head) != raw:
        raise InputError(
            f"{TREE_HEAD} must hold the number size and the digest root in hexadecimal, "
            "and nothing else"
        )
    return head


def _scope_of(as_of: str, entries: int, made_at: str, made_by: str) -> Scope | None:
    try:
        day, moment = date.fromisoformat(as_of), datetime.fromisoformat(made_at)
    except ValueError:
        return None
    if moment.utcoffset() != timedelta(0) or isinstance(entries, bool):
        return None
    return Scope(day, moment, made_by, entries)


def _with_others(scope: Scope, others: Mapping[object, object]) -> Scope | None:
    profile, portion = others.get("profile"), others.get("portion")
    if profile is not None and not isinstance(profile, str):
        return None
    if portion is None:
        return replace(scope, profile=profile)
    found = _portion_of(portion)
    return None if found is None else replace(scope, profile=profile, portion=found)


def _portion_of(value: object) -> Portion | None:
    if not isinstance(value, dict) or not value or not value.keys() <= _PORTION:
        return None
    texts = {name: text for name, text in value.items() if isinstance(text, str)}
    if len(texts) < len(value) or ("sale" in texts and len(texts) > 1):
        return None
    try:
        since, until = (
            date.fromisoformat(texts[name]) if name in texts else None
            for name in ("from", "until")
        )
    except ValueError:
        return None
    return Portion(texts.get("scheme"), since, until, texts.get("sale"))


def _head_of(size: int, root: str) -> TreeHead | None:
    try:
        digest = bytes.fromhex(root)
    except ValueError:
        return None
    if len(digest) != DIGEST_SIZE or isinstance(size, bool):
        return None
    return TreeHead(size, digest)


def _line(value: JsonValue) -> bytes:
    return canonical_bytes(value) + b"\n"


def _parse_line(raw: bytes, name: str) -> JsonValue:
    try:
        return parse_canonical(raw.removesuffix(b"\n"))
    except InputError as error:
        raise InputError(
            f"{name} is not one line of canonical JSON: {error}"
        ) from error


def _moment_text(moment: datetime) -> str:
    in_utc = moment.astimezone(UTC).replace(tzinfo=None)
    return in_utc.isoformat(timespec="microseconds") + "Z"
