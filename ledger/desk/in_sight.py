"""How much of a ledger a certifier sees: what is about the part, and what it rests on."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from ledger.books.effect import SubjectKind
from ledger.books.inspecting import findings
from ledger.books.portion import Portion
from ledger.desk.books import OpenBooks
from ledger.store.entries import frontier

if TYPE_CHECKING:
    from ledger.store.rows import Rows

_WHOLE = Portion()


@dataclass(frozen=True, slots=True)
class InSight:
    """What somebody may look at, counted.

    Attributes:
        entries: How many entries the ledger has.
        shown: How many of them are shown.
        sales: Sales under a claim that the part is about.
        contracts: Contracts that the part is about.
        shipments: Shipments that are shown.
        batches: Batches that are shown.
        papers: Papers attached to what is shown.
        open_findings: Findings that are not settled.
        closed_findings: Findings that are.
    """

    entries: int
    shown: int
    sales: int
    contracts: int
    shipments: int
    batches: int
    papers: int
    open_findings: int
    closed_findings: int


def count_in_sight(books: OpenBooks, portion: Portion | None) -> InSight:
    """Count what somebody may look at.

    Args:
        books: The books that were laid out for them.
        portion: The part that these show; None for the whole.
    """
    shelf, part = books.shelf, portion or _WHOLE
    noted = list(findings(shelf))
    contracts = shelf.subjects(SubjectKind.CONTRACT)
    return InSight(
        entries=frontier(books.rows).size,
        shown=_count(books.rows),
        sales=sum(map(part.has_sale, shelf.of_kind("sale.dispatched"))),
        contracts=sum(part.has_contract(shelf, one.name) for one in contracts),
        shipments=len(shelf.subjects(SubjectKind.ARRIVAL)),
        batches=len(shelf.subjects(SubjectKind.BATCH)),
        papers=len(shelf.of_kind("document.attached")),
        open_findings=sum(one.closed is None for one in noted),
        closed_findings=sum(one.closed is not None for one in noted),
    )


def _count(rows: "Rows") -> int:
    [(count,)] = rows("SELECT COUNT(*) FROM entry")
    return int(count)
