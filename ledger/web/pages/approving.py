"""Corrections that wait for a second person, and whether they must."""

from collections.abc import Iterator
from typing import Final

from starlette.responses import Response

from ledger.desk.approving import (
    approve,
    ask_for_two,
    decline,
    digest_of_proposal,
    waiting,
)
from ledger.desk.entries import in_order
from ledger.desk.two_persons import needs_two
from ledger.errors import InputError, LedgerError, NotFoundError
from ledger.reports.entry_body import body_lines
from ledger.store.proposals import Proposal, list_proposals
from ledger.web.access import ADMINISTRATOR, COMPLIANCE
from ledger.web.asked import Asked
from ledger.web.door import status_of
from ledger.web.foretold import Foretold
from ledger.web.page import Page
from ledger.web.pages.correcting import corrected_by, foretold_correction
from ledger.web.pages.entries import ADDRESSES, number_in
from ledger.web.typed_body import fields_that_differ


def show_waiting(asked: Asked) -> Response:
    """List what waits."""
    with asked.office.rows() as rows:
        return asked.page(
            "approve.html", waiting=list(list_proposals(rows)), two=needs_two(rows)
        )


def show_proposal(asked: Asked, error: LedgerError | None = None) -> Response:
    """Show what a proposed correction would change."""
    with asked.office.rows() as rows:
        one = waiting(rows, _number(asked))
        two = needs_two(rows)
    try:
        told = foretold_correction(asked, one.occurred_on, one.body, two=two)
    except InputError as wrong:
        told = Foretold(refusal=str(wrong))
    return asked.page(
        "proposal.html",
        status=status_of(error) if error else 200,
        one=one,
        lines=body_lines(in_order(one.kind, one.body)),
        changes=list(_changes(asked, one)),
        addresses=ADDRESSES,
        seen=digest_of_proposal(one),
        is_mine=one.person == asked.person.name,
        foretold=told,
        worked_out=[],
        sentence=str(error or ""),
    )


def _changes(asked: Asked, one: Proposal) -> Iterator[tuple[str, str, str]]:
    """Yield the fields in which the replacement differs from what counts now."""
    target, replacement = one.body.get("target"), one.body.get("replacement")
    if not isinstance(target, int) or not isinstance(replacement, dict):
        return
    try:
        wrongly = corrected_by(asked, target)
    except LedgerError:
        return  # why it cannot be corrected any more is told by what it would do
    happened = str(replacement["occurred_on"])
    if happened != wrongly.happened.isoformat():
        yield "occurred_on", wrongly.happened.isoformat(), happened
    if isinstance(replacement["body"], dict):
        after = in_order(str(replacement["entry_kind"]), replacement["body"])
        yield from fields_that_differ(wrongly.body, after)


def decide(asked: Asked) -> Response:
    """Record a proposed correction, or drop it."""
    number, seen = _number(asked), asked.text("seen")
    try:
        if asked.text("do") == "approve":
            with asked.writing() as writing:
                made = approve(writing, number, seen=seen)
            return asked.away(
                f"/entries/{made.recorded.seq}",
                said=asked.tongue.says("The correction is approved and recorded."),
            )
        with asked.writing() as writing:
            decline(writing, number, seen=seen)
    except NotFoundError:
        raise
    except LedgerError as error:
        return show_proposal(asked, error)
    return asked.away(
        "/approve", said=asked.tongue.says("The proposal is dropped; nothing changed.")
    )


def show_rules(asked: Asked, error: LedgerError | None = None) -> Response:
    """Show whether corrections need two persons."""
    with asked.office.rows() as rows:
        two = needs_two(rows)
    return asked.page(
        "house_rules.html",
        status=status_of(error) if error else 200,
        two=two,
        sentence=str(error or ""),
    )


def keep_rules(asked: Asked) -> Response:
    """Set whether corrections need two persons."""
    try:
        with asked.writing() as writing:
            ask_for_two(writing, two=bool(asked.text("two")))
    except LedgerError as error:
        return show_rules(asked, error)
    return asked.away(
        "/house-rules", said=asked.tongue.says("The rule holds from now on.")
    )


def _number(asked: Asked) -> int:
    return number_in(asked.part("number"), named="the proposal of the address") or 0


PAGES: Final = (
    Page("GET", "/approve", show_waiting, COMPLIANCE, menu="To approve"),
    Page("GET", "/approve/{number}", show_proposal, COMPLIANCE),
    Page("POST", "/approve/{number}", decide, COMPLIANCE),
    Page("GET", "/house-rules", show_rules, ADMINISTRATOR, menu="House rules"),
    Page("POST", "/house-rules", keep_rules, ADMINISTRATOR),
)
