"""Checking a pack of a stranger: in a process of its own, that may use so much and no more.

It is the check of `evenweight check`. But the pack comes from anybody, so whatever it may
contrive, it takes no more time and memory than this, and what serves the pages goes on.
"""

import json
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Final

from ledger.audit.heads import read_origin
from ledger.audit.layout import ENTRIES
from ledger.audit.source import lines_in, open_source
from ledger.desk.check import (
    check_pack_at,
    kept_from,
    pinned_by_hand,
    verdict_json,
)
from ledger.errors import InputError, LedgerError, RefusedError

MOST_ENTRIES: Final = 20_000
MOST_SECONDS: Final = 300
MOST_MEMORY: Final = 2 * 2**30
_REFUSED: Final = 2


@dataclass(frozen=True, slots=True)
class Told:
    """One part of a check, or one thing that does not hold.

    Attributes:
        about: The part, or the place.
        says: What was found.
        holds: Whether it holds.
    """

    about: str
    says: str
    holds: bool


@dataclass(frozen=True, slots=True)
class CheckedApart:
    """What came of checking a pack.

    Attributes:
        origin: What the maker signs as; empty where nothing is signed.
        holds: Whether every part of the check holds.
        entries: Number of entries read.
        signed_entries: How many of them a checkpoint covers under the key given.
        tree_head: Root of the tree over them, in hexadecimal.
        as_of: Trade date of the figures; None where the pack says none.
        parts: Every part of the check.
        problems: What does not hold, located.
        proved: What the reader can rely on.
        claimed: What rests on the maker's word.
        not_checked: What no reading of the pack can tell.
    """

    origin: str
    holds: bool
    entries: int
    signed_entries: int
    tree_head: str
    as_of: date | None
    parts: tuple[Told, ...]
    problems: tuple[Told, ...]
    proved: tuple[str, ...]
    claimed: tuple[str, ...]
    not_checked: tuple[str, ...]


def check_apart(path: Path, *, kept: str = "", key: str = "") -> CheckedApart:
    """Check a pack in a process of its own.

    Args:
        path: The zip file.
        kept: The last checkpoint that the reader kept, as SIZE:ROOT; empty for none.
        key: Line of the maker's key that the reader has; empty for none.

    Raises:
        InputError: It cannot be read as a pack, or what was given beside it cannot.
        RefusedError: It takes more time or memory than there is for it here.
    """
    try:
        done = subprocess.run(  # noqa: S603 - our own module, nothing of it is typed
            [sys.executable, "-I", "-m", __name__],
            input=json.dumps({"path": str(path), "kept": kept, "key": key}),
            capture_output=True,
            text=True,
            timeout=MOST_SECONDS,
            check=False,
        )
    except subprocess.TimeoutExpired:
        raise _too_much(f"more than {MOST_SECONDS} seconds") from None
    if done.returncode == _REFUSED:
        raise InputError(done.stderr.strip())
    if done.returncode:
        raise _too_much("more memory or time")
    return _read(json.loads(done.stdout))


def _too_much(what: str) -> RefusedError:
    return RefusedError(
        f"checking the pack takes {what} than a server gives to one reader; check it on "
        "your own machine with `evenweight check`, with verify.py, or in the page that "
        "sends nothing"
    )


def _read(told: Mapping[str, object]) -> CheckedApart:
    verdict = json.loads(str(told["verdict"]))
    return CheckedApart(
        origin=str(told["origin"] or ""),
        holds=verdict["holds"],
        entries=verdict["entries"],
        signed_entries=verdict["signed_entries"],
        tree_head=verdict["tree_head"],
        as_of=verdict["as_of"] and date.fromisoformat(verdict["as_of"]),
        parts=tuple(
            Told(one["name"], one["detail"], one["holds"]) for one in verdict["checked"]
        ),
        problems=tuple(
            Told(_place(one), one["sentence"], holds=False)
            for one in verdict["problems"]
        ),
        proved=tuple(verdict["proved"]),
        claimed=tuple(verdict["claimed"]),
        not_checked=tuple(verdict["not_checked"]),
    )


def _place(problem: Mapping[str, object]) -> str:
    words = {"line": "line", "seq": "entry", "byte": "byte"}
    told = [str(problem["file"])]
    told += [
        f"{word} {problem[name]}"
        for name, word in words.items()
        if problem[name] is not None
    ]
    return ", ".join(told)


def _limit_ourselves() -> None:
    if sys.platform == "win32":
        return
    import resource

    # One second more, so that the clock of the parent decides and tells it in words.
    resource.setrlimit(resource.RLIMIT_CPU, (MOST_SECONDS + 1, MOST_SECONDS + 1))
    resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def _check(asked: Mapping[str, str]) -> Mapping[str, str | None]:
    path = Path(asked["path"])
    with open_source(path) as source:
        entries = lines_in(source, ENTRIES)
    if entries > MOST_ENTRIES:
        raise InputError(
            f"the pack has {entries} entries, more than the {MOST_ENTRIES} that a server "
            "checks for a reader; check it on your own machine with `evenweight check`"
        )
    verdict = check_pack_at(
        path,
        kept=kept_from(asked["kept"]) if asked["kept"] else None,
        pinned=pinned_by_hand(asked["key"] or None, (), None),
    )
    return {"origin": read_origin(path), "verdict": verdict_json(verdict)}


if __name__ == "__main__":
    _limit_ourselves()
    try:
        json.dump(_check(json.load(sys.stdin)), sys.stdout)
    except LedgerError as error:
        sys.stderr.write(str(error))
        sys.exit(_REFUSED)
