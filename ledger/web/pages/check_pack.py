"""Checking a pack that somebody drops on the page, without signing in.

Nothing of it is kept: the file goes when the answer is given, and findings noted for the
case go into the download alone.
"""

import shutil
import tempfile
from itertools import zip_longest
from pathlib import Path
from typing import Final

from starlette.datastructures import UploadFile
from starlette.responses import Response

from ledger.audit.enclosed import enclosed, page_policy
from ledger.audit.layout import PAGE
from ledger.desk.check_apart import MOST_ENTRIES, CheckedApart, check_apart
from ledger.desk.kept import kept_in
from ledger.errors import InputError, LedgerError
from ledger.reports.finding_report import FindingCover, render_findings
from ledger.reports.finding_table import DEFERS, FindingRow, findings_table
from ledger.reports.phrases import told
from ledger.reports.tables import csv_text
from ledger.reports.xlsx import xlsx_bytes
from ledger.trade.inspection import Grade
from ledger.web.access import EVERYONE
from ledger.web.asked import Asked
from ledger.web.door import status_of
from ledger.web.page import Page
from ledger.web.report import XLSX, download

LARGEST_PACK: Final = 64 * 2**20
_BESIDE: Final = 64 * 1024
_ROWS: Final = 5
_MOST_ROWS: Final = 50
_LONGEST: Final = 500
GRADES: Final = tuple(grade.value for grade in Grade)


def show_form(asked: Asked, error: LedgerError | None = None) -> Response:
    """Show where to drop the pack."""
    return asked.page(
        "check_pack.html",
        status=status_of(error) if error else 200,
        sentence=str(error or ""),
        typed=asked.form,
        at_most=told(
            asked.tongue.says("At most {1} MiB and {2} entries."),
            str(LARGEST_PACK // 2**20),
            asked.tongue.figure(str(MOST_ENTRIES)),
        ),
    )


def check(asked: Asked) -> Response:
    """Check the pack that was sent, and forget it."""
    try:
        sent = asked.uploads("pack")
        if not sent:
            raise InputError("no pack was sent; choose the zip file, or drop it here")
        kept = kept_in(asked.text("kept")) if asked.text("kept") else None
        found = _checked(
            sent[0],
            kept=f"{kept.size}:{kept.root.hex()}" if kept else "",
            key=asked.text("key"),
        )
    except LedgerError as error:
        return show_form(asked, error)
    return asked.page(
        "checked_pack.html",
        found=found,
        has_key=bool(asked.text("key")),
        has_kept=kept is not None,
        case=_case(found),
        grades=[(one, asked.tongue.says(one)) for one in GRADES],
        rows=range(1, _ROWS + 1),
        defers=DEFERS,
    )


def _checked(sent: UploadFile, *, kept: str, key: str) -> CheckedApart:
    with tempfile.TemporaryDirectory(prefix="evenweight-") as folder:
        path = Path(folder) / "pack.zip"
        with path.open("wb") as file:
            shutil.copyfileobj(sent.file, file)
        return check_apart(path, kept=kept, key=key)


def _case(found: CheckedApart) -> str:
    """Return in a line which pack was checked, to stand on top of findings."""
    until = f", figures as of {found.as_of}" if found.as_of else ""
    return f"pack over {found.entries} entries, tree head {found.tree_head}{until}"


def export_findings(asked: Asked) -> Response:
    """Hand out findings noted for a pack; they are kept nowhere."""
    now = asked.office.now()
    rows = [
        FindingRow(
            finding=f"F-{place:02}",
            noted_on=now.date(),
            noted_by=asked.text("by")[:_LONGEST],
            scheme=asked.text("scheme")[:_LONGEST],
            grade=grade if grade in GRADES else "",
            text=text[:_LONGEST],
            about=about[:_LONGEST],
        )
        for place, (grade, text, about) in enumerate(_typed(asked), 1)
    ]
    if not rows:
        raise InputError("no finding was typed, so there is nothing to hand out")
    table, title = findings_table(rows), asked.tongue.says("Findings of an audit")
    match asked.text("as"):
        case "csv":
            return download(csv_text(table).encode(), "findings.csv", "text/csv")
        case "xlsx":
            raw = xlsx_bytes({table.title: table}, title=title)
            return download(raw, "findings.xlsx", XLSX)
        case _:
            cover = FindingCover(
                title=title,
                maker=asked.text("origin")[:_LONGEST] or asked.tongue.says("A pack"),
                about=asked.text("case")[:_LONGEST],
                made_by=asked.text("by")[:_LONGEST],
                made_at=now,
            )
            raw = render_findings(cover, table)
            return download(raw, "findings.pdf", "application/pdf")


def _typed(asked: Asked) -> list[tuple[str, str, str]]:
    """Return weight, text and what it is about of each row in which something stands."""
    grades, texts, abouts = (
        asked.texts(name)[:_MOST_ROWS] for name in ("grade", "text", "about")
    )
    rows = zip_longest(grades, texts, abouts, fillvalue="")
    return [(grade, text, about) for grade, text, about in rows if text]


def show_look(asked: Asked) -> Response:
    """Hand out the page that checks a pack in the browser and sends nothing."""
    del asked
    return Response(
        enclosed()[PAGE],
        media_type="text/html; charset=utf-8",
        headers={
            "Content-Security-Policy": f"{page_policy()}; frame-ancestors 'none'",
            "Referrer-Policy": "no-referrer",
        },
    )


PAGES: Final = (
    Page("GET", "/check-pack", show_form, EVERYONE, menu="Check a pack"),
    Page(
        "POST",
        "/check-pack",
        check,
        EVERYONE,
        longest=LARGEST_PACK + _BESIDE,
        is_heavy=True,
    ),
    Page("POST", "/check-pack/findings", export_findings, EVERYONE, is_heavy=True),
    Page("GET", "/look", show_look, EVERYONE),
)
