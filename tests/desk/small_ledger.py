"""A small ledger in a real database: bought, made, sold under a claim, paid, corrected.

Everything in it is invented. The clock and the salts are fixed, so it is the same to the
byte each time.
"""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta
from itertools import count
from pathlib import Path
from typing import Any

from ledger.books.effect import Recorded
from ledger.books.judge import judge
from ledger.books.memory import MemoryShelf
from ledger.books.opening import parse_body
from ledger.desk.record import record
from ledger.desk.writing import Writing
from ledger.store.engine import open_engine, rows_of
from ledger.store.migration import upgrade
from ledger.store.quick import quick_rows
from ledger.store.rows import Rows

Body = dict[str, Any]
Step = tuple[str, str, Body]
"""Kind, day and body of an entry."""

PAPER = b"weight note of an invented shipment\n"
AS_OF = date(2026, 6, 30)
MADE_AT = datetime(2026, 7, 1, 8, 0, tzinfo=UTC)

_CLAIM = {"scheme": "river", "custody": "mass balance"}
_FACTORS = [
    {"form": form, "factor": factor, "valid_from": "2020-01-01", "source": "table 2"}
    for form, factor in (("bean", "1.00"), ("liquor", "1.25"))
]

OPENED: Step = (
    "ledger.opened",
    "2026-01-02",
    {
        "format_version": 1,
        "organisation": "maker",
        "organisation_name": "Invented Maker",
        "sites": [{"site": "works", "place": "Works Lane 1", "country": "CH"}],
    },
)
COOPERATIVE: Step = (
    "party.registered",
    "2026-01-02",
    {
        "party": "coop",
        "roles": ["grower cooperative"],
        "country": "PE",
        "legal_name": "Invented Growers",
        "address": "Hill Road 3",
    },
)
CUSTOMERS: tuple[Step, ...] = tuple(
    (
        "party.registered",
        "2026-01-03",
        {
            "party": f"shop-{number}",
            "roles": ["customer"],
            "country": "CH",
            "legal_name": f"Invented Shop {number}",
        },
    )
    for number in range(5)
)
TERMS: Step = (
    "terms.published",
    "2026-01-03",
    {
        "scheme": "river",
        "version": "1",
        "valid_from": "2020-01-01",
        "source": "a published standard",
        "custody": ["mass balance"],
        "account": {"match_organic": False},
        "conversions": _FACTORS,
        "minimum_prices": [
            {
                "valid_from": "2020-01-01",
                "price": {"amount": "3000.00", "unit": "USD/t"},
                "source": "table 1",
            }
        ],
        "premiums": [
            {
                "valid_from": "2020-01-01",
                "price": {"amount": "240.00", "unit": "USD/t"},
                "source": "table 1",
            }
        ],
    },
)
CERTIFICATES: tuple[Step, ...] = tuple(
    (
        "certificate.recorded",
        "2026-01-04",
        {
            "certificate": f"{holder}-river",
            "holder": holder,
            "scheme": "river",
            "number": f"R-{holder}",
            "issued_by": "an invented certifier",
            "valid_from": "2025-01-01",
            "valid_until": "2026-12-31",
        },
    )
    for holder in ("coop", "maker")
)
BOUGHT: tuple[Step, ...] = (
    (
        "contract.signed",
        "2026-01-05",
        {
            "contract": "C-1",
            "seller": "coop",
            "claims": [_CLAIM],
            "origin": "PE",
            "crop": "2025/26",
            "quantity_kg": "1000.000",
            "price": {
                "basis": "fixed",
                "price": {"amount": "3100.00", "unit": "USD/t"},
            },
            "delivery_place": "Callao",
            "weight_basis": "landed",
        },
    ),
    (
        "shipment.dispatched",
        "2026-01-20",
        {
            "shipment": "SH-1",
            "contract": "C-1",
            "carriage": {"bill_of_lading": "BL 1"},
            "net_shipped_kg": "1000.000",
        },
    ),
    (
        "shipment.received",
        "2026-03-01",
        {
            "shipment": "SH-1",
            "contract": "C-1",
            "lots": [
                {"lot": "L-1", "net_shipped_kg": "1000.000", "net_landed_kg": "990.500"}
            ],
        },
    ),
    (
        "payment.made",
        "2026-03-20",
        {
            "payment": "PAY-1",
            "contract": "C-1",
            "payee": "coop",
            "towards": "price",
            "money": {"amount": "3000.00", "currency": "USD"},
            "document": "bank 1",
        },
    ),
)
MADE: Step = (
    "batch.made",
    "2026-03-10",
    {
        "batch": "B-1",
        "step": "grind",
        "inputs": [{"lot": "L-1", "mass_kg": "500.000"}],
        "outputs": [{"lot": "L-2", "form": "liquor", "mass_kg": "400.000"}],
        "losses": [{"reason": "shell", "mass_kg": "100.000"}],
    },
)


def sold(number: int, mass_kg: str, *, claimed: bool = True) -> Step:
    """Return a sale of liquor to one of the shops."""
    return (
        "sale.dispatched",
        "2026-04-01",
        {
            "sale": f"S-{number}",
            "document": f"INV {number}",
            "customer": f"shop-{number % 5}",
            "lines": [
                {
                    "lot": "L-2",
                    "mass_kg": mass_kg,
                    "claims": [_CLAIM] if claimed else [],
                }
            ],
            "value": {"amount": "99.00", "currency": "CHF"},
        },
    )


SMALL: tuple[Step, ...] = (
    OPENED,
    COOPERATIVE,
    *CUSTOMERS,
    TERMS,
    *CERTIFICATES,
    *BOUGHT,
    MADE,
    *(sold(number, "10.000") for number in range(6)),
    sold(6, "20.000", claimed=False),
    ("correction", "2026-05-01", {"target": 17, "reason": "never left the works"}),
)
"""A ledger of one purchase, one batch, seven sales and one correction."""

TINY: tuple[Step, ...] = (OPENED, COOPERATIVE, TERMS)
"""A ledger with hardly anything in it."""


def fill(path: Path, steps: Sequence[Step]) -> None:
    """Open a ledger in a new file and record entries in it."""
    engine = open_engine(f"sqlite:///{path}")
    upgrade(engine)
    moments = (
        datetime(2026, 6, 30, tzinfo=UTC) + timedelta(seconds=n) for n in count()
    )
    salts = (number.to_bytes(16, "big") for number in count(1))
    with engine.begin() as connection:
        writing = Writing(
            rows_of(connection),
            by="clerk",
            now=lambda: next(moments),
            new_salt=lambda: next(salts),
        )
        for kind, day, body in steps:
            record(writing, kind, date.fromisoformat(day), body)
    engine.dispose()


@contextmanager
def opened(path: Path) -> Iterator[Rows]:
    """Open a ledger to read."""
    with quick_rows(path) as rows:
        yield rows


def shelf_of(steps: Sequence[Step]) -> MemoryShelf:
    """Return the books over the same entries, in memory."""
    shelf = MemoryShelf()
    for seq, (kind, day, body) in enumerate(steps):
        recorded = Recorded(
            seq=seq,
            slot=seq,
            occurred_on=date.fromisoformat(day),
            recorded_at=datetime(2026, 6, 30, tzinfo=UTC),
            recorded_by="clerk",
            record=parse_body(kind, body),
        )
        judge(shelf, recorded)
    return shelf
