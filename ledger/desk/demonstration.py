"""What the demonstration asks about, and the two things it tries that must fail."""

from typing import Final

from ledger.errors import LedgerError
from ledger.store.engine import open_engine, rows_of

TRACED_SALE: Final = "SA-0122"
"""A sale of the invented scenario whose goods came through shared tanks."""

OVERSALE: Final = """\
kind: sale.dispatched
on: 2026-09-30
sale: SA-0314
document: INV-26-0314
customer: cust-10
lines:
  - lot: C66-32
    mass_kg: 600.000
    pieces: 120
    claims:
      - scheme: osierfold
        custody: mass balance
"""
"""A sale of the invented scenario that claims more than was certified."""

COUNTED: Final = """\
kind: lot.counted
on: 2026-09-30
lot: C66-32
found_kg: 665.000
counted_by: op-2
place: shelf-2
"""
"""What the invented maker records after the certifier's first visit."""

_EDITED_ENTRY: Final = 166


def edit_behind_the_back(url: str) -> str:
    """Try to change a stored entry with plain SQL, and return what the database says.

    Raises:
        RuntimeError: The database let it happen.
    """
    engine = open_engine(url)
    try:
        with engine.begin() as connection:
            rows_of(connection)(
                "UPDATE entry SET raw = :raw WHERE seq = :seq",
                {"raw": b"{}", "seq": _EDITED_ENTRY},
            )
    except LedgerError as error:
        return f"refused: {error}"
    finally:
        engine.dispose()
    raise RuntimeError("the database let a stored entry be changed")
