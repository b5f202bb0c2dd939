"""The deliveries of sugar, cocoa butter and milk powder, without contract or claim."""

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True)
class Delivery:
    """A delivery of sugar, butter or milk powder without a contract.

    Attributes:
        name: Name of the shipment.
        on: Day of arrival.
        lot: The maker's lot number.
        commodity: What it is.
        form: In which form.
        grams: Net weight.
        organic: Whether organic.
    """

    name: str
    on: date
    lot: str
    commodity: str
    form: str
    grams: int
    organic: bool = False


DELIVERIES = (
    Delivery(
        name="IN-01",
        on=date(2024, 10, 16),
        lot="SU-01",
        commodity="sugar",
        form="ingredient",
        grams=2_500_000,
    ),
    Delivery(
        name="IN-02",
        on=date(2024, 10, 16),
        lot="BU-01",
        commodity="cocoa",
        form="butter",
        grams=700_000,
    ),
    Delivery(
        name="IN-03",
        on=date(2025, 1, 22),
        lot="MP-01",
        commodity="milk",
        form="ingredient",
        grams=500_000,
    ),
    Delivery(
        name="IN-04",
        on=date(2025, 3, 6),
        lot="SO-01",
        commodity="sugar",
        form="ingredient",
        grams=600_000,
        organic=True,
    ),
    Delivery(
        name="IN-05",
        on=date(2025, 4, 8),
        lot="SU-02",
        commodity="sugar",
        form="ingredient",
        grams=3_000_000,
    ),
    Delivery(
        name="IN-06",
        on=date(2025, 5, 20),
        lot="BU-02",
        commodity="cocoa",
        form="butter",
        grams=700_000,
    ),
    Delivery(
        name="IN-07",
        on=date(2025, 12, 2),
        lot="SU-03",
        commodity="sugar",
        form="ingredient",
        grams=3_000_000,
    ),
    Delivery(
        name="IN-08",
        on=date(2025, 12, 2),
        lot="BU-03",
        commodity="cocoa",
        form="butter",
        grams=750_000,
    ),
    Delivery(
        name="IN-09",
        on=date(2026, 1, 15),
        lot="SO-02",
        commodity="sugar",
        form="ingredient",
        grams=650_000,
        organic=True,
    ),
)
