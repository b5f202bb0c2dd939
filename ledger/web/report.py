"""A report as a page, and the same tables as CSV, JSON or a workbook."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final
from urllib.parse import parse_qsl, quote, urlencode

from starlette.datastructures import URL
from starlette.responses import JSONResponse, Response

from ledger.errors import InputError
from ledger.reports.svg import Drawing
from ledger.reports.tables import Table, csv_text, json_objects
from ledger.reports.xlsx import xlsx_bytes
from ledger.web.asked import Asked

XLSX: Final = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
SHAPES: Final = ("csv", "xlsx", "json")
ROWS_PER_PAGE: Final = 200


@dataclass(frozen=True, slots=True)
class Report:
    """What a page reports.

    Attributes:
        title: Title of the page.
        tables: Its tables, in order.
        drawings: Its drawings, above the tables.
        links: Where cells lead, by the key of their column: an address in which `{key}`
            stands for the cell of that column in the same row.
        lead: Sentences above everything.
        rows_per_page: Rows of a long table that a page shows at a time.
        address: Where it is found, if it is shown as the answer to a form.
    """

    title: str
    tables: Sequence[Table]
    drawings: Sequence[Drawing] = ()
    links: Mapping[str, str] = field(default_factory=dict)
    lead: Sequence[str] = ()
    rows_per_page: int = ROWS_PER_PAGE
    address: str = ""


def show_report(
    asked: Asked, report: Report, *, template: str = "report.html", **shown: Any
) -> Response:
    """Answer with a report in the shape that the address asks for with `as`.

    Args:
        asked: The request.
        report: What to show.
        template: Page to show it on, which extends `report.html`.
        shown: What else the template asks for.

    Raises:
        InputError: The address asks for a shape or a table that there is not.
    """
    shape = asked.query("as")
    if not shape:
        return asked.page(
            template,
            report=replace(report, links=asked.leading(report.links)),
            links_to=_addresses(asked, report),
            first_row=first_row(asked),
            rows_per_page=report.rows_per_page,
            in_full=bool(asked.query("in_full")),
            **shown,
        )
    if shape == "xlsx" and report.tables:
        sheets = {table.title: table for table in report.tables}
        return download(
            xlsx_bytes(sheets, title=report.title), f"{report.title}.xlsx", XLSX
        )
    table = _table_asked(asked, report)
    if shape == "csv":
        raw = csv_text(table).encode()
        return download(raw, f"{table.title}.csv", "text/csv; charset=utf-8")
    if shape == "json":
        return JSONResponse(json_objects(table))
    raise InputError(
        f"as is {shape!r}, which is not a shape of a report; use {', '.join(SHAPES)}"
    )


def download(raw: bytes, name: str, media_type: str) -> Response:
    """Answer with a file to keep; its name is made safe for every system."""
    plain = "".join(c if c.isalnum() or c in " .-" else "-" for c in name).strip()
    ascii_name = plain.encode("ascii", "replace").decode().replace("?", "-")
    return Response(
        raw,
        media_type=media_type,
        headers={
            "Content-Disposition": f'attachment; filename="{ascii_name}"; '
            f"filename*=UTF-8''{quote(plain)}"
        },
    )


def first_row(asked: Asked) -> int:
    """Return the row, from 0, that the address asks a long table to begin with.

    Raises:
        InputError: It is not a number.
    """
    given = asked.query("from_row") or "0"
    if not given.isdecimal():
        raise InputError(
            f"from_row is {given!r}, which is not the number of a row; leave it out"
        )
    return int(given)


def _table_asked(asked: Asked, report: Report) -> Table:
    given = asked.query("table") or "0"
    if not given.isdecimal() or int(given) >= len(report.tables):
        raise InputError(
            f"table is {given!r}, but the report has {len(report.tables)}, numbered from 0"
        )
    return report.tables[int(given)]


def _addresses(asked: Asked, report: Report) -> Mapping[str, str]:
    """Return the address of this page in each shape, and without row and shape."""
    address = URL(report.address) if report.address else asked.request.url
    path = address.path
    kept = [
        (name, value)
        for name, value in parse_qsl(address.query, keep_blank_values=True)
        if name not in {"as", "table", "from_row"}
    ]
    return {
        shape: f"{path}?{urlencode([*kept, ('as', shape)])}" for shape in SHAPES
    } | {
        "page": f"{path}?{urlencode([*kept, ('from_row', '')])}",
        "in_full": f"{path}?{urlencode([*kept, ('in_full', 'yes')])}",
    }
