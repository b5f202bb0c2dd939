"""Could I pass an audit today: the answer, what it rests on, and where to go on."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from typing import Final
from urllib.parse import quote

from starlette.responses import Response

from ledger.books.audit_point import (
    DEFERS,
    Point,
    Topic,
    Verdict,
    points_of,
    verdict_of,
)
from ledger.books.readiness import Readiness, readiness
from ledger.desk.readiness import signed_and_seen
from ledger.reports.entry_table import entry_name
from ledger.reports.figures import kg_text, money_text
from ledger.reports.readiness_table import readiness_tables
from ledger.web.access import COMPLIANCE
from ledger.web.asked import Asked
from ledger.web.dates import dates_asked
from ledger.web.page import Page
from ledger.web.report import Report, show_report

MOST_LINES: Final = 4
"""Lines on a card; the rest stands on the page that it leads to."""

Line = tuple[str, str]
"""What a line of a card says, and where it leads; nowhere where that is empty."""


@dataclass(frozen=True, slots=True)
class Card:
    """What one topic comes to.

    Attributes:
        topic: The topic.
        title: What the card is called.
        address: Where the card leads.
        points: What stands against passing, or has to be explained.
        lines: What a reader should see at once.
        more: What says how many lines were left out; empty if none.
    """

    topic: Topic
    title: str
    address: str
    points: tuple[Point, ...]
    lines: tuple[Line, ...]
    more: str


def show_readiness(asked: Asked) -> Response:
    """Answer whether an audit could be passed on a day."""
    dates, place = dates_asked(asked), asked.office.place
    is_whole = not asked.is_limited and dates.recorded_by is None
    with asked.books() as books:
        signed = signed_and_seen(
            books.rows, lambda: place.checkpoints_path, lambda: place.timestamps_path
        )
        found = (
            asked.office.answers.on(books, dates.until, signed)
            if is_whole
            else readiness(books.shelf, dates.until, signed)
        )
    points = points_of(found)
    report = Report(
        asked.tongue.says("Could I pass an audit today?"),
        tuple(readiness_tables(found, points)),
        links={
            "account": f"/balance/{{account}}?as_of={dates.until}",
            "entry": "/entries/{entry}",
            "contract": f"/dues/{{contract}}?as_of={dates.until}",
        },
    )
    return show_report(
        asked,
        report,
        template="compliance.html",
        dates=dates,
        verdict=verdict_of(points),
        Verdict=Verdict,
        points=points,
        address_of={topic: _address(topic, found.on) for topic in _ADDRESSES},
        cards=[_card(found, points, topic, asked) for topic in _ADDRESSES],
        defers=DEFERS,
    )


_ADDRESSES: Final = {
    Topic.ACCOUNTS: "/balance",
    Topic.BREACHES: "/breaches",
    Topic.DUES: "/dues",
    Topic.CERTIFICATES: "#certificates",
    Topic.BATCHES: "/yields",
    Topic.HOLDS: "/holds",
    Topic.MASSES: "/reconciliation",
    Topic.SIGNING: "/checkpoints",
}
"""Where each topic leads, in the order of the cards."""

_WITHOUT_DAY: Final = frozenset({Topic.CERTIFICATES, Topic.HOLDS, Topic.SIGNING})
"""Topics that lead to what holds now, or to a part of the same page."""

_TITLES: Final = {
    Topic.ACCOUNTS: "Accounts",
    Topic.BREACHES: "Open breaches",
    Topic.DUES: "Dues late or short",
    Topic.CERTIFICATES: "Certificates",
    Topic.BATCHES: "Batches outside norms",
    Topic.HOLDS: "Lots on hold",
    Topic.MASSES: "Masses",
    Topic.SIGNING: "Checkpoint",
}


def _address(topic: Topic, on: date) -> str:
    """Return where a topic leads, on the day that is asked about where it has one."""
    address = _ADDRESSES[topic]
    return address if topic in _WITHOUT_DAY else f"{address}?as_of={on}"


def _card(
    found: Readiness, points: Iterable[Point], topic: Topic, asked: Asked
) -> Card:
    lines = tuple(_LINES[topic](found, asked))
    left_out = len(lines) - MOST_LINES
    told_by = {topic}
    if topic is Topic.ACCOUNTS and any(one.grams < 0 for one in found.headrooms):
        told_by.add(Topic.BREACHES)
    return Card(
        topic=topic,
        title=asked.tongue.says(_TITLES[topic]),
        address=_address(topic, found.on),
        points=tuple(point for point in points if point.topic in told_by),
        lines=lines[:MOST_LINES],
        more=asked.tongue.says(f"And {left_out} more") if left_out > 0 else "",
    )


def _of_accounts(found: Readiness, asked: Asked) -> Iterator[Line]:
    for one in found.headrooms:
        address = f"/balance/{quote(str(one.account))}?as_of={found.on}"
        out = one.runs_out_on
        if one.grams < 0:
            text = f"{one.account}: {kg_text(-one.grams)} kg short"
        elif out is None:
            text = f"{one.account}: {kg_text(one.grams)} kg left, no claims lately"
        else:
            text = f"{one.account}: {kg_text(one.grams)} kg left, runs out on {out}"
        yield asked.tongue.says(text), address


def _of_breaches(found: Readiness, asked: Asked) -> Iterator[Line]:
    for breach in found.breaches.accounts:
        if breach.is_open and breach.shortfall:
            text = (
                f"{breach.account}: {kg_text(breach.needed_g)} kg short since "
                f"{breach.shortfall.first.day}"
            )
            yield asked.tongue.says(text), _address(Topic.BREACHES, found.on)
    for broken in found.breaches.claims:
        if broken.is_open:
            sale = broken.touched.sale.sale
            text = f"Sale {sale}: {kg_text(broken.touched.still_g)} kg still claimed"
            yield asked.tongue.says(text), f"/sales/{quote(sale, safe='')}"


def _of_dues(found: Readiness, asked: Asked) -> Iterator[Line]:
    for short in found.overdue:
        amount = (
            f"{money_text(short.outstanding_minor, short.currency)} {short.currency}"
        )
        text = (
            f"{short.contract}: {amount} of {short.duty} to {short.payee}, "
            f"{short.late_days} days late"
        )
        yield asked.tongue.says(text), _dues_of(short.contract, found.on)
    for line in found.paid_late:
        text = f"{line.contract}: {line.purpose} to {line.payee} was paid late"
        yield asked.tongue.says(text), _dues_of(line.contract, found.on)


def _dues_of(contract: str, on: date) -> str:
    return f"/dues/{quote(contract, safe='')}?as_of={on}"


def _of_certificates(found: Readiness, asked: Asked) -> Iterator[Line]:
    for one in found.certificates:
        certificate = one.certificate
        if one.counts:
            told = f"{one.days_left} days left"
        elif one.needs_attention:
            told = str(one.state)
        else:
            continue
        text = f"{certificate.certificate} of {certificate.holder}: {told}"
        yield asked.tongue.says(text), f"/entries/{one.entry}"


def _of_batches(found: Readiness, asked: Asked) -> Iterator[Line]:
    told = {recorded.seq: recorded for recorded, _ in found.flagged}
    told |= {
        one.recorded.seq: one.recorded
        for series in found.yields
        for one in series.outside
    }
    for seq in sorted(told, reverse=True):
        recorded = told[seq]
        text = f"{entry_name(recorded)} on {recorded.occurred_on}"
        yield asked.tongue.says(text), f"/entries/{seq}"


def _of_holds(found: Readiness, asked: Asked) -> Iterator[Line]:
    for one in found.held:
        text = f"{one.lot}: {kg_text(one.grams)} kg held by {one.hold}"
        yield asked.tongue.says(text), f"/lots/{quote(one.lot, safe='')}"


def _of_masses(found: Readiness, asked: Asked) -> Iterator[Line]:
    masses = found.masses
    told = "adds up to the gram" if masses.adds_up else "does not add up"
    text = f"All mass from {masses.since} to {masses.until} {told}"
    yield asked.tongue.says(text), f"/reconciliation?as_of={found.on}"
    for one in masses.counts:
        if not one.is_within:
            text = f"{one.lot}: counted {kg_text(one.difference_g)} kg off the book"
            yield asked.tongue.says(text), f"/entries/{one.recorded.seq}"


def _of_signing(found: Readiness, asked: Asked) -> Iterator[Line]:
    signed, tongue = found.signed, asked.tongue
    if signed.signed_at is not None:
        yield (
            tongue.says(
                f"Signed over {signed.covered} of {signed.entries} entries, "
                f"{signed.signed_at:%Y-%m-%d %H:%M} UTC"
            ),
            "",
        )
    if signed.seen_at is not None:
        yield (
            tongue.says(
                f"{signed.seen_by} saw {signed.seen} entries, "
                f"{signed.seen_at:%Y-%m-%d %H:%M} UTC"
            ),
            "",
        )


_LINES: Final = {
    Topic.ACCOUNTS: _of_accounts,
    Topic.BREACHES: _of_breaches,
    Topic.DUES: _of_dues,
    Topic.CERTIFICATES: _of_certificates,
    Topic.BATCHES: _of_batches,
    Topic.HOLDS: _of_holds,
    Topic.MASSES: _of_masses,
    Topic.SIGNING: _of_signing,
}

PAGES: Final = (
    Page("GET", "/compliance", show_readiness, COMPLIANCE, menu="Audit today"),
)
