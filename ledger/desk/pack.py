"""Packing: what a certifier gets, made from one moment of the ledger."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from functools import partial
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Final, TypeAlias

from ledger.audit.figure import Asked, sales_drawn
from ledger.audit.layout import Scope, TreeHead
from ledger.audit.record import organisation_of
from ledger.audit.replay import Ground
from ledger.audit.writing import Contents, write_pack
from ledger.books.lookup import expect
from ledger.books.portion import Portion
from ledger.books.shelf import Shelf
from ledger.chain.entry import parse_entry
from ledger.chain.link import Withheld
from ledger.desk.portion import entries_needed, shelf_of_portion, stream_shown
from ledger.desk.showing import Reader, shown_disclosures
from ledger.desk.signed_pack import Signed
from ledger.errors import InputError
from ledger.store.entries import entry_raw, frontier
from ledger.store.shelf import SqlShelf
from ledger.trade.control import DocumentAttached
from ledger.trade.profile import USUAL, Profile

if TYPE_CHECKING:
    from ledger.store.rows import Rows

_NO_REPORTS: Final[Mapping[str, bytes]] = MappingProxyType({})
_NO_DOCUMENTS: Final[Mapping[str, Path]] = MappingProxyType({})
_NOTHING_SIGNED: Final = Signed()


@dataclass(frozen=True, slots=True)
class ToReport:
    """What the reports in a pack are about.

    Attributes:
        shelf: What is recorded.
        head: What stands for the entries.
        scope: What the figures cover.
        sampled: Names of the sales to walk back to their purchases.
        entries: Yields canonical bytes of every entry, or the digest of one that is not
            shown.
    """

    shelf: Shelf
    head: TreeHead
    scope: Scope
    sampled: tuple[str, ...]
    entries: Callable[[], Iterator[bytes | Withheld]]

    @property
    def figures(self) -> Asked:
        """What the figures of the pack are asked of."""
        return Asked(self.shelf, self.head, self.scope.as_of, self.scope.portion)


Reports: TypeAlias = Mapping[str, bytes] | Callable[[ToReport], Mapping[str, bytes]]
"""Content of each report by its file name, or what makes them."""


@dataclass(frozen=True, slots=True)
class Packed:
    """A pack that was written.

    Attributes:
        path: Where it is.
        size: Number of entries that it stands for.
        shown: How many of them it shows.
        root: Their tree head, 32 bytes.
        files: Number of files in it.
        sampled: Names of the sales drawn for a walk back to their purchases.
        signed: Number of entries that the last signed checkpoint in it covers.
    """

    path: Path
    size: int
    shown: int
    root: bytes
    files: int
    sampled: tuple[str, ...]
    signed: int


@dataclass(frozen=True, slots=True)
class Wanted:
    """What somebody wants a pack to show.

    Attributes:
        as_of: Trade date up to which figures are added up.
        portion: The part of the ledger; None for the whole of it.
        profile: The profile that says which sealed values are shown; None for the usual.
    """

    as_of: date
    portion: Portion | None = None
    profile: Profile | None = None

    def __post_init__(self) -> None:
        until = None if self.portion is None else self.portion.until
        if until is not None and self.as_of > until:
            raise InputError(
                f"as_of is {self.as_of}, but the pack shows what happened until {until}; "
                "give a date that is not later"
            )


@dataclass(frozen=True, slots=True)
class Selected:
    """What of a ledger goes into a pack.

    Attributes:
        shelf: The books as the reader of the pack will have them.
        reader: Who it is made for.
        sampled: Names of the sales drawn for a walk back to their purchases.
    """

    shelf: Shelf
    reader: Reader
    sampled: tuple[str, ...]


def select(
    rows: "Rows", root: bytes, wanted: Wanted, *, ground: Ground | None = None
) -> Selected:
    """Return what of a ledger goes into a pack.

    Args:
        rows: The ledger, as it stands at one moment.
        root: Its tree head, 32 bytes.
        wanted: What is wanted.
        ground: An empty shelf on which a part is counted; one in memory where left out.

    Raises:
        NotFoundError: Nothing is recorded of the scheme or sale that it is about.
        SealError: The part cannot be shown by itself.
    """
    whole, portion = SqlShelf(rows), wanted.portion
    profile = wanted.profile or USUAL
    drawn = sales_drawn(Asked(whole, TreeHead(0, root), wanted.as_of, portion))
    sampled = tuple(sale.sale for sale in drawn)
    if portion is None:
        reader = Reader.of(profile, whole, sampled)
        # Figures and reports know no more than their reader may see.
        opened = frozenset(text for _, text in shown_disclosures(rows, reader))
        return Selected(SqlShelf(rows, only=opened), reader, sampled)
    entries = entries_needed(rows, portion, as_of=wanted.as_of)
    reader = Reader.of(profile, whole, sampled, portion=portion, entries=entries)
    shown: dict[int, list[str]] = {}
    for seq, text in shown_disclosures(rows, reader):
        shown.setdefault(seq, []).append(text)
    part = shelf_of_portion(
        rows, portion, entries, shown, as_of=wanted.as_of, ground=ground
    )
    return Selected(part, reader, sampled)


def make_pack(
    rows: "Rows",
    *,
    out: Path,
    as_of: date,
    made_at: datetime,
    made_by: str,
    portion: Portion | None = None,
    profile: Profile | None = None,
    reports: Reports = _NO_REPORTS,
    documents: Mapping[str, Path] = _NO_DOCUMENTS,
    signed: Signed = _NOTHING_SIGNED,
    replace: bool = False,
) -> Packed:
    """Write the audit pack of a ledger, or of a part of it.

    Args:
        rows: The ledger, as it stands at one moment.
        out: Where to; a zip file if the name ends in .zip, else a folder.
        as_of: Trade date up to which figures are added up.
        made_at: The moment, in UTC.
        made_by: Who makes it.
        portion: The part of the ledger that it shows; None for the whole of it.
        profile: The profile that says which sealed values it shows; None for the usual.
        reports: What people read.
        documents: File of each attached paper by its SHA-256 in hexadecimal; those that
            no entry shown records, or that the profile does not show, are left out.
        signed: What was signed for the ledger, and stamped.
        replace: Whether a pack that is there already may be overwritten.

    Raises:
        NotFoundError: The ledger has no entry yet, or nothing is recorded of the scheme
            or sale that is wanted.
        ConflictError: Something is at that place already.
        InputError: A report or paper cannot go into a pack, or it cannot be written.
        SealError: The stored entries do not give the tree head that is kept, or the part
            cannot be shown by itself.
    """
    organisation = organisation_of(parse_entry(entry_raw(rows, 0)))
    if organisation is None:
        raise InputError(
            "the first entry does not name the maker, so it opens no ledger; verify the "
            "ledger before packing it"
        )
    tree = frontier(rows)
    head = TreeHead(tree.size, tree.root())
    selected = select(rows, head.root, Wanted(as_of, portion, profile))
    scope = Scope(
        as_of=as_of,
        made_at=made_at,
        made_by=made_by,
        entries=head.size,
        portion=portion,
        profile=None if profile is None else str(profile),
    )
    entries = partial(stream_shown, rows, selected.reader.entries)
    made = (
        reports
        if isinstance(reports, Mapping)
        else reports(ToReport(selected.shelf, head, scope, selected.sampled, entries))
    )
    contents = Contents(
        organisation=organisation,
        scope=scope,
        head=head,
        entries=entries(),
        disclosures=shown_disclosures(rows, selected.reader),
        shelf=selected.shelf,
        reports=made,
        documents=_recorded(selected, documents),
        checkpoints=signed.checkpoints,
        extensions=signed.extensions,
        timestamps=signed.timestamps,
    )
    files = write_pack(contents, out, replace=replace)
    upto = signed.checkpoints[-1].size if signed.checkpoints else 0
    shown = selected.reader.entries
    return Packed(
        path=out,
        size=head.size,
        shown=head.size if shown is None else len(shown),
        root=head.root,
        files=files,
        sampled=selected.sampled,
        signed=upto,
    )


def _recorded(selected: Selected, documents: Mapping[str, Path]) -> Mapping[str, Path]:
    """Return the papers that the pack may carry."""
    if selected.reader.profile.papers == "none" or not documents:
        return _NO_DOCUMENTS
    recorded = {
        expect(found.record, DocumentAttached).sha256
        for found in selected.shelf.of_kind("document.attached")
    }
    return {name: path for name, path in documents.items() if name in recorded}
