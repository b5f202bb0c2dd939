"""A table of closed periods."""

from collections.abc import Iterable

from ledger.books.effect import Recorded
from ledger.books.lookup import expect
from ledger.reports.tables import Column, Table
from ledger.trade.control import PeriodClosed


def periods_table(closed: Iterable[Recorded]) -> Table:
    """Return the closed periods, one a row, in the order in which they were closed."""
    return Table(
        title="Closed periods",
        columns=(
            Column("entry", "Entry", is_figure=True, width=8),
            Column("period", "Period", width=12),
            Column("start", "First day", width=12),
            Column("end", "Last day", width=12),
            Column("signed_on", "Signed on", width=12),
            Column("signed_off_by", "Signed off by", width=14),
            Column("breach", "Breach accepted", width=10),
            Column("note", "Remarks", width=34),
        ),
        rows=[_row(recorded) for recorded in closed],
    )


def _row(recorded: Recorded) -> tuple[str, ...]:
    period = expect(recorded.record, PeriodClosed)
    return (
        str(recorded.seq),
        period.period,
        period.start.isoformat(),
        period.end.isoformat(),
        recorded.occurred_on.isoformat(),
        period.signed_off_by,
        "yes" if period.accept_breach else "no",
        period.note or "",
    )
