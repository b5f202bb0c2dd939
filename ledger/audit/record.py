"""Reading the record in a pack: chain, tree head, sealed values, and the books.

One pass over the entries, one of them in memory at a time. After anything that does
not hold the reading goes on, so that one change does not hide another.
"""

from collections.abc import Collection, Iterator
from dataclasses import dataclass, field

from ledger.audit.disclosures import DisclosureCheck
from ledger.audit.joints import JointCheck
from ledger.audit.layout import ENTRIES, TREE_HEAD, TreeHead
from ledger.audit.replay import Ground, Replay
from ledger.audit.source import Line, Source, lines_of
from ledger.audit.verdict import Part, Where
from ledger.audit.withheld import NotShown, entry_or_withheld
from ledger.books.portion import Portion
from ledger.books.shelf import Shelf
from ledger.chain.canonical import JsonValue
from ledger.chain.entry import FORMAT_VERSION, Entry
from ledger.chain.link import Link, Withheld, check_links
from ledger.errors import LedgerError


@dataclass(slots=True)
class RecordRead:
    """What reading the record found.

    Attributes:
        head: What stands for the entries as they are.
        hidden: How many sealed values stay sealed.
        shelf: The books, added up from the entries.
        not_shown: The entries of which only the digest is given.
        first: The first entry, if it can be read.
        last: The last entry that can be read.
        roots: Roots of the tree over the first entries, by the sizes asked for.
        clock_back: Numbers of entries whose moment lies before that of the entry before.
        chain: Whether the entries form one chain.
        tree: Whether the tree head in the pack is theirs.
        kept: Whether a tree head from elsewhere is that of their beginning.
        sealed: Whether the disclosures belong to the entries.
        rules: Whether the books let every entry in.
    """

    head: TreeHead
    hidden: int
    shelf: Shelf
    not_shown: NotShown
    first: Entry | None = None
    last: Entry | None = None
    roots: dict[int, bytes] = field(default_factory=dict)
    clock_back: list[int] = field(default_factory=list)
    chain: Part = field(default_factory=lambda: Part("chain of entries"))
    tree: Part = field(default_factory=lambda: Part("tree head"))
    kept: Part = field(default_factory=lambda: Part("tree head kept from before"))
    sealed: Part = field(default_factory=lambda: Part("sealed values"))
    rules: Part = field(default_factory=lambda: Part("rules of the books"))


def read_record(
    source: Source,
    *,
    stated: TreeHead | None,
    kept: TreeHead | None,
    was_changed: bool,
    sizes: Collection[int] = (),
    portion: Portion | None = None,
    ground: Ground | None = None,
) -> RecordRead:
    """Read the entries and disclosures of a pack.

    Args:
        source: The pack.
        stated: The tree head in the pack, if it can be read.
        kept: A tree head that the reader has from elsewhere, if any.
        was_changed: Whether the digest of the entries is known not to be theirs.
        sizes: Numbers of entries for which the root is wanted besides.
        portion: The part of the ledger that the pack shows; None for the whole of it.
        ground: An empty shelf to count on; one in memory where left out.
    """
    joints, replay = JointCheck(), Replay(portion, ground)
    head = TreeHead(0, joints.tree.root())
    not_shown = NotShown(stated.root if stated else head.root)
    read = RecordRead(head, 0, replay.shelf, not_shown)
    disclosures = DisclosureCheck(source, read.sealed)
    wanted = {*sizes, *([kept.size] if kept else [])}
    line = None
    for line, link in _joined(source, read, joints, stated, wanted):
        place = joints.tree.size - 1
        if link.entry is not None:
            _take(read, place, line, link.entry, disclosures, replay)
        elif link.is_withheld:
            _pass_over(read, place, line, is_whole=portion is None)
    disclosures.finish()
    read.head = TreeHead(joints.tree.size, joints.tree.root())
    read.hidden = disclosures.hidden
    read.chain.count, read.rules.count = read.head.size, replay.judged
    _check_end(read, line)
    _check_head(read, stated, line if was_changed else None)
    _check_kept(read, kept)
    return read


def _joined(
    source: Source,
    read: RecordRead,
    joints: JointCheck,
    stated: TreeHead | None,
    wanted: Collection[int],
) -> Iterator[tuple[Line, Link]]:
    """Yield every line with its link, once it stands in the chain and in the tree.

    After the last, what the tree head decides is noted.
    """
    places: list[Line] = []
    for line, link in _links(source):
        joints.take(link)
        places = [*places[-2:], line]
        _note_broken(read.chain, joints, places)
        if joints.tree.size in wanted:
            read.roots[joints.tree.size] = joints.tree.root()
        yield line, link
    joints.finish(*((stated.size, stated.root) if stated else (None, None)))
    _note_broken(read.chain, joints, places)


def organisation_of(entry: Entry | None) -> str | None:
    """Return the maker's name as the opening entry states it, if it does."""
    name = None if entry is None else entry.body.get("organisation_name")
    return name if isinstance(name, str) else None


def first_entry(source: Source) -> Entry | None:
    """Return the first entry of a pack, if it can be read."""
    for _, link in _links(source):
        return link.entry
    return None


def _links(source: Source) -> Iterator[tuple[Line, Link]]:
    if ENTRIES not in source.names:
        return
    current: Line | None = None

    def raws() -> Iterator[bytes | Withheld]:
        nonlocal current
        for current in lines_of(source, ENTRIES):
            yield entry_or_withheld(current.raw)

    for link in check_links(raws()):
        if current is not None:
            yield current, link


def _pass_over(read: RecordRead, place: int, line: Line, *, is_whole: bool) -> None:
    read.not_shown.add(place)
    if is_whole:
        read.chain.add(
            _where(line),
            "the pack says that it shows the whole ledger, but of this entry it gives only "
            "the digest; ask for the entry",
        )
    elif place == 0:
        read.chain.add(
            _where(line),
            "the first entry is not shown, which says whose ledger it is; every pack "
            "shows it",
        )


def _take(
    read: RecordRead,
    place: int,
    line: Line,
    entry: Entry,
    disclosures: DisclosureCheck,
    replay: Replay,
) -> None:
    if place == 0:
        read.first = entry
    if read.last is not None and entry.recorded_at < read.last.recorded_at:
        read.clock_back.append(place)
    read.last = entry
    given = disclosures.open(place, entry)
    newer = _newer(entry.body.get("format_version"))
    if place == 0 and newer:
        read.rules.add(_where(line), newer)
    try:
        replay.judge(entry, given, raw=line.raw)
    except LedgerError as error:
        read.rules.add(
            _where(line), f"the books refuse the entry ({entry.kind}): {error}"
        )


def _newer(version: JsonValue) -> str | None:
    if not isinstance(version, int) or version <= FORMAT_VERSION:
        return None
    return (
        f"the entries are in format {version}, and this program reads formats up to "
        f"{FORMAT_VERSION}; get the program's present version to check them"
    )


def _note_broken(part: Part, joints: JointCheck, places: list[Line]) -> None:
    for broken in joints.broken:
        # Only the last three entries can be meant.
        line = places[broken.place - joints.tree.size]
        part.add(_where(line), broken.problem)
    joints.broken.clear()


def _check_end(read: RecordRead, last: Line | None) -> None:
    if last is None:
        read.chain.add(Where(ENTRIES), "there is not one entry in the pack")
    elif not last.ended:
        read.chain.add(_where(last), "the last line does not end; the file was cut")


def _check_head(
    read: RecordRead, stated: TreeHead | None, changed: Line | None
) -> None:
    """Compare the tree head in the pack with the entries.

    Args:
        read: What was read.
        stated: The tree head, if it can be read.
        changed: The last line, if the file of entries is known to be changed.
    """
    read.tree.count = 1
    if stated is None or stated == read.head:
        return
    if stated.size != read.head.size:
        read.tree.add(
            Where(TREE_HEAD, 1),
            f"the tree head covers {stated.size} entries, but the pack holds "
            f"{read.head.size}",
        )
    elif not read.chain.holds:
        read.tree.add(
            Where(TREE_HEAD, 1),
            "the tree head is not that of the entries, which changed",
        )
    elif changed is not None:
        read.tree.add(
            _where(changed),
            f"{_unconfirmed(read)} was changed: every other one is confirmed by the one "
            "after it, and the tree head is not theirs",
        )
    else:
        read.tree.add(
            Where(TREE_HEAD, 1),
            f"the tree head is {stated.root.hex()}, but the entries give "
            f"{read.head.root.hex()}: it, or {_unconfirmed(read)}, was changed",
        )


def _unconfirmed(read: RecordRead) -> str:
    if read.not_shown.count:
        return "the last entry, or one of which the next line gives only the digest"
    return "the last entry"


def _check_kept(read: RecordRead, kept: TreeHead | None) -> None:
    if kept is None:
        return
    read.kept.count = kept.size
    if kept.size > read.head.size:
        read.kept.add(
            Where(ENTRIES),
            f"the tree head that you kept covers {kept.size} entries, but the pack holds "
            f"only {read.head.size}: entries were taken away at the end, or it is an old "
            "pack",
        )
    elif read.roots.get(kept.size) != kept.root:
        read.kept.add(
            Where(ENTRIES),
            f"the first {kept.size} entries are not those of the tree head that you kept: "
            "one of them was edited, deleted, put in or moved, or the record was rewritten "
            "whole or split in two since then",
        )


def _where(line: Line) -> Where:
    return Where(ENTRIES, line.number, line.number - 1, line.start)
