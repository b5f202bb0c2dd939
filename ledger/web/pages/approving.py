"""Corrections that wait for a second person, and whether they must."""

from typing import Final

from starlette.responses import Response

from ledger.desk.approving import (
    ANYBODY,
    approve,
    as_if_approved,
    ask_for_two,
    decline,
    digest_of_proposal,
    waiting,
)
from ledger.desk.foresee import foresee
from ledger.desk.two_persons import needs_two
from ledger.errors import LedgerError, NotFoundError
from ledger.reports.entry_body import body_lines
from ledger.store.proposals import list_proposals
from ledger.web.access import ADMINISTRATOR, COMPLIANCE
from ledger.web.asked import Asked
from ledger.web.door import status_of
from ledger.web.foretold import foretold
from ledger.web.page import Page
from ledger.web.pages.entries import ADDRESSES, number_in


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
    found = foresee(
        as_if_approved(asked.writing),
        one.kind,
        one.occurred_on,
        {**one.body, "approved_by": ANYBODY},
    )
    return asked.page(
        "proposal.html",
        status=status_of(error) if error else 200,
        one=one,
        lines=body_lines(one.body),
        addresses=ADDRESSES,
        seen=digest_of_proposal(one),
        is_mine=one.person == asked.person.name,
        foretold=foretold(found, asked.tongue),
        worked_out=[],
        sentence=str(error or ""),
    )


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
