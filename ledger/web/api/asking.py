"""What the query of an address may say, with the same names everywhere."""

from datetime import date, datetime
from typing import Annotated

from fastapi import Path, Query
from pydantic import BeforeValidator, WithJsonSchema

from ledger.books.quarter import Quarter
from ledger.desk.asked_day import parse_moment
from ledger.errors import InputError
from ledger.trade.record import Day


def _read_moment(given: object) -> datetime:
    try:
        return parse_moment(str(given), named="recorded_by")
    except InputError as error:
        raise ValueError(str(error)) from None


AsOf = Annotated[
    Day | None,
    Query(
        description="Last trade date that counts; today if left out",
        examples=["2026-09-30"],
    ),
]
Since = Annotated[
    Day | None,
    Query(description="First trade date that counts", examples=["2026-04-01"]),
]
Until = Annotated[
    Day | None,
    Query(
        description="Last trade date that counts; today if left out",
        examples=["2026-09-30"],
    ),
]
RecordedBy = Annotated[
    Annotated[
        datetime,
        BeforeValidator(_read_moment),
        WithJsonSchema({"type": "string", "format": "date-time"}),
    ]
    | None,
    Query(
        description="Moment up to which entries were recorded, in UTC; all if left out",
        examples=["2026-09-30T12:00:00Z"],
    ),
]
InQuarter = Annotated[
    str | None,
    Query(
        max_length=6,
        description="Quarter of the calendar year; the last whole one if left out",
        examples=["2026Q3"],
    ),
]
OfGoods = Annotated[
    str,
    Query(
        min_length=1,
        max_length=200,
        description="A lot, batch, sale, shipment or bill of lading",
        examples=["SA-0122"],
    ),
]
Named = Annotated[
    str, Path(min_length=1, max_length=400, description="Name, as it is recorded")
]


def quarter_of(asked: str | None, today: date) -> Quarter:
    """Return the quarter that is asked for, or the last one that is over.

    Raises:
        InputError: It is not a quarter.
    """
    return Quarter.of(today).before if asked is None else Quarter.parse(asked)
