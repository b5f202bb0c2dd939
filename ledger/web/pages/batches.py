"""Batches: the last ones, and each with its process record and what it did."""

from collections.abc import Iterator
from itertools import islice
from typing import Final

from starlette.responses import Response

from ledger.books.effect import Recorded, Subject, SubjectKind
from ledger.books.lookup import expect
from ledger.books.shelf import Shelf
from ledger.books.stock import OnHand
from ledger.books.tank import tank_of
from ledger.books.usual import warnings_of_batch
from ledger.errors import LedgerError, NotFoundError
from ledger.reports.batch_table import batches_table
from ledger.reports.effects_table import effects_tables
from ledger.reports.entry_body import body_lines
from ledger.reports.phrases import Says
from ledger.reports.svg import Drawing
from ledger.reports.tank_picture import tank_picture
from ledger.trade.batch import BatchMade
from ledger.trade.grams import to_grams
from ledger.trade.record import body_of
from ledger.trade.words import Step
from ledger.web.access import AUDIT, FLOOR, MAKER, may_open
from ledger.web.asked import Asked
from ledger.web.page import Page
from ledger.web.pages.batch_forms import ADDRESS
from ledger.web.pages.entries import ADDRESSES
from ledger.web.report import Report, show_report

MOST_LISTED: Final = 200
"""Batches that the list shows; older ones are found among the entries."""


def show_batches(asked: Asked) -> Response:
    """List the last batches, of all steps or of one."""
    step = asked.query("step")
    with asked.books() as books:
        found = (
            one
            for one in reversed(books.shelf.of_kind("batch.made"))
            if step in {"", expect(one.record, BatchMade).step}
        )
        table = batches_table(islice(found, MOST_LISTED))
    return show_report(
        asked,
        Report(
            asked.tongue.says("Batches"), [table], links={"batch": "/batches/{batch}"}
        ),
        template="batches.html",
        steps=list(Step),
        step=step,
        most=MOST_LISTED,
        new=ADDRESS if may_open(asked.person, FLOOR) else "",
    )


def show_batch(asked: Asked) -> Response:
    """Show one batch."""
    name = asked.part("batch")
    with asked.books() as books:
        recorded = books.shelf.introducer(Subject(SubjectKind.BATCH, name))
        if recorded is None:
            raise NotFoundError(
                f"no batch {name} is recorded; check the number, or choose one from the "
                "list of batches"
            )
        tables = effects_tables(books.shelf.effects(recorded.slot))
        warnings = list(_warnings(books.shelf, recorded))
        pictures = list(_pictures(books.shelf, recorded, asked.tongue.says))
    return show_report(
        asked,
        Report(
            asked.tongue.says(f"Batch {name}"),
            tables,
            links={"lot": "/lots/{lot}", "account": "/balance/{account}"},
        ),
        template="batch.html",
        recorded=recorded,
        lines=body_lines(body_of(recorded.record)),
        addresses=asked.leading(ADDRESSES),
        warnings=warnings,
        pictures=pictures,
        lots=_lots(recorded),
        new=ADDRESS if may_open(asked.person, FLOOR) else "",
        may_label=may_open(asked.person, MAKER),
    )


def _lots(recorded: Recorded) -> list[str]:
    """Return the lots that a batch gave."""
    return [part.lot for part in expect(recorded.record, BatchMade).outputs]


def _warnings(shelf: Shelf, recorded: Recorded) -> Iterator[str]:
    """Yield what is unusual about a batch, as far as the reader's books tell."""
    try:
        yield from (one.message for one in warnings_of_batch(shelf, recorded))
    except LedgerError:
        return


def _pictures(shelf: Shelf, recorded: Recorded, says: Says) -> Iterator[Drawing]:
    """Yield what a tank held once a batch had filled it, where its lots are all shown."""
    batch = expect(recorded.record, BatchMade)
    if batch.step is not Step.TANK:
        return
    for output in batch.outputs:
        held = OnHand(
            output.lot,
            to_grams(output.mass_kg),
            form=output.form,
            since=recorded.occurred_on,
        )
        place = output.place or batch.equipment or output.lot
        try:
            yield tank_picture(tank_of(shelf, place, [held]), says)
        except LedgerError:
            continue


PAGES: Final = (
    Page("GET", "/batches", show_batches, MAKER | AUDIT, menu="Batches"),
    Page("GET", "/batches/{batch:path}", show_batch, MAKER | AUDIT),
)
