"""Checking a pack from its own bytes, on a machine that has never seen the ledger."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path
from typing import Final, TypeVar

from ledger.audit.bag import bag_info_text, check_bag, oxum_of, payload_of, refuse_newer
from ledger.audit.conclusion import Findings, conclude
from ledger.audit.enclosed import enclosed
from ledger.audit.figure import (
    COMPUTED,
    COMPUTED_FILES,
    Asked,
    Figure,
    compare,
    figure_lines,
)
from ledger.audit.layout import ENTRIES, FIGURES, SCOPE, TREE_HEAD, Scope, TreeHead
from ledger.audit.papers import check_papers
from ledger.audit.record import RecordRead, first_entry, organisation_of, read_record
from ledger.audit.replay import TRIPPED, Ground, GroundFor, in_memory
from ledger.audit.scope import parse_scope, parse_tree_head
from ledger.audit.signatures import (
    Pinned,
    SignaturesRead,
    check_signatures,
    checkpoint_sizes,
)
from ledger.audit.source import (
    FileDigest,
    Source,
    check_around,
    digest_of,
    lines_in,
    open_source,
    whole,
)
from ledger.audit.verdict import Checked, Part, Verdict, Where, counted
from ledger.books.balance import Balance, breaches
from ledger.chain.checkpoint import SignedCheckpoint
from ledger.errors import InputError, LedgerError

_T = TypeVar("_T")
_NO_DATE: Final = (
    f"{SCOPE} does not say for which trade date, so they were not added up"
)


_NOBODY: Final = Pinned()


def check_pack(
    path: Path,
    *,
    kept: TreeHead | None = None,
    pinned: Pinned = _NOBODY,
    ground: GroundFor = in_memory,
) -> Verdict:
    """Check a pack: files, chain, tree head, signatures, sealed values, rules, figures.

    Args:
        path: The pack, a folder or a zip file.
        kept: A tree head that the reader kept from an earlier pack, or got another way;
            the entries must begin with those that it stands for.
        pinned: Keys and certificates that the reader has from their owners.
        ground: Gives an empty shelf, on which the entries of the pack are counted again.

    Raises:
        InputError: There is nothing that can be read as a pack, it is in a newer format,
            or the tree head kept covers nothing.
        SealError: It is not safe to read, or not a zip as packs are written.
    """
    if kept is not None and kept.size < 1:
        raise InputError(
            f"the tree head kept covers {kept.size} entries, which shows nothing; give "
            "one that covers at least the first"
        )
    with open_source(path) as source, ground(lines_in(source, ENTRIES)) as shelf:
        return _check(source, kept, pinned, shelf)


def _check(
    source: Source, kept: TreeHead | None, pinned: Pinned, ground: Ground
) -> Verdict:
    digests = {name: digest_of(source.chunks(name)) for name in source.names}
    refuse_newer(source, digests)
    small = Part("scope and tree head")
    scope = _read(source, SCOPE, parse_scope, small)
    stated = _read(source, TREE_HEAD, parse_tree_head, small)
    bag = _check_files(source, digests, scope)
    changed = {problem.where.file for problem in bag.problems}
    read = read_record(
        source,
        stated=stated,
        kept=kept,
        was_changed=ENTRIES in changed,
        sizes=checkpoint_sizes(source.names),
        portion=None if scope is None else scope.portion,
        ground=ground,
    )
    signatures = check_signatures(source, read, pinned)
    _check_scope(small, scope, read)
    asked = (
        None
        if scope is None
        else Asked(read.shelf, stated or read.head, scope.as_of, scope.portion)
    )
    figures = {
        figure.title: _check_figure(source, figure, digests, asked)
        for figure in COMPUTED
    }
    papers = check_papers(read.shelf, digests)
    short = _breaches(read)
    found = Findings(
        bag=bag,
        files=source.names,
        read=read,
        figures=figures,
        papers=papers.part,
        papers_missing=papers.missing,
        breaches=short,
        scope=scope,
        kept=kept,
        signatures=signatures,
    )
    around = Part("zip file", count=1)
    around.add_all(check_around(source, digests))
    parts = [
        *([(around, "as packs are written")] if source.is_zip else []),
        (bag, f"{counted(bag.count, 'file')}, none missing, added or changed"),
        (small, "as packs are written"),
        (
            read.chain,
            _chain_told(read),
        ),
        (read.tree, f"{read.head.root.hex()} stands for all entries"),
        *(
            [(read.kept, f"the first {read.kept.count} are as they were")]
            if kept
            else []
        ),
        *_signing_parts(signatures),
        (read.sealed, f"{read.sealed.count} shown belong, {read.hidden} stay sealed"),
        (
            read.rules,
            f"{counted(read.rules.count, 'entry')} judged afresh{_short(short)}",
        ),
        *(
            (part, f"{counted(part.count, 'row')}, as the entries give")
            for part in figures.values()
        ),
        (papers.part, f"{counted(papers.part.count, 'paper')}, as recorded"),
    ]
    return _verdict(parts, found)


def _signing_parts(found: SignaturesRead) -> list[tuple[Part, str]]:
    """Return the parts about signatures, of which a pack without any has none."""
    checkpoints = counted(found.signed.count, "checkpoint")
    upto = found.trusted.size if found.trusted else 0
    parts = [
        (found.signed, f"{checkpoints} of the entries, signed"),
        (found.trust, f"signed the first {upto} entries"),
        (found.proofs, f"{counted(found.proofs.count, 'proof')}, as the entries give"),
        (found.stamps, f"{found.stamps.count - found.unchecked_stamps} hold"),
    ]
    return [(part, detail) for part, detail in parts if part.count or not part.holds]


def _verdict(parts: list[tuple[Part, str]], found: Findings) -> Verdict:
    conclusions = conclude(found)
    checked: list[Checked] = [part.checked(detail) for part, detail in parts]
    return Verdict(
        checked=tuple(checked),
        problems=tuple(problem for part, _ in parts for problem in part.problems),
        proved=conclusions.proved,
        claimed=conclusions.claimed,
        not_checked=conclusions.not_checked,
        size=found.read.head.size,
        root=found.read.head.root,
        as_of=found.as_of,
        to_keep=_to_keep(found),
    )


def _to_keep(found: Findings) -> SignedCheckpoint | None:
    """Return the checkpoint that the reader may remember, whatever else is wrong."""
    read = found.read
    if read.chain.holds and read.tree.holds and read.kept.holds:
        return found.signatures.trusted
    return None


def _check_files(
    source: Source, digests: Mapping[str, FileDigest], scope: Scope | None
) -> Part:
    part = Part("files and digests", count=len(digests))
    organisation = organisation_of(first_entry(source))
    bag_info = None
    if organisation is not None and scope is not None:
        bag_info = bag_info_text(
            organisation=organisation,
            as_of=scope.as_of,
            made_on=scope.made_at.date(),
            oxum=oxum_of(payload_of(digests).values()),
        )
    part.add_all(
        check_bag(
            source,
            digests,
            figures=COMPUTED_FILES,
            bag_info=bag_info,
            beside=enclosed(),
        )
    )
    return part


def _read(
    source: Source, name: str, parse: Callable[[bytes], _T], part: Part
) -> _T | None:
    part.count += 1
    if name not in source.names:
        part.add(Where(name), "the file is missing; every pack has it")
        return None
    try:
        return parse(whole(source, name))
    except LedgerError as error:
        part.add(Where(name, 1), str(error))
        return None


def _check_scope(part: Part, scope: Scope | None, read: RecordRead) -> None:
    if scope is not None and scope.entries != read.head.size:
        part.add(
            Where(SCOPE, 1),
            f"the figures are for {scope.entries} entries, but the pack holds "
            f"{read.head.size}",
        )


def _check_figure(
    source: Source,
    figure: Figure,
    digests: Mapping[str, FileDigest],
    asked: Asked | None,
) -> Part:
    part = Part(figure.title)
    name = FIGURES + figure.file
    if asked is None:
        part.add(Where(name), _NO_DATE)
        return part
    if name not in digests:
        part.add(Where(name), "the file is missing, so there is nothing to compare")
        return part
    try:
        lines = _counted(figure_lines(figure, figure.rows(asked)), part)
        if digest_of(lines).sha256 == digests[name].sha256:
            return part
        # Where they differ is worth the memory that comparing row by row takes.
        rows = list(figure.rows(asked))
    except (LedgerError, *TRIPPED) as error:
        part.add(Where(name), f"the entries cannot be added up: {error}")
        return part
    part.add_all(compare(figure, whole(source, name), rows))
    return part


def _counted(lines: Iterable[bytes], part: Part) -> Iterator[bytes]:
    """Yield the lines of a table, and count its rows as they go by."""
    for number, line in enumerate(lines):
        part.count = number
        yield line


def _breaches(read: RecordRead) -> tuple[Balance, ...]:
    try:
        return tuple(breaches(read.shelf))
    except TRIPPED:
        # Told where the balances are compared.
        return ()


def _chain_told(read: RecordRead) -> str:
    count = read.not_shown.count
    digests = f", {count} of them as digests" if count else ""
    return f"{counted(read.head.size, 'entry')}{digests}, each linked to the one before"


def _short(short: tuple[Balance, ...]) -> str:
    if not short:
        return ", none refused"
    below = counted(len(short), "account")
    return f", none refused; {below} below zero on some date, as an open breach"
