"""Shipments: those on the way, those that arrived, and each with its lots and papers."""

from collections.abc import Iterator
from datetime import date
from typing import Final
from urllib.parse import quote

from starlette.responses import Response

from ledger.books.dues import dues_of
from ledger.books.effect import Recorded, Subject, SubjectKind
from ledger.books.fulfilment import Consignment, consignment, fulfilments
from ledger.books.lookup import expect
from ledger.books.shelf import Shelf
from ledger.desk.papers import kept_of, papers_about
from ledger.errors import NotFoundError
from ledger.reports.contract_table import consignments_table, received_lots_table
from ledger.reports.dues_table import lines_table
from ledger.reports.figures import kg_text
from ledger.reports.paper_table import papers_table
from ledger.reports.tables import Table
from ledger.trade.shipment import ShipmentDispatched, ShipmentReceived
from ledger.web.access import BUYER, CERTIFIER, MAKER, may_open
from ledger.web.asked import Asked
from ledger.web.page import Page
from ledger.web.report import Report, show_report

_LINKS: Final = {
    "shipment": "/shipments/{shipment}",
    "contract": "/contracts/{contract}",
    "lot": "/lots/{lot}",
    "entry": "/entries/{entry}",
    "document": "/papers/{sha256}",
}
_Named = tuple[str, Consignment]
"""Contract number, empty where there is none, and the shipment."""


def show_shipments(asked: Asked) -> Response:
    """List the shipments, those on the way first."""
    as_of = asked.as_of()
    with asked.books() as books:
        found = [
            *(
                (one.contract.contract, sent)
                for one in fulfilments(books.shelf, as_of)
                for sent in one.consignments
            ),
            *_without_contract(books.shelf, as_of),
        ]
    under_way = [(name, one) for name, one in found if one.received_on is None]
    arrived = [(name, one) for name, one in found if one.received_on is not None]
    report = Report(
        asked.tongue.says("Shipments"),
        [
            consignments_table(sorted(under_way, key=_by_day), title="On the way"),
            consignments_table(
                sorted(arrived, key=_by_day, reverse=True), title="Arrived"
            ),
        ],
        links=_LINKS,
    )
    return show_report(
        asked,
        report,
        template="shipments.html",
        as_of=as_of,
        may_record=may_open(asked.person, BUYER),
        kg_text=kg_text,
    )


def _by_day(named: _Named) -> tuple[date, str]:
    _, one = named
    return one.received_on or one.shipped_on or date.max, one.shipment


def _without_contract(shelf: Shelf, as_of: date) -> Iterator[_Named]:
    """Yield receipts of ingredients that come without a contract."""
    for found in shelf.of_kind("shipment.received"):
        received = expect(found.record, ShipmentReceived)
        if received.contract is None and found.occurred_on <= as_of:
            yield "", consignment(received.shipment, None, found)


def show_shipment(asked: Asked) -> Response:
    """Show one shipment: what left, what arrived, what is owed for it, its papers."""
    name = asked.part("shipment")
    with asked.books() as books:
        left, arrived = _found(books.shelf, name)
        papers = papers_about(books.shelf, SubjectKind.SHIPMENT, name)
        tables = list(_tables(books.shelf, name, arrived, asked.as_of()))
    tables.append(papers_table(papers, kept_of(lambda: asked.office.papers, papers)))
    sent = left and expect(left.record, ShipmentDispatched)
    received = arrived and expect(arrived.record, ShipmentReceived)
    report = Report(asked.tongue.says(f"Shipment {name}"), tables, links=_LINKS)
    return show_report(
        asked,
        report,
        template="shipment.html",
        left=left,
        sent=sent,
        arrived=arrived,
        received=received,
        progress=consignment(name, left, arrived),
        address=quote(name, safe=""),
        may_record=may_open(asked.person, BUYER),
        kg_text=kg_text,
    )


def _tables(
    shelf: Shelf, name: str, arrived: Recorded | None, as_of: date
) -> Iterator[Table]:
    if arrived is None:
        return
    received = expect(arrived.record, ShipmentReceived)
    yield received_lots_table(received)
    if received.contract is not None:
        dues = dues_of(shelf, received.contract, max(as_of, arrived.occurred_on))
        lines = (line for line in dues.lines if line.shipment == name)
        yield lines_table(lines, dues.as_of)


def _found(shelf: Shelf, name: str) -> tuple[Recorded | None, Recorded | None]:
    """Return the entries of what left and what arrived, one of which there is.

    Raises:
        NotFoundError: There is no shipment of that name.
    """
    left = shelf.introducer(Subject(SubjectKind.SHIPMENT, name))
    arrived = shelf.introducer(Subject(SubjectKind.ARRIVAL, name))
    if left is None and arrived is None:
        raise NotFoundError(
            f"there is no shipment {name!r}; choose one from the page Shipments"
        )
    return left, arrived


PAGES: Final = (
    Page("GET", "/shipments", show_shipments, MAKER | CERTIFIER, menu="Shipments"),
    Page("GET", "/shipments/{shipment:path}", show_shipment, MAKER | CERTIFIER),
)
