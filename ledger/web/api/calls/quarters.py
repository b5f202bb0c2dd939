"""What is reported for each quarter: fees on what was claimed, and volumes."""

from typing import Final

from ledger.books.fee import fees_of
from ledger.books.volume import volumes_of
from ledger.reports.fee_table import fees_table
from ledger.reports.volume_table import BEANS, WEIGHED, volumes_table
from ledger.trade.scope import Scope
from ledger.web.access import AUDIT
from ledger.web.api.asking import InQuarter, RecordedBy, quarter_of
from ledger.web.api.call import Call
from ledger.web.api.caller import Calling
from ledger.web.api.mass_row import VolumeRow, Volumes
from ledger.web.api.money_row import FeeRow, Fees
from ledger.web.api.row import rows_from, said_of


def read_fees(
    caller: Calling, quarter: InQuarter = None, recorded_by: RecordedBy = None
) -> Fees:
    """Return the fees on what was sold under a claim in a quarter."""
    asked = quarter_of(quarter, caller.office.today())
    with caller.books(recorded_by) as books:
        table = fees_table(fees_of(books.shelf, asked))
    return Fees(rows=rows_from(FeeRow, table), **said_of(table))


def read_volumes(
    caller: Calling, quarter: InQuarter = None, recorded_by: RecordedBy = None
) -> Volumes:
    """Return what was bought, used, sold with and without claim and is in stock."""
    asked = quarter_of(quarter, caller.office.today())
    with caller.books(recorded_by) as books:
        table = volumes_table(volumes_of(books.shelf, asked), (WEIGHED, BEANS))
    return Volumes(rows=rows_from(VolumeRow, table), **said_of(table))


CALLS: Final = (
    Call(
        "GET",
        "/fees",
        read_fees,
        Fees,
        AUDIT,
        Scope.READ,
        "Quarters",
        follows_day=True,
        example={"quarter": "2026Q3"},
    ),
    Call(
        "GET",
        "/volumes",
        read_volumes,
        Volumes,
        AUDIT,
        Scope.READ,
        "Quarters",
        follows_day=True,
        example={"quarter": "2026Q3"},
    ),
)
