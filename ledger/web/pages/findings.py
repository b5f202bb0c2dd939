"""Findings: noted by a certifier, settled by a certifier, handed out to whoever audits."""

from typing import Final, get_args

from starlette.responses import Response

from ledger.books.effect import Subject, SubjectKind
from ledger.books.inspecting import findings, is_recorded
from ledger.books.lookup import opening
from ledger.chain.canonical import JsonValue
from ledger.desk.record import record
from ledger.errors import InputError, LedgerError
from ledger.reports.finding_report import FindingCover, render_findings
from ledger.reports.finding_table import DEFERS, FindingRow, findings_table
from ledger.trade.inspection import Concerned, FindingClosed, Grade
from ledger.web.access import AUDIT, CERTIFIER, may_open
from ledger.web.asked import Asked
from ledger.web.door import status_of
from ledger.web.page import Page
from ledger.web.report import Report, download, show_report

SUBJECTS: Final = tuple(get_args(Concerned.model_fields["subject"].annotation))
OUTCOMES: Final = tuple(get_args(FindingClosed.model_fields["outcome"].annotation))
GRADES: Final = tuple(grade.value for grade in Grade)
_PDF: Final = "pdf"


def show_findings(asked: Asked, error: LedgerError | None = None) -> Response:
    """List the findings."""
    with asked.books() as books:
        found = [FindingRow.of(one) for one in findings(books.shelf)]
        maker = opening(books.shelf).organisation
    table = findings_table(found)
    if asked.query("as") == _PDF:
        cover = FindingCover(
            title=asked.tongue.says("Findings of an audit"),
            maker=maker,
            about=_told(asked),
            made_by=asked.person.name,
            made_at=asked.office.now(),
        )
        return download(
            render_findings(cover, table), "findings.pdf", "application/pdf"
        )
    report = Report(
        asked.tongue.says("Findings"),
        [table],
        links={"entry": "/entries/{entry}"},
        address="/findings",
    )
    return show_report(
        asked,
        report,
        template="findings.html",
        status=status_of(error) if error else 200,
        sentence=str(error or ""),
        open_findings=[one for one in found if one.state == "open"],
        outcomes=[(one, asked.tongue.says(one)) for one in OUTCOMES],
        typed=asked.form,
        may_note=may_open(asked.person, CERTIFIER),
    )


def show_new(asked: Asked, error: LedgerError | None = None) -> Response:
    """Show the form for a finding, as it was typed where it was refused."""
    with asked.books() as books:
        taken = {one.finding.finding for one in findings(books.shelf)}
    return asked.page(
        "finding_new.html",
        status=status_of(error) if error else 200,
        sentence=str(error or ""),
        typed=asked.form,
        finding=asked.text("finding") or _free(asked, taken),
        scheme=asked.text("scheme") or asked.person.window.scheme or "",
        about=asked.text("about") or "\n".join(_asked_about(asked)),
        sample=asked.text("sample") or asked.query("sample"),
        grades=[(one, asked.tongue.says(one)) for one in GRADES],
        subjects=", ".join(SUBJECTS),
        defers=DEFERS,
    )


def note(asked: Asked) -> Response:
    """Record a finding in the name of the certifier."""
    try:
        about = _about(asked)
        _check_seen(asked, about)
        given: dict[str, JsonValue] = {
            name: asked.text(name)
            for name in ("finding", "scheme", "grade", "clause", "sample", "answer_by")
            if asked.text(name)
        }
        body = given | {"text": " ".join(asked.text("text").split())}
        if about:
            body["about"] = [
                {"subject": one.kind.value, "name": one.name} for one in about
            ]
        with asked.writing() as writing:
            made = record(writing, "finding.noted", asked.office.today(), body)
    except LedgerError as error:
        return show_new(asked, error)
    return asked.away(
        "/findings",
        said=asked.tongue.says(f"Recorded as entry {made.recorded.seq}."),
    )


def settle(asked: Asked) -> Response:
    """Record that a finding is open no more."""
    body: dict[str, JsonValue] = {
        "finding": asked.part("finding"),
        "outcome": asked.text("outcome"),
        "text": " ".join(asked.text("text").split()),
    }
    try:
        with asked.writing() as writing:
            made = record(writing, "finding.closed", asked.office.today(), body)
    except LedgerError as error:
        return show_findings(asked, error)
    return asked.away(
        "/findings",
        said=asked.tongue.says(f"Recorded as entry {made.recorded.seq}."),
    )


def _about(asked: Asked) -> list[Subject]:
    """Return what a finding is about: a sort and a name on each line.

    Raises:
        InputError: A line is something else.
    """
    found = []
    for line in filter(None, map(str.strip, asked.text("about").splitlines())):
        kind, _, name = line.partition(" ")
        if kind not in SUBJECTS or not name.strip():
            raise InputError(
                f"about has the line {line!r}; write a sort and a name on each line, such "
                f"as 'sale S-1', with one of {', '.join(SUBJECTS)}"
            )
        found.append(Subject(SubjectKind(kind), name.strip()))
    return found


def _check_seen(asked: Asked, about: list[Subject]) -> None:
    """Refuse what the certifier does not see, with the words for what is not there.

    Raises:
        InputError: Something is not in sight.
    """
    with asked.books() as books:
        for subject in about:
            if not is_recorded(books.shelf, subject):
                raise InputError(
                    f"about names {subject}, which is not in what you may see; check the "
                    "name"
                )


def _asked_about(asked: Asked) -> list[str]:
    return [
        f"{kind} {name}"
        for kind, name in asked.request.query_params.multi_items()
        if kind in SUBJECTS and name
    ]


def _free(asked: Asked, taken: set[str]) -> str:
    """Return a name that no finding has yet."""
    year = asked.office.today().year
    numbers = range(1, len(taken) + 2)
    return next(name for n in numbers if (name := f"F-{year}-{n:02}") not in taken)


def _told(asked: Asked) -> str:
    """Return in words what was looked at."""
    says, window = asked.tongue.says, asked.person.window
    if not asked.is_limited:
        return says("the whole ledger")
    return ", ".join(
        part
        for part in (
            window.scheme or says("all schemes"),
            window.since and says(f"from {window.since}"),
            window.until and says(f"until {window.until}"),
        )
        if part
    )


PAGES: Final = (
    Page("GET", "/findings", show_findings, AUDIT, menu="Findings"),
    Page("GET", "/findings/new", show_new, CERTIFIER),
    Page("POST", "/findings/new", note, CERTIFIER),
    Page("POST", "/findings/{finding:path}/settle", settle, CERTIFIER),
)
