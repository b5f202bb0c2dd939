"""Checking a pack together with other packs of the same maker."""

from collections.abc import Callable, Iterable
from dataclasses import replace
from pathlib import Path

from ledger.audit.agreement import Agreement, agreed, compare_packs
from ledger.audit.layout import ENTRIES
from ledger.audit.verdict import Verdict, Where, counted


def check_together(
    verdict: Verdict,
    pack: Path,
    others: Iterable[Path],
    *,
    check: Callable[[Path], Verdict],
) -> Verdict:
    """Return the verdict on a pack, with what comparing it with others adds.

    Args:
        verdict: What checking the pack by itself gave.
        pack: The pack.
        others: Other packs of the same maker.
        check: Checks one of those by itself.

    Raises:
        InputError: There is nothing that can be read as a pack.
        SealError: One is not safe to read.
    """
    for other in others:
        found = compare_packs(pack, other)
        if not check(other).holds:
            found.part.add(
                Where(ENTRIES),
                f"the pack {other.name} does not hold by itself, so it says little about "
                "this one; check it by itself to see why",
            )
        verdict = _with(verdict, found, other)
    return verdict


def _with(verdict: Verdict, found: Agreement, other: Path) -> Verdict:
    detail = f"the same {counted(found.same, 'entry')} in both"
    proved = (agreed(found, other),) if found.part.holds and verdict.holds else ()
    return replace(
        verdict,
        checked=(*verdict.checked, found.part.checked(detail)),
        problems=(*verdict.problems, *found.part.problems),
        proved=(*verdict.proved, *proved),
    )
