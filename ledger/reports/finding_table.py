"""Findings of a certifier, and the sales that were drawn, as tables."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from ledger.books.drawing import Draw, DrawnSale
from ledger.books.inspecting import Inspected
from ledger.books.lookup import expect
from ledger.books.paper_trail import PaperTrail
from ledger.reports.figures import kg_text, mass_text, share_words
from ledger.reports.tables import Column, Table
from ledger.trade.inspection import FindingClosed

DEFERS = (
    "What a finding means for a certificate is decided under the scheme's published "
    "standard and the certifier's own rules."
)


DRAWN_BY = (
    "A ticket is the SHA-256 of tree head, colon, seed, colon and number of the entry; the "
    "least are drawn first. With the same seed, tree head and dates everybody draws the "
    "same sales."
)


@dataclass(frozen=True, slots=True)
class FindingRow:
    """A finding as it is told, whether it stands in a ledger or nowhere yet.

    Attributes:
        finding: Its name.
        noted_on: Day on which it was noted.
        noted_by: Who noted it.
        scheme: The scheme it was looked at under.
        grade: How much it weighs.
        text: What was found.
        clause: The requirement that it is about.
        about: What it concerns.
        sample: How that was drawn.
        answer_by: Day by which the maker is to answer.
        state: Whether it is open.
        settled: Why it is open no more.
        entry: Number of its entry; empty where it was not recorded.
    """

    finding: str
    noted_on: date
    noted_by: str
    scheme: str
    grade: str
    text: str
    clause: str = ""
    about: str = ""
    sample: str = ""
    answer_by: date | None = None
    state: str = "open"
    settled: str = ""
    entry: str = ""

    @classmethod
    def of(cls, inspected: Inspected) -> "FindingRow":
        """Return a finding of a ledger."""
        finding, closed = inspected.finding, inspected.closed
        told = None if closed is None else expect(closed.record, FindingClosed)
        return cls(
            finding=finding.finding,
            noted_on=inspected.noted.occurred_on,
            noted_by=inspected.noted.recorded_by,
            scheme=finding.scheme,
            grade=finding.grade.value,
            text=finding.text,
            clause=finding.clause or "",
            about=", ".join(f"{one.subject} {one.name}" for one in finding.about),
            sample=finding.sample or "",
            answer_by=finding.answer_by,
            state="open" if told is None else told.outcome,
            settled="" if told is None else told.text,
            entry=str(inspected.noted.seq),
        )


def findings_table(found: Iterable[FindingRow], *, title: str = "Findings") -> Table:
    """Return findings, one to a row."""
    return Table(
        title=title,
        columns=(
            Column("finding", "Finding"),
            Column("noted_on", "Noted on"),
            Column("grade", "Weight", width=12),
            Column("scheme", "Scheme"),
            Column("about", "About", width=14),
            Column("text", "What was found", width=30),
            Column("clause", "Requirement", width=14),
            Column("sample", "Drawn by", width=16, is_detail=True),
            Column("answer_by", "Answer by"),
            Column("state", "Standing"),
            Column("settled", "Settled by", width=20),
            Column("noted_by", "Noted by", is_detail=True),
            Column("entry", "Entry", is_figure=True, width=6),
        ),
        rows=[
            (
                one.finding,
                one.noted_on.isoformat(),
                one.grade,
                one.scheme,
                one.about,
                one.text,
                one.clause,
                one.sample,
                one.answer_by.isoformat() if one.answer_by else "",
                one.state,
                one.settled,
                one.noted_by,
                one.entry,
            )
            for one in found
        ],
        notes=(DEFERS,),
    )


def purchases_table(trail: PaperTrail) -> Table:
    """Return what a sale came from, one purchase to a row."""
    return Table(
        title="Purchases that are in the sale",
        columns=(
            Column("shipment", "Shipment"),
            Column("supplier", "Supplier", width=14),
            Column("contract", "Contract"),
            Column("in_sale_kg", "In the sale", is_figure=True, unit="kg"),
            Column("of_sale", "Of the sale"),
            Column("lots", "Lots", width=16),
            Column("papers", "Papers", is_figure=True, width=6),
        ),
        rows=[
            (
                one.shipment.subject.name,
                one.supplier,
                one.contract.subject.name if one.contract else "",
                mass_text(one.grams),
                share_words(trail.trace.share(one.grams)),
                ", ".join(lot.lot for lot in one.shipment.lots),
                str(one.papers),
            )
            for one in trail.purchases
        ],
    )


def drawn_table(drawn: Iterable[DrawnSale], wanted: Draw, *, there: int) -> Table:
    """Return drawn sales, one to a row, and below it how to draw them again.

    Args:
        drawn: The sales.
        wanted: What decided the draw.
        there: How many sales took part.
    """
    rows = [
        (
            str(place),
            one.sale.sale,
            one.recorded.occurred_on.isoformat(),
            one.sale.customer,
            kg_text(one.claimed_g),
            one.why,
            str(one.recorded.seq),
            one.ticket,
        )
        for place, one in enumerate(drawn, 1)
    ]
    return Table(
        title="Sales drawn",
        columns=(
            Column("place", "Place", is_figure=True, width=5),
            Column("sale", "Sale"),
            Column("sold_on", "Sold on"),
            Column("customer", "Customer", width=14),
            Column("claimed_kg", "Claimed", is_figure=True, unit="kg"),
            Column("drawn_for", "Drawn for", width=16),
            Column("entry", "Entry", is_figure=True, width=6),
            Column("ticket", "Ticket", width=30, is_detail=True),
        ),
        rows=rows,
        notes=(
            f"{len(rows)} of {there} sales under a claim: {wanted}.",
            DRAWN_BY,
        ),
    )
