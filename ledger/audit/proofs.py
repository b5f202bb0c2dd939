"""Proofs between checkpoints: each continues the one before, and none is missing."""

from collections.abc import Mapping
from itertools import pairwise

from ledger.audit.layout import CONSISTENCY, checkpoint_size, step_sizes
from ledger.audit.source import Source, text_of
from ledger.audit.verdict import Part, Where
from ledger.chain.checkpoint import SignedCheckpoint
from ledger.chain.extension import Extension, check_extension, parse_extension
from ledger.chain.note import MAX_NOTE, Note
from ledger.errors import LedgerError, SealError


def check_proofs(
    source: Source,
    roots: Mapping[int, bytes],
    good: Mapping[int, SignedCheckpoint],
    part: Part,
) -> None:
    """Check every proof between two checkpoints of a pack.

    Args:
        source: The pack.
        roots: Roots over the first entries, by the sizes that its files name.
        good: The checkpoints that are of the record and signed, by size.
        part: Where to note what does not hold.
    """
    sizes = sorted(size for name in source.names if (size := checkpoint_size(name)))
    wanted = dict.fromkeys(pairwise(sizes))
    for name in source.names:
        step = step_sizes(name)
        if step is None:
            continue
        part.count += 1
        try:
            if step not in wanted:
                raise SealError("the proof is not between two neighbouring checkpoints")
            del wanted[step]
            extension = parse_extension(text_of(source, name, most=MAX_NOTE))
            _check_proof(extension, step, roots, good)
        except LedgerError as error:
            part.add(Where(name), str(error))
    for old, size in wanted:
        where = Where(f"{CONSISTENCY}{old}-{size}.txt")
        part.add(where, "the proof between two neighbouring checkpoints is missing")


def _check_proof(
    extension: Extension,
    step: tuple[int, int],
    roots: Mapping[int, bytes],
    good: Mapping[int, SignedCheckpoint],
) -> None:
    old, size = step
    if (extension.old_size, extension.signed.size) != step:
        raise SealError("the proof is for other sizes than its name says")
    if size in good and not _is_same(extension.signed.note, good[size].note):
        raise SealError("the proof is for another checkpoint than the pack has")
    check_extension(extension, old_root=roots.get(old, b""))


def _is_same(repeated: Note, kept: Note) -> bool:
    """Tell whether a note repeats another, of which it may have fewer signatures."""
    same_text = repeated.text == kept.text
    return same_text and set(repeated.signatures) <= set(kept.signatures)
