"""What did not go as planned: a hold, a loss, returns, mistypings, counts."""

from dataclasses import dataclass
from datetime import date

from sample_shipments.generator.cycle import RETURNED_BARS, RETURNED_LOT
from sample_shipments.generator.paper import Tree, kg
from sample_shipments.generator.product import PRODUCTS

HELD_LOT = "D70-24a"
HELD_FROM = date(2026, 2, 18)
RELEASED_ON = date(2026, 2, 25)
WRITTEN_OFF_ON = date(2026, 2, 24)
WRITTEN_OFF_BARS = 120

MISTYPED_MONTH = "2025-02"
"""The month in which two digits of a sale's mass were swapped when it was typed."""
MISTYPING_FOUND = date(2025, 2, 27)

DOUBLED_MONTH = "2025-08"
"""The month in which a sale of couverture was typed twice."""
DOUBLING_FOUND = date(2025, 11, 12)

STOCKTAKES = (date(2025, 9, 30), date(2026, 9, 30))
CLOSED_ON = date(2025, 10, 15)


@dataclass(frozen=True, slots=True)
class PlannedReturn:
    """Goods that come back from the first sale that can have held them.

    Attributes:
        name: Name of the return.
        on: Day they came back.
        lot: Lot they are of.
        pieces: How many.
        reason: Why.
    """

    name: str
    on: date
    lot: str
    pieces: int
    reason: str

    @property
    def product(self) -> str:
        """Code of the product."""
        return self.lot.partition("-")[0]

    @property
    def grams(self) -> int:
        """Mass that came back."""
        return self.pieces * PRODUCTS[self.product].unit_g


RETURNS = (
    PlannedReturn(
        "RT-01",
        date(2025, 3, 12),
        RETURNED_LOT,
        RETURNED_BARS,
        "bloomed in the customer's window; melted down again at the next conche",
    ),
    PlannedReturn(
        "RT-02", date(2026, 2, 11), "C66-22", 3, "three blocks more than ordered"
    ),
)


def hold_entries() -> list[dict[str, Tree]]:
    """Return the hold, the loss found under it, and its release."""
    grams = WRITTEN_OFF_BARS * PRODUCTS[HELD_LOT[:3]].unit_g
    return [
        {
            "kind": "hold.placed",
            "on": str(HELD_FROM),
            "hold": "H-01",
            "lots": [HELD_LOT],
            "reason": "a corner of a mould was found broken after moulding",
        },
        {
            "kind": "lot.written_off",
            "on": str(WRITTEN_OFF_ON),
            "lot": HELD_LOT,
            "mass_kg": kg(grams),
            "reason": "waste",
            "note": f"{WRITTEN_OFF_BARS} bars of the tray with the broken mould",
        },
        {
            "kind": "hold.released",
            "on": str(RELEASED_ON),
            "hold": "H-01",
            "reason": "the piece was found, the other trays were screened; officer-1",
        },
    ]


def move_entry() -> dict[str, Tree]:
    """Return the day on which blocks were carried to the cellar for the summer."""
    return {
        "kind": "lot.moved",
        "on": "2026-07-14",
        "lot": "C66-30",
        "to_place": "cellar",
    }


def closing_entry() -> dict[str, Tree]:
    """Return the sign-off of the first year."""
    return {
        "kind": "period.closed",
        "on": str(CLOSED_ON),
        "period": "2024-25",
        "start": "2024-10-01",
        "end": "2025-09-30",
        "signed_off_by": "officer-1",
        "note": "one lot counted over its book at the stocktake; being looked into",
    }
