"""Tracing: where goods came from and where they went, in a picture that one can walk."""

from fractions import Fraction
from typing import Final
from urllib.parse import urlencode

from starlette.responses import Response

from ledger.books.asked import find_asked
from ledger.books.effect import Subject, SubjectKind
from ledger.books.genealogy import trace_back, trace_forward
from ledger.books.shelf import Shelf
from ledger.books.source import SourceLot, lot_named
from ledger.books.trace import Direction, Trace
from ledger.books.why_share import WELL_MIXED, why_share
from ledger.errors import InputError, LedgerError
from ledger.reports.figures import mass_text, share_words
from ledger.reports.genealogy_boxes import Sort
from ledger.reports.genealogy_walk import (
    MOST_FOLDED,
    MOST_LEGS,
    MOST_THROUGH,
    Stop,
    walk_of,
)
from ledger.reports.share_workings import share_workings_table
from ledger.reports.tongue import Tongue
from ledger.reports.trace_table import (
    destinations_table,
    trace_table,
    walk_sources_table,
)
from ledger.store.people import Window
from ledger.web.access import AUDIT, MAKER, may_open
from ledger.web.asked import Asked
from ledger.web.goods import Fact, facts_of, shortest_word, show_choice
from ledger.web.page import Page
from ledger.web.report import Report, show_report

MAY_TRACE: Final = MAKER | AUDIT
HALF_A_GRAM: Final = Fraction(1, 2)
ROWS: Final = 50
"""Rows of a table at a time, so that they fit on a page beside the picture."""
_LINKS: Final = {
    "lot": "/trace?of=lot:{lot}",
    "entry": "/entries/{entry}",
    "shipment": "/shipments/{shipment}",
    "contract": "/contracts/{contract}",
}


def show_trace(asked: Asked) -> Response:
    """Show where goods came from or went, or ask which goods are meant."""
    word = asked.query("of")
    if not word:
        return show_choice(asked, title="Trace", has_ways=True)
    with asked.books() as books:
        try:
            subject = find_asked(books.shelf, word)
        except LedgerError as error:
            return show_choice(
                asked, title="Trace", word=word, error=error, has_ways=True
            )
        if lot := asked.query("why"):
            return _show_why(asked, books.shelf, subject, lot)
        found = _traced(asked, books.shelf, subject)
        facts = tuple(
            facts_of(
                asked.tongue,
                books.shelf,
                subject,
                asked.as_of() if _sees_all(asked) else None,
            )
        )
        word = shortest_word(books.shelf, subject)
    return _show_found(asked, found, facts, word)


def _traced(asked: Asked, shelf: Shelf, subject: Subject) -> Trace:
    if _direction(asked, shelf, subject) is Direction.BACK:
        return trace_back(shelf, subject)
    return trace_forward(shelf, subject, until=asked.as_of())


def _direction(asked: Asked, shelf: Shelf, subject: Subject) -> Direction:
    """Return which way the address asks for, else the one that has something to show."""
    given = asked.query("way")
    if given:
        if given not in set(Direction):
            raise InputError(
                f"way is {given!r}, which is no way to trace; use back or forward"
            )
        return Direction(given)
    if subject.kind is SubjectKind.SHIPMENT:
        return Direction.FORWARD
    if subject.kind is SubjectKind.LOT and isinstance(
        lot_named(shelf, subject.name, field="lot"), SourceLot
    ):
        return Direction.FORWARD
    return Direction.BACK


def _show_found(
    asked: Asked, found: Trace, facts: tuple[Fact, ...], word: str
) -> Response:
    is_back = found.direction is Direction.BACK
    walk = walk_of(
        found,
        address_of=lambda stop: _address(stop, found.direction),
        told=lambda stop: _told(asked.tongue, found, stop),
        says=asked.tongue.says,
    )
    report = Report(
        _title(asked.tongue, found.asked),
        [
            walk_sources_table(found) if is_back else destinations_table(found),
            trace_table(found),
        ],
        links=_LINKS,
        rows_per_page=ROWS,
    )
    return show_report(
        asked,
        report,
        template="trace.html",
        trace=found,
        word=word,
        facts=facts,
        walk=walk,
        is_back=is_back,
        sees_all=_sees_all(asked),
        other_way=_trace_of(
            found.asked, Direction.FORWARD if is_back else Direction.BACK
        ),
        until=asked.as_of(),
        may_recall=may_open(asked.person, MAKER),
        most_legs=MOST_LEGS,
        most_through=MOST_THROUGH,
        most_folded=MOST_FOLDED,
        mass=lambda grams: _mass(asked.tongue, grams),
        share=lambda part: _share(asked.tongue, part),
    )


def _sees_all(asked: Asked) -> bool:
    """Tell whether who asks sees all that left a lot, so that the rest is there."""
    return not asked.is_limited or asked.person.window == Window()


def _title(tongue: Tongue, subject: Subject) -> str:
    name = subject.name
    return tongue.says(
        {
            SubjectKind.LOT: f"Trace of lot {name}",
            SubjectKind.BATCH: f"Trace of batch {name}",
            SubjectKind.SALE: f"Trace of sale {name}",
            SubjectKind.SHIPMENT: f"Trace of shipment {name}",
        }[subject.kind]
    )


def _told(tongue: Tongue, trace: Trace, stop: Stop) -> str:
    """Return what a box is called for those who do not see it."""
    name = stop.name
    figures = f"{_mass(tongue, stop.grams)}, {_share(tongue, trace.share(stop.grams))}"
    return tongue.says(
        {
            Sort.SUPPLIER: f"supplier {name}: {figures}",
            Sort.LOT: f"lot {name}: {figures}",
            Sort.CUSTOMER: f"customer {name}: {figures}",
            Sort.REST: f"{tongue.says(name)}: {figures}",
        }[stop.sort]
    )


def _address(stop: Stop, way: Direction) -> str:
    """Return where the box of a stop leads: a lot to its trace, others to their words."""
    if stop.lot is None:
        return f"#stop-{stop.number}"
    return _trace_of(Subject(SubjectKind.LOT, stop.name), way)


def _trace_of(subject: Subject, way: Direction) -> str:
    named = {"of": f"{subject.kind}:{subject.name}", "way": way.value}
    return f"/trace?{urlencode(named)}"


def _mass(tongue: Tongue, grams: Fraction) -> str:
    """Return a mass in the reader's way; what would read as nothing is said in words."""
    if 0 < grams < HALF_A_GRAM:
        return tongue.says("under 1 g")
    return f"{tongue.figure(mass_text(grams))} kg"


def _share(tongue: Tongue, part: Fraction) -> str:
    """Return a share of one in per cent in the reader's way."""
    figure, _, unit = share_words(part).partition(" ")
    return (
        f"{tongue.figure(figure)} {unit}"
        if unit == "%"
        else tongue.says(f"{figure} {unit}")
    )


def _show_why(asked: Asked, shelf: Shelf, subject: Subject, lot: str) -> Response:
    """Show how the share of a lot in some goods was reached."""
    found = why_share(shelf, subject, lot)
    table = share_workings_table(found)
    report = Report(
        asked.tongue.says(table.title),
        [table],
        links={"entry": "/entries/{entry}"},
        lead=[
            asked.tongue.says(f"{WELL_MIXED[:1].upper()}{WELL_MIXED[1:]}."),
            asked.tongue.says(
                "A name in square brackets stands for the exact figure of its line."
            ),
        ],
    )
    return show_report(asked, report)


def go_to_lot(asked: Asked) -> Response:
    """Send whoever asks for a lot to its trace."""
    return _away_to(asked, SubjectKind.LOT)


def go_to_sale(asked: Asked) -> Response:
    """Send whoever asks for a sale to its trace."""
    return _away_to(asked, SubjectKind.SALE)


def _away_to(asked: Asked, kind: SubjectKind) -> Response:
    return asked.away(f"/trace?{urlencode({'of': f'{kind}:{asked.part(kind)}'})}")


PAGES: Final = (
    Page("GET", "/trace", show_trace, MAY_TRACE, menu="Trace"),
    Page("GET", "/lots/{lot:path}", go_to_lot, MAY_TRACE),
    Page("GET", "/sales/{sale:path}", go_to_sale, MAY_TRACE),
)
