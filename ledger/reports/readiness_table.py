"""Tables of what an audit would find first: points, headroom, certificates, signing."""

from collections.abc import Iterable, Iterator
from typing import Final

from ledger.books.audit_point import DEFERS, Point
from ledger.books.headroom import ASSUMED, Headroom
from ledger.books.readiness import Readiness
from ledger.books.rolling import Average
from ledger.books.validity import Validity
from ledger.reports.balance_table import UNIT, average_sentence
from ledger.reports.dues_table import shortfall_table
from ledger.reports.entry_table import Flagged, flagged_table
from ledger.reports.figures import kg_text, mass_text
from ledger.reports.stock_table import stock_table
from ledger.reports.tables import Column, Table
from ledger.reports.yield_table import outside_table


def points_table(points: Iterable[Point]) -> Table:
    """Return what stands against passing an audit, and what has to be explained."""
    return Table(
        title="What an audit would find",
        columns=(
            Column("weight", "Weight", width=12),
            Column("topic", "Topic", width=12),
            Column("point", "Point", width=60),
        ),
        rows=[
            (
                "against" if point.is_against else "to explain",
                point.topic,
                point.sentence,
            )
            for point in points
        ],
        notes=[DEFERS],
    )


PERCENTAGE_TOO: Final = (
    "Where terms average percentages, no more of what is sold may be claimed than the "
    "certified part of what came in, whatever the account still holds."
)


def headroom_table(
    found: Iterable[Headroom], averages: Iterable[Average] = ()
) -> Table:
    """Return what every account may still cover, and the day it would run out.

    Args:
        found: The accounts.
        averages: Windows of accounts whose terms average percentages.
    """
    over = [average_sentence(one) for one in averages]
    accounts = tuple(found)
    up_to = f" on {accounts[0].on}" if accounts else ""
    return Table(
        title=f"Headroom of the accounts{up_to}, {UNIT}",
        columns=(
            Column("account", "Account", width=30),
            Column("standing_kg", "Standing", is_figure=True, width=12),
            Column(
                "floor_kg",
                "Floor of the account",
                is_figure=True,
                width=10,
                is_detail=True,
            ),
            Column("headroom_kg", "Headroom", is_figure=True, width=12),
            Column("since", "Claims since", width=12),
            Column("claimed_kg", "Claimed since", is_figure=True, width=12),
            Column("per_day_kg", "Claimed a day", is_figure=True, width=10),
            Column("covered_days", "Days covered", is_figure=True, width=8),
            Column("runs_out_on", "Runs out on", width=12),
        ),
        rows=[_headroom_row(one) for one in accounts],
        notes=[ASSUMED, *([PERCENTAGE_TOO] if over else []), *over],
    )


def _headroom_row(one: Headroom) -> tuple[str, ...]:
    days, out = one.covered_days, one.runs_out_on
    return (
        str(one.account),
        kg_text(one.standing_g),
        kg_text(one.floor_g),
        kg_text(one.grams),
        one.since.isoformat(),
        kg_text(one.claimed_g),
        mass_text(one.per_day_g),
        "" if days is None else str(days),
        "" if out is None else out.isoformat(),
    )


def certificates_table(found: Iterable[Validity]) -> Table:
    """Return every certificate with what it counts for, the first to end first."""
    certificates = tuple(found)
    up_to = f" on {certificates[0].on}" if certificates else ""
    return Table(
        title=f"Certificates{up_to}",
        columns=(
            Column("certificate", "Certificate", width=14),
            Column("entry", "Entry", is_figure=True, width=8, is_detail=True),
            Column("holder", "Holder", width=16),
            Column("scheme", "Scheme", width=14),
            Column("number", "Number", width=16, is_detail=True),
            Column("valid_from", "Valid from", width=12),
            Column("valid_until", "Valid until", width=12),
            Column("state", "State", width=12),
            Column("days_left", "Days left", is_figure=True, width=8),
            Column("stopped_from", "Stopped from", width=12),
            Column("renewed", "Renewed", width=8),
        ),
        rows=[_certificate_row(one) for one in certificates],
    )


def _certificate_row(one: Validity) -> tuple[str, ...]:
    certificate = one.certificate
    return (
        certificate.certificate,
        str(one.entry),
        certificate.holder,
        certificate.scheme,
        certificate.number,
        certificate.valid_from.isoformat(),
        certificate.valid_until.isoformat(),
        one.state,
        str(one.days_left),
        "" if one.stopped_from is None else one.stopped_from.isoformat(),
        "yes" if one.is_renewed else "",
    )


def readiness_tables(found: Readiness, points: Iterable[Point]) -> Iterator[Table]:
    """Yield everything that the answer rests on, in the order in which it is asked."""
    yield points_table(points)
    yield headroom_table(found.headrooms, found.averages)
    yield shortfall_table(found.overdue)
    yield certificates_table(found.certificates)
    yield flagged_table(
        (Flagged(recorded, finding) for recorded, finding in found.flagged),
        title="Batches outside limits and norms",
    )
    yield outside_table(found.yields)
    yield stock_table(found.held)
