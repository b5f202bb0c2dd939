"""Printing labels of lots as PDF."""

from typing import Final

from starlette.responses import Response

from ledger.books.effect import Subject, SubjectKind
from ledger.books.shelf import Shelf
from ledger.books.stock import stock_on
from ledger.desk.labels import labels_pdf
from ledger.errors import InputError, LedgerError
from ledger.reports.figures import kg_text
from ledger.reports.label_sheet import MOST_LABELS, Sheet
from ledger.trade.shipment import ShipmentReceived
from ledger.web.access import MAKER
from ledger.web.asked import Asked
from ledger.web.door import status_of
from ledger.web.page import Page
from ledger.web.report import download

_MOST_OFFERED: Final = 300


def show_labels(asked: Asked, error: LedgerError | None = None) -> Response:
    """Show which lots there are to choose from."""
    with asked.books() as books:
        held = stock_on(books.shelf, asked.office.today())
        chosen = _chosen(asked) or list(_of_shipment(books.shelf, asked))
    offered = held[-_MOST_OFFERED:]
    return asked.page(
        "labels.html",
        status=status_of(error) if error else 200,
        sentence=str(error or ""),
        held=offered,
        chosen=chosen,
        others=[lot for lot in chosen if lot not in {one.lot for one in offered}],
        sheets=[(sheet.value, asked.tongue.says(sheet.value)) for sheet in Sheet],
        sheet=asked.query("sheet"),
        copies=asked.query("copies") or "1",
        address=_address(asked),
        most=MOST_LABELS,
        kg_text=kg_text,
    )


def print_labels(asked: Asked) -> Response:
    """Answer with the labels as PDF; without lots, with the form."""
    if not asked.query("print"):
        return show_labels(asked)
    try:
        with asked.books() as books:
            pdf = labels_pdf(
                books.shelf,
                _chosen(asked),
                _sheet(asked),
                on=asked.office.today(),
                address=_address(asked),
                copies=_copies(asked),
            )
    except LedgerError as error:
        return show_labels(asked, error)
    return download(pdf, "labels.pdf", "application/pdf")


def _chosen(asked: Asked) -> list[str]:
    """Return the lots that the address names, each once."""
    ticked = asked.request.query_params.getlist("lot")
    typed = asked.query("lots").replace(",", " ").split()
    return list(dict.fromkeys(one.strip() for one in (*ticked, *typed) if one.strip()))


def _of_shipment(shelf: Shelf, asked: Asked) -> list[str]:
    """Return the lots of the shipment that the address names."""
    arrival = Subject(SubjectKind.ARRIVAL, asked.query("shipment"))
    found = shelf.introducer(arrival)
    if found is None or not isinstance(found.record, ShipmentReceived):
        return []
    return [lot.lot for lot in found.record.lots if lot.decision == "accepted"]


def _sheet(asked: Asked) -> Sheet:
    try:
        return Sheet(asked.query("sheet"))
    except ValueError:
        raise InputError(
            f"sheet is {asked.query('sheet')!r}; choose one of {', '.join(Sheet)}"
        ) from None


def _copies(asked: Asked) -> int:
    given = asked.query("copies") or "1"
    if not given.isdecimal() or not 1 <= int(given) <= MOST_LABELS:
        raise InputError(f"copies is {given!r}; write a number from 1 to {MOST_LABELS}")
    return int(given)


def _address(asked: Asked) -> str:
    """Return what the code of a lot begins with: the page of lots, as it was asked for."""
    return f"{str(asked.request.base_url).rstrip('/')}/lots/"


PAGES: Final = (Page("GET", "/labels", print_labels, MAKER),)
