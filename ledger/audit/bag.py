"""The bag around a pack: manifests, the tag files, and their check.

All that stands in a tag file follows from the payload. So where a file and its digest
disagree, the check can tell which of the two was changed.

Source: RFC 8493 (The BagIt File Packaging Format, V1.0), sections 2.1 and 2.2.
"""

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from hashlib import sha256
from typing import Final

from ledger.audit.layout import (
    BAG_INFO,
    BAGIT,
    LISTED_TAG_FILES,
    MANIFEST,
    PACK_VERSION,
    TAG_MANIFEST,
    is_payload,
    required_payload,
)
from ledger.audit.source import FileDigest, Source, whole
from ledger.audit.verdict import Problem, Where
from ledger.audit.zipped import first_difference
from ledger.errors import InputError

BAGIT_TEXT: Final = b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
"""The bag declaration (RFC 8493, 2.1.1)."""

_VERSION_KEY: Final = "Pack-Format-Version"
_VERSION_LINE: Final = re.compile(rb"(?m)^Pack-Format-Version: ([0-9]{1,9})$")
_LISTED: Final = re.compile(rb"([0-9a-f]{64})  ([A-Za-z0-9._/-]+)")


@dataclass(frozen=True, slots=True)
class Listed:
    """What a manifest says of one file.

    Attributes:
        sha256: The digest.
        line: The line it stands on, counted from 1.
    """

    sha256: str
    line: int


def manifest_text(digests: Mapping[str, str]) -> bytes:
    """Return a manifest: one line a file, in byte order of the names.

    Args:
        digests: SHA-256 in hexadecimal by name.

    Source:
        RFC 8493, 2.1.3.
    """
    lines = (f"{digests[name]}  {name}\n" for name in sorted(digests))
    return "".join(lines).encode()


def bag_info_text(*, organisation: str, as_of: date, made_on: date, oxum: str) -> bytes:
    """Return what the bag says of itself.

    Args:
        organisation: Name of the maker as the opening entry states it.
        as_of: Trade date of the figures.
        made_on: Day the pack was made.
        oxum: Bytes and number of the payload files, joined by a full stop.

    Source:
        RFC 8493, 2.2.2; the last line is ours.
    """
    described = f"Audit pack of a certified-supply ledger, trade dates up to {as_of}"
    lines = {
        "Source-Organization": organisation,
        "External-Description": described,
        "Bagging-Date": made_on.isoformat(),
        "Payload-Oxum": oxum,
        _VERSION_KEY: str(PACK_VERSION),
    }
    return "".join(f"{label}: {value}\n" for label, value in lines.items()).encode()


def oxum_of(payload: Iterable[FileDigest]) -> str:
    """Return how much the payload is: bytes and files (RFC 8493, 2.2.2)."""
    sizes = [found.size for found in payload]
    return f"{sum(sizes)}.{len(sizes)}"


def payload_of(digests: Mapping[str, FileDigest]) -> dict[str, FileDigest]:
    """Return the files of the payload."""
    return {name: found for name, found in digests.items() if name.startswith("data/")}


def refuse_newer(source: Source, digests: Mapping[str, FileDigest]) -> None:
    """Refuse a pack that is written in a later format than this program reads.

    Raises:
        InputError: It says so, and its manifest agrees that it was made saying so.
    """
    if not {BAG_INFO, TAG_MANIFEST} <= digests.keys():
        return
    found = _VERSION_LINE.search(whole(source, BAG_INFO))
    if found is None or int(found[1]) <= PACK_VERSION:
        return
    if digests[BAG_INFO].sha256.encode() in whole(source, TAG_MANIFEST):
        raise InputError(
            f"{BAG_INFO} says that the pack is in format {int(found[1])}, and this "
            f"program reads formats up to {PACK_VERSION}; get the program's present "
            "version to check it"
        )


def check_bag(
    source: Source,
    digests: Mapping[str, FileDigest],
    *,
    figures: Iterable[str],
    bag_info: bytes | None,
    beside: Mapping[str, bytes],
) -> Iterator[Problem]:
    """Yield every file that is missing, added or changed, and every line that lies.

    Args:
        source: The pack.
        digests: What its files really are.
        figures: Names of the files of figures, without their folder.
        bag_info: What the tag file must say, or None where that cannot be told.
        beside: What this program encloses; another release may word it otherwise.
    """
    payload = payload_of(digests)
    tags, problems = _read_manifest(source, digests, TAG_MANIFEST)
    yield from problems
    listed, problems = _read_manifest(source, digests, MANIFEST)
    yield from problems
    sealed = tags.get(MANIFEST)
    changed: list[Problem] = []
    if MANIFEST in digests:
        trusted = sealed is None or sealed.sha256 == digests[MANIFEST].sha256
        changed += _check_payload(payload, listed, trusted=trusted)
    yield from changed
    manifest = manifest_text({name: found.sha256 for name, found in payload.items()})
    # What is counted over changed files says nothing about the tag file.
    counted = None if changed else bag_info
    wanted = {BAGIT: BAGIT_TEXT, BAG_INFO: counted, MANIFEST: manifest, **beside}
    yield from _check_tags(source, digests, tags, wanted)
    yield from _check_names(digests, tuple(figures))


def _check_names(
    digests: Mapping[str, FileDigest], figures: tuple[str, ...]
) -> Iterator[Problem]:
    for name in sorted({*LISTED_TAG_FILES, TAG_MANIFEST, *required_payload(figures)}):
        if name not in digests:
            yield Problem(Where(name), "the file is missing; every pack has it")
    for name in sorted(digests):
        if name in {*LISTED_TAG_FILES, TAG_MANIFEST} or is_payload(name, figures):
            continue
        yield Problem(
            Where(name),
            "the file has no place in a pack and was added; take it out and check again",
        )


def _check_tags(
    source: Source,
    digests: Mapping[str, FileDigest],
    listed: Mapping[str, Listed],
    wanted: Mapping[str, bytes | None],
) -> Iterator[Problem]:
    for name in sorted(listed.keys() - set(LISTED_TAG_FILES)):
        yield Problem(
            Where(TAG_MANIFEST, listed[name].line),
            f"the line lists {name}, which has no place there; the line was changed",
        )
    for name in LISTED_TAG_FILES:
        if name not in digests or TAG_MANIFEST not in digests:
            continue
        if name not in listed:
            yield Problem(Where(TAG_MANIFEST), f"no line lists {name}; one was changed")
            continue
        agrees = listed[name].sha256 == digests[name].sha256
        is_as_wanted = _is(digests[name], wanted[name])
        if not agrees and is_as_wanted:
            yield Problem(
                Where(TAG_MANIFEST, listed[name].line),
                f"the digest of {name} was changed; the file is as it must be",
            )
        elif not agrees or (name in {BAGIT, BAG_INFO} and is_as_wanted is False):
            yield _changed_tag(name, whole(source, name), wanted[name])


def _is(found: FileDigest, wanted: bytes | None) -> bool | None:
    return None if wanted is None else found.sha256 == sha256(wanted).hexdigest()


def _changed_tag(name: str, found: bytes, wanted: bytes | None) -> Problem:
    if wanted is None or name not in {BAGIT, BAG_INFO, MANIFEST}:
        return Problem(
            Where(name), f"the file is not the one that {TAG_MANIFEST} lists"
        )
    place = first_difference(found, wanted)
    line = found[:place].count(b"\n") + 1
    must = wanted.split(b"\n")[line - 1] if line <= wanted.count(b"\n") else b""
    return Problem(
        Where(name, line, byte=place),
        "the line is not what follows from the pack, "
        f"{must[:200].decode(errors='replace')!r}; one of the two was changed",
    )


def _check_payload(
    payload: Mapping[str, FileDigest], listed: Mapping[str, Listed], *, trusted: bool
) -> Iterator[Problem]:
    """Yield what differs between the payload and its manifest.

    Args:
        payload: What the files really are.
        listed: What the manifest says.
        trusted: Whether the manifest itself is as it was made.
    """
    for name in sorted({*payload, *listed}):
        found, said = payload.get(name), listed.get(name)
        if found is not None and said is not None and found.sha256 == said.sha256:
            continue
        if not trusted:
            yield Problem(
                Where(MANIFEST, None if said is None else said.line),
                f"what the manifest says of {name} and the file do not agree, and the "
                "manifest was changed",
            )
        elif found is None:
            yield Problem(Where(name), "the file is listed in the manifest but missing")
        elif said is None:
            yield Problem(
                Where(name), "the file was added; the manifest does not list it"
            )
        else:
            yield Problem(
                Where(name),
                "the file was changed after the pack was made: its digest is "
                f"{found.sha256}, and the manifest lists {said.sha256}",
            )


def _read_manifest(
    source: Source, digests: Mapping[str, FileDigest], name: str
) -> tuple[dict[str, Listed], list[Problem]]:
    """Return what a manifest lists, and which of its lines are not as they must be."""
    listed: dict[str, Listed] = {}
    problems: list[Problem] = []
    if name not in digests:
        return listed, problems
    *lines, rest = whole(source, name).split(b"\n")
    before = ""
    for number, raw in enumerate(lines, start=1):
        match = _LISTED.fullmatch(raw)
        if match is None:
            problems.append(
                Problem(
                    Where(name, number),
                    "the line is not a digest, two spaces and a name; it was changed",
                )
            )
            continue
        file = match[2].decode()
        if file <= before:
            problems.append(
                Problem(
                    Where(name, number),
                    f"{file} stands after {before}, out of order or twice; the lines were "
                    "changed",
                )
            )
        before = file
        listed.setdefault(file, Listed(match[1].decode(), number))
    if rest:
        problems.append(
            Problem(
                Where(name, len(lines) + 1),
                "the last line does not end; it was changed",
            )
        )
    return listed, problems
