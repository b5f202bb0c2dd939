"""From a sale back to its purchases, stop by stop, with the papers that belong to each.

It is what a certifier holds side by side: what the maker recorded, and what others wrote.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction

from ledger.books.effect import Recorded, Subject, SubjectKind
from ledger.books.genealogy import trace_back
from ledger.books.lookup import expect
from ledger.books.shelf import Shelf
from ledger.books.source import MadeLot, SourceLot, exact_sum
from ledger.books.trace import Trace, TracedLot
from ledger.trade.control import DocumentAttached
from ledger.trade.party import CertificateRecorded


@dataclass(frozen=True, slots=True)
class Paper:
    """A paper that belongs to a stop.

    Attributes:
        recorded: The entry that attaches it.
        attached: What it says.
    """

    recorded: Recorded
    attached: DocumentAttached


@dataclass(frozen=True, slots=True)
class Stop:
    """One thing on the way, with what is recorded of it and its papers.

    Attributes:
        subject: What it is.
        recorded: The entries that say so, in the order recorded.
        papers: The papers that belong to it.
        lots: Of a receipt or batch, the lots that went into the sale.
    """

    subject: Subject
    recorded: tuple[Recorded, ...]
    papers: tuple[Paper, ...]
    lots: tuple[TracedLot, ...] = ()


@dataclass(frozen=True, slots=True)
class Purchase:
    """One shipment whose beans are in the sale, and what it was bought by.

    Attributes:
        shipment: Dispatch and receipt.
        contract: The contract with its fixations; None without one.
        certificates: What the seller held under schemes of the contract.
        payments: What was paid under the contract.
    """

    shipment: Stop
    contract: Stop | None
    certificates: tuple[Stop, ...]
    payments: tuple[Stop, ...]

    @property
    def grams(self) -> Fraction:
        """How much of the sale came with it."""
        return exact_sum([lot.grams for lot in self.shipment.lots])

    @property
    def supplier(self) -> str:
        """Who sold it."""
        what = self.shipment.lots[0].what
        return what.supplier if isinstance(what, SourceLot) else ""

    @property
    def papers(self) -> int:
        """How many papers its stops have."""
        return len({one.recorded.seq for stop in self.stops() for one in stop.papers})

    def stops(self) -> Iterator[Stop]:
        """Yield every stop of the purchase, beginning with the shipment."""
        yield self.shipment
        if self.contract is not None:
            yield self.contract
        yield from self.certificates
        yield from self.payments


@dataclass(frozen=True, slots=True)
class PaperTrail:
    """A sale, walked back.

    Attributes:
        sale: The sale, its returns and claims taken back.
        batches: The batches between, the last one first.
        purchases: Where the goods came from, the largest part first.
        trace: The walk itself, with its masses.
    """

    sale: Stop
    batches: tuple[Stop, ...]
    purchases: tuple[Purchase, ...]
    trace: Trace


def paper_trail(shelf: Shelf, sale: str) -> PaperTrail:
    """Walk a sale back to its purchases.

    Args:
        shelf: What is recorded.
        sale: Name of the sale.

    Raises:
        NotFoundError: There is no such sale.
    """
    subject = Subject(SubjectKind.SALE, sale)
    trace = trace_back(shelf, subject)
    made: dict[str, list[TracedLot]] = {}
    bought: dict[str, list[TracedLot]] = {}
    for lot in trace.lots:
        if isinstance(lot.what, MadeLot):
            made.setdefault(lot.what.made.batch, []).append(lot)
        else:
            bought.setdefault(lot.what.shipment, []).append(lot)
    batches = (
        _stop(shelf, Subject(SubjectKind.BATCH, batch), lots)
        for batch, lots in made.items()
    )
    return PaperTrail(
        sale=_stop(shelf, subject),
        batches=tuple(batches)[::-1],
        purchases=tuple(
            sorted(
                (_purchase(shelf, *one) for one in bought.items()),
                key=lambda one: (-one.grams, one.shipment.subject.name),
            )
        ),
        trace=trace,
    )


def _purchase(shelf: Shelf, shipment: str, lots: list[TracedLot]) -> Purchase:
    first = lots[0].what
    name = first.contract if isinstance(first, SourceLot) else None
    contract = None if name is None else Subject(SubjectKind.CONTRACT, name)
    arrival = Subject(SubjectKind.ARRIVAL, shipment)
    return Purchase(
        shipment=_stop(
            shelf, Subject(SubjectKind.SHIPMENT, shipment), lots, also=(arrival,)
        ),
        contract=(
            None if contract is None else _stop(shelf, contract, kinds=("price.fixed",))
        ),
        certificates=tuple(_certificates(shelf, first)),
        payments=tuple(_payments(shelf, contract)),
    )


def _certificates(shelf: Shelf, lot: SourceLot | MadeLot) -> Iterator[Stop]:
    if not isinstance(lot, SourceLot):
        return
    schemes = {claim.scheme for claim in lot.claims}
    holder = Subject(SubjectKind.PARTY, lot.supplier)
    for found in shelf.about(holder, "certificate.recorded"):
        certificate = expect(found.record, CertificateRecorded)
        if certificate.scheme in schemes:
            yield _stop(
                shelf, Subject(SubjectKind.CERTIFICATE, certificate.certificate)
            )


def _payments(shelf: Shelf, contract: Subject | None) -> Iterator[Stop]:
    if contract is None:
        return
    for paid in shelf.about(contract, "payment.made"):
        for subject in shelf.effects(paid.slot).introduces:
            if subject.kind is SubjectKind.PAYMENT:
                yield Stop(subject, (paid,), _papers(shelf, (subject,)))


def _stop(
    shelf: Shelf,
    subject: Subject,
    lots: Iterable[TracedLot] = (),
    *,
    also: tuple[Subject, ...] = (),
    kinds: tuple[str, ...] = ("sale.returned", "claim.withdrawn"),
) -> Stop:
    introduced = (shelf.introducer(one) for one in (subject, *also))
    entries = [found for found in introduced if found is not None]
    entries += [found for kind in kinds for found in shelf.about(subject, kind)]
    lots = tuple(lots)
    about = (subject, *(Subject(SubjectKind.LOT, lot.lot) for lot in lots))
    return Stop(subject, tuple(entries), _papers(shelf, about), lots)


def _papers(shelf: Shelf, subjects: Iterable[Subject]) -> tuple[Paper, ...]:
    """Return the papers that belong to any of some things, once each."""
    found = {
        paper.seq: paper
        for subject in subjects
        for paper in shelf.about(subject, "document.attached")
    }
    return tuple(
        Paper(paper, expect(paper.record, DocumentAttached))
        for _, paper in sorted(found.items())
    )
