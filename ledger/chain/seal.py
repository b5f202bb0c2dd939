"""Sealed values: a salted digest in the entry, the value itself beside it.

A sealed member leaves the body, and a digest takes its place in the array `_sd` of the
same object. Whoever holds the disclosure (salt, name and value) can put the member back
and show that it is the one that was recorded; anyone else learns only how many members
of the object are sealed. Deleting the disclosure erases the value for good and leaves
every digest of the chain as it was.

Source: RFC 9901 (Selective Disclosure for JSON Web Tokens), sections 4.2 and 7.1. Of
its forms this ledger uses the disclosure of object members, which may nest, with
SHA-256, the default hash; it does not use disclosures of array elements.
"""

import base64
import hashlib
import re
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from copy import deepcopy
from dataclasses import dataclass, field
from typing import Final

from ledger.chain.canonical import MAX_DEPTH, JsonValue, canonical_bytes, parse_json
from ledger.errors import InputError, SealError

MIN_SALT_BYTES: Final = 16
"""Least length of a salt: 128 bits (RFC 9901, section 9.3)."""

DIGESTS: Final = "_sd"
"""The member that holds the digests of what is sealed in an object."""

RESERVED_NAMES: Final = frozenset({DIGESTS, "_sd_alg", "..."})
"""Names that carry the sealing itself and so cannot name a member."""

_BASE64URL: Final = re.compile(r"[A-Za-z0-9_-]+")
_DIGEST_TEXT: Final = re.compile(r"[A-Za-z0-9_-]{43}")


@dataclass(frozen=True, slots=True)
class Disclosure:
    """What opens one sealed member.

    Attributes:
        salt: Random text that keeps the value from being guessed.
        name: Name of the member.
        value: Its value, which may hold sealed members of its own.
    """

    salt: str
    name: str
    value: JsonValue


@dataclass(frozen=True, slots=True)
class Sealed:
    """A body with members sealed, and what opens them.

    Attributes:
        body: The body to record.
        disclosures: Disclosure text by the dotted path of the member it opens.
    """

    body: Mapping[str, JsonValue]
    disclosures: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Hidden:
    """Members of one object that stay sealed.

    Attributes:
        within: Dotted path of the object, empty for the body itself.
        count: How many digests of it no disclosure was given for.
    """

    within: str
    count: int


@dataclass(frozen=True, slots=True)
class Opened:
    """A body with every disclosed member back in its place.

    Attributes:
        body: The body without any digests.
        hidden: What stays sealed, object by object; empty if nothing does.
    """

    body: Mapping[str, JsonValue]
    hidden: tuple[Hidden, ...]


def seal(
    body: Mapping[str, JsonValue],
    paths: Collection[str],
    *,
    new_salt: Callable[[], bytes],
) -> Sealed:
    """Seal members of a body.

    Args:
        body: The body as it was written; it is left as it is.
        paths: Which members, each by its dotted path, such as `customer.name` or
            `lines.0.price`; list positions count from 0. A member may be sealed
            together with members inside it. A name with a dot in it has no path.
        new_salt: Gives at least 16 fresh bytes from a cryptographic source of
            randomness at each call.

    Raises:
        InputError: There is no such member, the body uses a reserved name or leaves
            the profile of canonical JSON, or a salt is too short or came twice.

    Source:
        RFC 9901, sections 4.2.1, 4.2.3, 4.2.4, 4.2.6 and 9.3.
    """
    canonical_bytes(dict(body))
    remaining = deepcopy(dict(body))
    reserved = RESERVED_NAMES.intersection(_names(remaining))
    if reserved:
        raise InputError(
            f"the body has a member named {min(reserved)!r}, which is kept for "
            "sealing; give it another name"
        )
    disclosures: dict[str, str] = {}
    salts: set[bytes] = set()
    # The deepest first, so that an outer member is sealed with the digests inside it.
    for path in sorted(set(paths), key=lambda path: (-path.count("."), path)):
        salt = new_salt()
        if len(salt) < MIN_SALT_BYTES or salt in salts:
            raise InputError(
                f"the salt for {path} is shorter than {MIN_SALT_BYTES} bytes or was "
                "used before; draw a new one for each sealed member"
            )
        salts.add(salt)
        disclosures[path] = _seal_member(remaining, path, salt)
    return Sealed(remaining, disclosures)


def open_sealed(body: Mapping[str, JsonValue], disclosures: Iterable[str]) -> Opened:
    """Put disclosed members back into a body and drop the digests.

    Args:
        body: The body as it was recorded; it is left as it is.
        disclosures: Disclosure texts in any order. They are compared by the digest of
            the text as given, never written anew.

    Raises:
        SealError: A disclosure is malformed, belongs to no digest of the body, or names
            a member that is there already or a reserved name; a digest occurs twice or
            is malformed.

    Source:
        RFC 9901, section 7.1, steps 3 to 5.
    """
    given: dict[str, Disclosure] = {}
    for text in disclosures:
        disclosure = parse_disclosure(text)
        digest = disclosure_digest(text)
        if digest in given:
            raise SealError(f"the disclosure of {disclosure.name!r} was given twice")
        given[digest] = disclosure
    opening = _Opening(given)
    opened = opening.open_object(body, "", 1)
    strangers = sorted(given[digest].name for digest in given.keys() - opening.seen)
    if strangers:
        raise SealError(
            f"the disclosure of {strangers[0]!r} matches no digest in this entry; "
            "it was changed or belongs to another"
        )
    return Opened(opened, tuple(opening.hidden))


def parse_disclosure(text: str) -> Disclosure:
    """Read the disclosure of an object member.

    Raises:
        SealError: The text is not base64url without padding, or holds anything but a
            JSON array of salt, name and value, or the name is reserved or not ASCII.

    Source:
        RFC 9901, section 4.2.1.
    """
    # The library would pass over foreign characters in silence.
    if not _BASE64URL.fullmatch(text) or len(text) % 4 == 1:
        raise SealError("a disclosure is not base64url text without padding")
    try:
        parts = parse_json(base64.urlsafe_b64decode(text + "=" * (-len(text) % 4)))
    except InputError as error:
        raise SealError(f"a disclosure cannot be read: {error}") from error
    match parts:
        case [str() as salt, str() as name, value]:
            pass
        case _:
            raise SealError(
                "a disclosure must be an array of salt, name and value; this one is not"
            )
    if name in RESERVED_NAMES or not name.isascii():
        raise SealError(f"a disclosure names a member {name!r}, which cannot be one")
    return Disclosure(salt, name, value)


def disclosure_digest(text: str) -> str:
    """Return the digest of a disclosure as it stands in `_sd`: 43 characters.

    Args:
        text: The disclosure as it was given.

    Raises:
        SealError: The text is not ASCII.

    Source:
        RFC 9901, section 4.2.3 (base64url of SHA-256 over the ASCII text).
    """
    if not text.isascii():
        raise SealError("a disclosure is not base64url text without padding")
    return _base64url(hashlib.sha256(text.encode("ascii")).digest())


@dataclass(slots=True)
class _Opening:
    """What one opening has come across so far."""

    given: Mapping[str, Disclosure]
    seen: set[str] = field(default_factory=set)
    hidden: list[Hidden] = field(default_factory=list)

    def open_value(self, value: JsonValue, path: str, depth: int) -> JsonValue:
        if not isinstance(value, (Mapping, list, tuple)):
            return value
        # Disclosures inside disclosures could otherwise nest without end.
        if depth > MAX_DEPTH:
            raise SealError(f"{path} is nested more than {MAX_DEPTH} levels deep")
        if isinstance(value, Mapping):
            return self.open_object(value, path, depth)
        return [
            self.open_value(item, _join(path, str(position)), depth + 1)
            for position, item in enumerate(value)
        ]

    def open_object(
        self, members: Mapping[str, JsonValue], path: str, depth: int
    ) -> dict[str, JsonValue]:
        opened: dict[str, JsonValue] = {}
        for name, value in members.items():
            if name == DIGESTS:
                continue
            if name in RESERVED_NAMES:
                raise SealError(f"{_join(path, name)} uses a reserved name")
            opened[name] = self.open_value(value, _join(path, name), depth + 1)
        hidden = 0
        for digest in self._digests(members, path):
            disclosure = self.given.get(digest)
            if disclosure is None:
                hidden += 1
                continue
            place = _join(path, disclosure.name)
            if disclosure.name in opened:
                raise SealError(
                    f"a disclosure would put a second {place} into the body"
                )
            opened[disclosure.name] = self.open_value(
                disclosure.value, place, depth + 1
            )
        if hidden:
            self.hidden.append(Hidden(path, hidden))
        return opened

    def _digests(self, members: Mapping[str, JsonValue], path: str) -> Iterator[str]:
        digests = members.get(DIGESTS, [])
        place = _join(path, DIGESTS)
        if not isinstance(digests, (list, tuple)):
            raise SealError(f"{place} is not an array of digests")
        for digest in digests:
            if not isinstance(digest, str) or not _DIGEST_TEXT.fullmatch(digest):
                raise SealError(f"{place} holds something that is not a digest")
            if digest in self.seen:
                raise SealError(f"{place} repeats the digest {digest}")
            self.seen.add(digest)
            yield digest


def _seal_member(body: JsonValue, path: str, salt: bytes) -> str:
    # Puts the digest where the member was, and returns the disclosure.
    *parents, name = path.split(".")
    holder = body
    for parent in parents:
        holder = _children(holder).get(parent)
    if not isinstance(holder, dict) or name not in holder:
        raise InputError(
            f"the body has no member {path} to seal; name a member of an object"
        )
    disclosure = _base64url(canonical_bytes([_base64url(salt), name, holder.pop(name)]))
    digests = _children(holder.get(DIGESTS)).values()
    # Sorted, so that their order does not give away that of the members.
    holder[DIGESTS] = sorted([*digests, disclosure_digest(disclosure)], key=str)
    return disclosure


def _names(value: JsonValue) -> Iterator[str]:
    """Yield the name of every member of every object in a value."""
    if isinstance(value, Mapping):
        yield from value
    for child in _children(value).values():
        yield from _names(child)


def _children(value: JsonValue) -> Mapping[str, JsonValue]:
    """Return what stands directly in a value, by the step of a path to it."""
    if isinstance(value, Mapping):
        return value
    if isinstance(value, (list, tuple)):
        return {str(position): item for position, item in enumerate(value)}
    return {}


def _join(path: str, step: str) -> str:
    return f"{path}.{step}" if path else step


def _base64url(raw: bytes) -> str:
    return base64.urlsafe_b64encode(raw).rstrip(b"=").decode("ascii")
