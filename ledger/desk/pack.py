"""Packing: what a certifier gets, made from one moment of the ledger."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Final, TypeAlias

from ledger.audit.figure import SAMPLED_SALES
from ledger.audit.layout import Scope, TreeHead
from ledger.audit.record import organisation_of
from ledger.audit.writing import Contents, write_pack
from ledger.books.sampling import sampled_sales
from ledger.books.shelf import Shelf
from ledger.chain.entry import parse_entry
from ledger.desk.showing import customers_of, shown_disclosures
from ledger.desk.signed_pack import Signed
from ledger.errors import InputError
from ledger.store.entries import entry_raw, frontier, stream_raws
from ledger.store.shelf import SqlShelf

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
    """

    shelf: Shelf
    head: TreeHead
    scope: Scope
    sampled: tuple[str, ...]


Reports: TypeAlias = Mapping[str, bytes] | Callable[[ToReport], Mapping[str, bytes]]
"""Content of each report by its file name, or what makes them."""


@dataclass(frozen=True, slots=True)
class Packed:
    """A pack that was written.

    Attributes:
        path: Where it is.
        size: Number of entries in it.
        root: Their tree head, 32 bytes.
        files: Number of files in it.
        sampled: Names of the sales drawn for a walk back to their purchases.
        signed: Number of entries that the last signed checkpoint in it covers.
    """

    path: Path
    size: int
    root: bytes
    files: int
    sampled: tuple[str, ...]
    signed: int


def make_pack(
    rows: "Rows",
    *,
    out: Path,
    as_of: date,
    made_at: datetime,
    made_by: str,
    reports: Reports = _NO_REPORTS,
    documents: Mapping[str, Path] = _NO_DOCUMENTS,
    signed: Signed = _NOTHING_SIGNED,
    replace: bool = False,
) -> Packed:
    """Write the audit pack of a ledger.

    Sealed addresses, contacts and sale values stay sealed, and so do the names of
    customers, but for those of the sampled sales.

    Args:
        rows: The ledger, as it stands at one moment.
        out: Where to; a zip file if the name ends in .zip, else a folder.
        as_of: Trade date up to which figures are added up.
        made_at: The moment, in UTC.
        made_by: Who makes it.
        reports: What people read.
        documents: File of each attached paper by its SHA-256 in hexadecimal.
        signed: What was signed for the ledger, and stamped.
        replace: Whether a pack that is there already may be overwritten.

    Raises:
        NotFoundError: The ledger has no entry yet.
        ConflictError: Something is at that place already.
        InputError: A report or paper cannot go into a pack, or it cannot be written.
        SealError: The stored entries do not give the tree head that is kept.
    """
    organisation = organisation_of(parse_entry(entry_raw(rows, 0)))
    if organisation is None:
        raise InputError(
            "the first entry does not name the maker, so it opens no ledger; verify the "
            "ledger before packing it"
        )
    tree = frontier(rows)
    head = TreeHead(tree.size, tree.root())
    shelf = SqlShelf(rows)
    scope = Scope(as_of, made_at, made_by, head.size)
    sampled = sampled_sales(shelf, head.root, SAMPLED_SALES, as_of=as_of)
    made = (
        reports
        if isinstance(reports, Mapping)
        else reports(ToReport(shelf, head, scope, sampled))
    )
    contents = Contents(
        organisation=organisation,
        scope=scope,
        head=head,
        entries=stream_raws(rows),
        disclosures=shown_disclosures(rows, customers=customers_of(shelf, sampled)),
        shelf=shelf,
        reports=made,
        documents=documents,
        checkpoints=signed.checkpoints,
        extensions=signed.extensions,
        timestamps=signed.timestamps,
    )
    files = write_pack(contents, out, replace=replace)
    upto = signed.checkpoints[-1].size if signed.checkpoints else 0
    return Packed(out, head.size, head.root, files, sampled, upto)
