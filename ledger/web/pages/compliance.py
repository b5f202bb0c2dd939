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
from ledger.reports.tongue import Tongue
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


def _titles(tongue: Tongue) -> dict[Topic, str]:
    """Return what the cards are called."""
    return {
        Topic.ACCOUNTS: tongue.says("Accounts"),
        Topic.BREACHES: tongue.says("Open breaches"),
        Topic.DUES: tongue.says("Dues late or short"),
        Topic.CERTIFICATES: tongue.says("Certificates"),
        Topic.BATCHES: tongue.says("Batches outside norms"),
        Topic.HOLDS: tongue.says("Lots on hold"),
        Topic.MASSES: tongue.says("Masses"),
        Topic.SIGNING: tongue.says("Checkpoint"),
    }


def _address(topic: Topic, on: date) -> str:
    """Return where a topic leads, on the day that is asked about where it has one."""
    address = _ADDRESSES[topic]
    return address if topic in _WITHOUT_DAY else f"{address}?as_of={on}"


def _card(
    found: Readiness, points: Iterable[Point], topic: Topic, asked: Asked
) -> Card:
    lines = tuple(_LINES[topic](found, asked.tongue))
    left_out = len(lines) - MOST_LINES
    told_by = {topic}
    if topic is Topic.ACCOUNTS and any(one.grams < 0 for one in found.headrooms):
        told_by.add(Topic.BREACHES)
    return Card(
        topic=topic,
        title=_titles(asked.tongue)[topic],
        address=_address(topic, found.on),
        points=tuple(point for point in points if point.topic in told_by),
        lines=lines[:MOST_LINES],
        more=asked.tongue.says(f"And {left_out} more") if left_out > 0 else "",
    )


def _of_accounts(found: Readiness, tongue: Tongue) -> Iterator[Line]:
    for one in found.headrooms:
        address = f"/balance/{quote(str(one.account))}?as_of={found.on}"
        account, out = one.account, one.runs_out_on
        kg = kg_text(abs(one.grams))
        if one.grams < 0:
            yield tongue.says(f"{account}: {kg} kg short"), address
        elif out is None:
            yield tongue.says(f"{account}: {kg} kg left, no claims lately"), address
        else:
            yield tongue.says(f"{account}: {kg} kg left, runs out on {out}"), address


def _of_breaches(found: Readiness, tongue: Tongue) -> Iterator[Line]:
    address = _address(Topic.BREACHES, found.on)
    for breach in found.breaches.accounts:
        if breach.is_open and breach.shortfall:
            kg, since = kg_text(breach.needed_g), breach.shortfall.first.day
            yield tongue.says(f"{breach.account}: {kg} kg short since {since}"), address
    for broken in found.breaches.claims:
        if broken.is_open:
            sale, kg = broken.touched.sale.sale, kg_text(broken.touched.still_g)
            yield (
                tongue.says(f"Sale {sale}: {kg} kg still claimed"),
                f"/sales/{quote(sale, safe='')}",
            )


def _of_dues(found: Readiness, tongue: Tongue) -> Iterator[Line]:
    for short in found.overdue:
        amount = money_text(short.outstanding_minor, short.currency)
        yield (
            tongue.says(
                f"{short.contract}: {amount} {short.currency} of {short.duty} to "
                f"{short.payee}, {short.late_days} days late"
            ),
            _dues_of(short.contract, found.on),
        )
    for line in found.paid_late:
        yield (
            tongue.says(
                f"{line.contract}: {line.purpose} to {line.payee} was paid late"
            ),
            _dues_of(line.contract, found.on),
        )


def _dues_of(contract: str, on: date) -> str:
    return f"/dues/{quote(contract, safe='')}?as_of={on}"


def _of_certificates(found: Readiness, tongue: Tongue) -> Iterator[Line]:
    for one in found.certificates:
        named, holder = one.certificate.certificate, one.certificate.holder
        address = f"/entries/{one.entry}"
        if one.counts:
            yield (
                tongue.says(
                    f"Certificate {named} of {holder}: {one.days_left} days left"
                ),
                address,
            )
        elif one.needs_attention:
            yield tongue.says(f"Certificate {named} of {holder}: {one.state}"), address


def _of_batches(found: Readiness, tongue: Tongue) -> Iterator[Line]:
    told = {recorded.seq: recorded for recorded, _ in found.flagged}
    told |= {
        one.recorded.seq: one.recorded
        for series in found.yields
        for one in series.outside
    }
    for seq in sorted(told, reverse=True):
        on = told[seq].occurred_on
        yield f"{entry_name(told[seq])}, {tongue.day(on)}", f"/entries/{seq}"


def _of_holds(found: Readiness, tongue: Tongue) -> Iterator[Line]:
    for one in found.held:
        kg = kg_text(one.grams)
        yield (
            tongue.says(f"{one.lot}: {kg} kg held by {one.hold}"),
            f"/lots/{quote(one.lot, safe='')}",
        )


def _of_masses(found: Readiness, tongue: Tongue) -> Iterator[Line]:
    since, until = found.masses.since, found.masses.until
    address = _address(Topic.MASSES, found.on)
    if found.masses.adds_up:
        yield (
            tongue.says(f"All mass from {since} to {until} adds up to the gram"),
            address,
        )
    else:
        yield tongue.says(f"Masses from {since} to {until} do not add up"), address
    for one in found.masses.counts:
        if not one.is_within:
            kg = kg_text(one.difference_g)
            yield (
                tongue.says(f"{one.lot}: counted {kg} kg off the book"),
                f"/entries/{one.recorded.seq}",
            )


def _of_signing(found: Readiness, tongue: Tongue) -> Iterator[Line]:
    signed = found.signed
    if signed.signed_at is not None:
        covered, entries = signed.covered, signed.entries
        at = tongue.moment(signed.signed_at)
        yield tongue.says(f"Signed over {covered} of {entries} entries, {at}"), ""
    if signed.seen_at is not None:
        at = tongue.moment(signed.seen_at)
        yield tongue.says(f"{signed.seen_by} saw {signed.seen} entries, {at}"), ""


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
