"""Papers: attached by drag and drop or from a file, listed, and handed out again."""

from collections.abc import Iterator
from datetime import date
from typing import Final

from starlette.responses import Response

from ledger.books.effect import SubjectKind
from ledger.desk.papers import Paper, all_papers, attach, kept_of, opened_paper
from ledger.errors import InputError, LedgerError
from ledger.intake.paper import LARGEST_PAPER, MEDIA_TYPES
from ledger.reports.paper_table import papers_table
from ledger.reports.phrases import told
from ledger.web.access import CERTIFIER, MAKER, may_open
from ledger.web.asked import Asked
from ledger.web.entry_form import NOTHING_WRONG, Wrong, wrong_with
from ledger.web.page import Page
from ledger.web.report import Report, download, show_report

TITLES: Final = (
    "bill of lading",
    "weight note",
    "certificate",
    "contract",
    "invoice",
    "payment receipt",
    "laboratory report",
)
"""Offered; any other may be typed."""
SUBJECTS: Final = ("shipment", "contract", "lot", "certificate", "party", "sale")
_ROWS: Final = 3
_LONGEST: Final = 3 * LARGEST_PAPER + 256 * 1024
_LOCKED: Final = "sandbox; default-src 'none'; frame-ancestors 'none'"


def show_papers(asked: Asked, wrong: Wrong = NOTHING_WRONG) -> Response:
    """List the papers, with the form to attach more."""
    with asked.books() as books:
        found = all_papers(books.shelf)
        known = {
            subject: [one.name for one in books.shelf.subjects(SubjectKind(subject))]
            for subject in ("shipment", "contract")
        }
    report = Report(
        asked.tongue.says("Papers"),
        [papers_table(found, kept_of(lambda: asked.office.papers, found))],
        links={"document": "/papers/{sha256}", "entry": "/entries/{entry}"},
        address="/papers",
    )
    return show_report(
        asked,
        report,
        template="papers.html",
        status=wrong.status,
        wrong=wrong,
        may_attach=may_open(asked.person, MAKER),
        titles=TITLES,
        subjects=[(one, asked.tongue.says(one)) for one in SUBJECTS],
        known=known,
        rows=_about_shown(asked),
        largest=LARGEST_PAPER // 2**20,
        endings=", ".join(MEDIA_TYPES.values()),
        typed=asked.form,
    )


def _about_shown(asked: Asked) -> list[tuple[str, str]]:
    given = list(_about(asked)) or [(asked.query("subject"), asked.query("name"))]
    return (given + [("", "")] * _ROWS)[: max(_ROWS, len(given))]


def attach_papers(asked: Asked) -> Response:
    """Attach the files that were sent, all or none."""
    try:
        papers = _papers_sent(asked)
        on = asked.day("on") or asked.office.today()
        made = _attach(asked, papers, on)
    except LedgerError as error:
        return show_papers(asked, wrong_with(error))
    said = told(asked.tongue.says("Papers attached: {1}."), str(made))
    return asked.away("/papers", said=said)


def _attach(asked: Asked, papers: list[Paper], on: date) -> int:
    with asked.writing() as writing:
        return len(attach(writing, asked.office.papers, papers, on=on))


def _papers_sent(asked: Asked) -> list[Paper]:
    """Return the papers of a form.

    Raises:
        InputError: No file is there, or it is not said what they belong to.
    """
    sent = asked.uploads("papers")
    if not sent:
        raise InputError(
            "no file was sent; choose the papers, or drop them on the field"
        )
    about = list(_about(asked))
    if not about:
        raise InputError(
            "it is not said what the papers belong to; choose a sort of thing and write "
            "its name, such as shipment SH-1"
        )
    return [
        Paper(
            filename=one.filename or "",
            raw=one.file.read(LARGEST_PAPER + 1),
            title=asked.text("title"),
            about=about,
            document=asked.text("document"),
        )
        for one in sent
    ]


def _about(asked: Asked) -> Iterator[tuple[str, str]]:
    """Yield sort and name of what papers belong to; rows without a name are left out."""
    pairs = zip(asked.texts("subject"), asked.texts("name"), strict=False)
    return ((subject, name) for subject, name in pairs if name)


def hand_out(asked: Asked) -> Response:
    """Answer with the file of a paper, always as a file to keep."""
    with asked.books() as books:
        found, raw = opened_paper(
            books.shelf, asked.office.papers, asked.part("sha256")
        )
    ending = MEDIA_TYPES.get(found.media_type, "bin")
    media_type = found.media_type if ending != "bin" else "application/octet-stream"
    response = download(raw, f"{found.document}.{ending}", media_type)
    response.headers["Content-Security-Policy"] = _LOCKED
    return response


PAGES: Final = (
    Page("GET", "/papers", show_papers, MAKER | CERTIFIER, menu="Papers"),
    Page("POST", "/papers", attach_papers, MAKER, longest=_LONGEST),
    Page("GET", "/papers/{sha256}", hand_out, MAKER | CERTIFIER),
)
