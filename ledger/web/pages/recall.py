"""A recall, or an exercise of one: what to lock away, whom to call, what is missing."""

from typing import Final
from urllib.parse import urlencode

from starlette.responses import Response

from ledger.books.effect import Subject, SubjectKind
from ledger.books.recall import Recall
from ledger.desk.recall import hold_recalled, recall_for, recall_pdf
from ledger.desk.sealed_for import RoleReader
from ledger.errors import LedgerError, NotFoundError
from ledger.reports.figures import kg_text
from ledger.reports.recall_table import LAW, recall_tables, reconciled_percent
from ledger.reports.tongue import Tongue
from ledger.web.access import COMPLIANCE, FLOOR, MAKER, may_open
from ledger.web.asked import Asked
from ledger.web.entry_form import NOTHING_WRONG, Wrong, record_typed, wrong_with
from ledger.web.goods import show_choice
from ledger.web.page import Page
from ledger.web.report import Report, download, show_report

PDF: Final = "application/pdf"
_LINKS: Final = {
    "lot": "/trace?of=lot:{lot}&way=forward",
    "sale": "/trace?of=sale:{sale}&way=back",
    "entry": "/entries/{entry}",
}


def show_recall(asked: Asked) -> Response:
    """Show the recall of some goods, or ask which are in doubt."""
    word = asked.query("of")
    if not word:
        return show_choice(asked, title="Recall", caution=LAW)
    return _show(asked, word)


def _show(asked: Asked, word: str, wrong: Wrong = NOTHING_WRONG) -> Response:
    reader = RoleReader(asked.person.roles)
    with asked.books() as books:
        try:
            found = recall_for(reader, books.shelf, word, asked.as_of())
        except NotFoundError as error:
            return show_choice(
                asked, title="Recall", word=word, error=error, caution=LAW
            )
        made_at = asked.office.now()
        if asked.query("as") == "pdf":
            made = recall_pdf(
                books.shelf, found, made_at=made_at, made_by=asked.person.name
            )
            return download(made, f"Recall of {word}.pdf", PDF)
    report = Report(
        _title(asked.tongue, found.asked),
        list(recall_tables(found, made_at=made_at)),
        links=_LINKS,
        address=_address(word) if wrong.sentence else "",
    )
    return show_report(
        asked,
        report,
        template="recall.html",
        status=wrong.status,
        recall=found,
        word=word,
        law=LAW,
        percent=reconciled_percent(found),
        kg=kg_text,
        free=_free(found),
        holds=_holds(found),
        pdf=f"/recall?{urlencode({'of': word, 'as_of': found.as_of, 'as': 'pdf'})}",
        may_hold=may_open(asked.person, FLOOR),
        may_release=may_open(asked.person, COMPLIANCE),
        wrong=wrong,
        typed=asked.form,
    )


def _title(tongue: Tongue, subject: Subject) -> str:
    name = subject.name
    return tongue.says(
        {
            SubjectKind.LOT: f"Recall of lot {name}",
            SubjectKind.BATCH: f"Recall of batch {name}",
            SubjectKind.SALE: f"Recall of sale {name}",
            SubjectKind.SHIPMENT: f"Recall of shipment {name}",
        }[subject.kind]
    )


def _free(found: Recall) -> list[str]:
    """Return the lots on hand that may still move."""
    return [one.lot for one in found.on_hand if one.left and one.left.hold is None]


def _holds(found: Recall) -> dict[str, list[str]]:
    """Return the lots on hand that are on hold, by hold."""
    holds: dict[str, list[str]] = {}
    for one in found.on_hand:
        if one.left is not None and one.left.hold is not None:
            holds.setdefault(one.left.hold, []).append(one.lot)
    return holds


def place_hold(asked: Asked) -> Response:
    """Place one hold on all that is on hand, in one step with the list of it."""
    word, hold = asked.text("of"), asked.text("hold")
    try:
        with asked.writing() as writing:
            found, _ = hold_recalled(
                writing,
                word,
                hold=hold,
                reason=asked.text("reason"),
                on=asked.day("on") or asked.office.today(),
            )
    except LedgerError as error:
        return _show(asked, word, wrong_with(error))
    count = len(found.on_hand)
    return asked.away(
        _address(word),
        said=asked.tongue.says(
            f"Hold {hold} is placed. Lots that may not move: {count}."
        ),
    )


def release_hold(asked: Asked) -> Response:
    """Release a hold, with who decided it and why."""
    word, hold = asked.text("of"), asked.text("hold")
    done = record_typed(
        asked,
        "hold.released",
        asked.day("on") or asked.office.today(),
        {"hold": hold, "reason": asked.text("reason")},
    )
    if isinstance(done, Wrong):
        return _show(asked, word, done)
    return asked.away(
        _address(word), said=asked.tongue.says(f"Hold {hold} is released.")
    )


def _address(word: str) -> str:
    return f"/recall?{urlencode({'of': word})}"


PAGES: Final = (
    Page("GET", "/recall", show_recall, MAKER, menu="Recall"),
    Page("POST", "/recall/hold", place_hold, FLOOR),
    Page("POST", "/recall/release", release_hold, COMPLIANCE),
)
