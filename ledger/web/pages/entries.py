"""The record itself: a list of entries, and each entry with what became of it."""

from collections.abc import Mapping
from typing import Final
from urllib.parse import urlencode

from starlette.responses import Response

from ledger.books.effect import SubjectKind
from ledger.chain.entry import Entry
from ledger.desk.entries import (
    OneEntry,
    PageOfEntries,
    Standing,
    Wanted,
    find_entries,
    read_entry,
)
from ledger.desk.sealed_for import EntryReader, RoleReader
from ledger.errors import InputError, NotFoundError
from ledger.reports.effects_table import effects_tables
from ledger.reports.entry_body import body_lines
from ledger.reports.entry_table import corrections_table, name_in
from ledger.reports.tables import Column, Table
from ledger.store.people import list_people
from ledger.trade.kinds import KINDS
from ledger.web.access import AUDIT, COMPLIANCE, MAKER, may_open
from ledger.web.asked import Asked
from ledger.web.page import Page
from ledger.web.report import Report, download, show_report

ADDRESSES: Final[Mapping[SubjectKind, str]] = {
    SubjectKind.BATCH: "/batches/",
    SubjectKind.CONTRACT: "/contracts/",
    SubjectKind.LOT: "/lots/",
    SubjectKind.SALE: "/sales/",
    SubjectKind.SHIPMENT: "/shipments/",
}
"""Where the pages of things are, by their sort."""


def show_entries(asked: Asked) -> Response:
    """List entries, the last recorded first."""
    wanted = Wanted(
        kind=asked.query("kind"),
        by=asked.query("by"),
        since=asked.day("since"),
        until=asked.day("until"),
        before=number_in(asked.query("before"), named="before"),
    )
    with asked.books() as books:
        found = find_entries(books.rows, wanted, reader_of(asked))
        known = () if asked.is_limited else list_people(books.rows)
        authors = sorted({one.name for one in known} | _authors(found))
    report = Report(
        asked.tongue.says("Entries"),
        [_table(asked, found)],
        links={"entry": "/entries/{entry}"},
    )
    return show_report(
        asked,
        report,
        template="entries.html",
        wanted=wanted,
        kinds=sorted(KINDS),
        authors=authors,
        earlier=_address_before(asked, found.before),
    )


def show_entry(asked: Asked) -> Response:
    """Show one entry: what it says, what it did, and what touches it."""
    seq = number_in(asked.part("seq"), named="the entry of the address")
    if seq is None:
        raise NotFoundError("the address names no entry; choose one from the list")
    with asked.books() as books:
        one = read_entry(books.rows, books.shelf, seq, reader_of(asked))
    if asked.query("as") == "stored":
        return download(one.raw, f"entry-{seq}.json", "application/json")
    says = asked.tongue.says
    name = name_in(one.entry.kind, one.body)
    tables = [*effects_tables(one.effects)]
    if one.corrections:
        tables.append(corrections_table(one.corrections))
    report = Report(
        says(f"Entry {seq}: {one.entry.kind} {name}"),
        tables,
        links={
            "lot": "/lots/{lot}",
            "account": "/balance/{account}",
            "entry": "/entries/{entry}",
            "corrects_entry": "/entries/{corrects_entry}",
        },
    )
    return show_report(
        asked,
        report,
        template="entry.html",
        one=one,
        lines=body_lines(one.body),
        addresses=asked.leading(ADDRESSES),
        standing=standing_words(asked, one.entry, one.standing),
        may_correct=may_open(asked.person, COMPLIANCE) and _may_be_corrected(one),
    )


def reader_of(asked: Asked) -> EntryReader:
    """Return who reads entries: what decides which sealed values are opened."""
    return RoleReader(asked.person.roles)


def standing_words(asked: Asked, entry: Entry, standing: Standing) -> str:
    """Return whether what an entry recorded counts, in words."""
    says = asked.tongue.says
    if standing.by == entry.seq:
        if entry.kind != "correction":
            return says("counts")
        target = entry.body["target"]
        if "replacement" in entry.body:
            return says(f"stands in the place of entry {target}")
        return says(f"made entry {target} void")
    if standing.is_void:
        return says("void")
    return says(f"replaced by entry {standing.by}")


def _may_be_corrected(one: OneEntry) -> bool:
    is_replacement = one.entry.kind != "correction" or "replacement" in one.entry.body
    return is_replacement and one.standing.by == one.entry.seq


def _table(asked: Asked, found: PageOfEntries) -> Table:
    return Table(
        title="Entries, the last recorded first",
        columns=(
            Column("entry", "Entry", is_figure=True),
            Column("kind", "Kind"),
            Column("name", "Name"),
            Column("occurred_on", "Happened on"),
            Column("recorded_at", "Recorded"),
            Column("recorded_by", "By"),
            Column("standing", "Standing"),
        ),
        rows=[
            (
                str(entry.seq),
                entry.kind,
                name_in(entry.kind, entry.body),
                entry.occurred_on.isoformat(),
                f"{entry.recorded_at:%Y-%m-%d %H:%M} UTC",
                entry.recorded_by,
                standing_words(asked, entry, standing),
            )
            for entry, standing in found.entries
        ],
    )


def _authors(found: PageOfEntries) -> set[str]:
    return {entry.recorded_by for entry, _ in found.entries}


def _address_before(asked: Asked, before: int | None) -> str:
    if before is None:
        return ""
    kept = [
        (name, value)
        for name, value in asked.request.query_params.multi_items()
        if name not in {"before", "as", "table"}
    ]
    return f"/entries?{urlencode([*kept, ('before', str(before))])}"


def number_in(given: str, *, named: str) -> int | None:
    """Return the number of an entry that a text gives; None where it is empty.

    Raises:
        InputError: It is not a number.
    """
    if not given:
        return None
    if not given.isdecimal() or not given.isascii() or len(given) > _LONGEST_NUMBER:
        raise InputError(
            f"{named} is {given!r}, which is not the number of an entry; write digits only"
        )
    return int(given)


_LONGEST_NUMBER: Final = 15

PAGES: Final = (
    Page("GET", "/entries", show_entries, MAKER | AUDIT, menu="Entries"),
    Page("GET", "/entries/{seq}", show_entry, MAKER | AUDIT),
)
