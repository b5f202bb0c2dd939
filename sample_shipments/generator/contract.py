"""The contracts for beans, and how their prices were agreed or fixed."""

from dataclasses import dataclass
from datetime import date

from sample_shipments.generator.cast import CAHOBA, QUIRIMAYO, VATULANI


@dataclass(frozen=True, slots=True)
class Fixation:
    """A part of a contract whose price was fixed.

    Attributes:
        name: Name of the fixation.
        on: When.
        grams: How much.
    """

    name: str
    on: date
    grams: int


@dataclass(frozen=True, slots=True)
class Contract:
    """A contract for beans.

    Attributes:
        name: Contract number.
        seller: The cooperative.
        origin: Country of origin.
        region: Where in it.
        signed: When it was signed.
        grams: Quantity.
        usd: Agreed price a tonne, or 0 where it is fixed later against the market.
        shipped_between: The shipment period.
        place: Port that goes with FOB.
        crop: Crop year.
        organic: Whether bought as organic.
        landed: Whether landed weight settles the price.
        fixations: How the price was fixed.
        typed: The quantity as typed, where not in kilograms.
    """

    name: str
    seller: str
    origin: str
    region: str
    signed: date
    grams: int
    usd: int
    shipped_between: str
    place: str
    crop: str
    organic: bool = False
    landed: bool = False
    fixations: tuple[Fixation, ...] = ()
    typed: str = ""


DIFFERENTIAL_GBP = 310
"""What the contract to be fixed pays over the market, GBP a tonne."""


CONTRACTS = (
    Contract(
        name="K-01",
        seller=CAHOBA,
        origin="DO",
        region="Loma Cahoba",
        signed=date(2024, 10, 1),
        grams=2_000_000,
        usd=5_650,
        shipped_between="2024-10-01 2024-10-31",
        place="Caucedo",
        crop="2023/24",
    ),
    Contract(
        name="K-02",
        seller=QUIRIMAYO,
        origin="PE",
        region="Quirimayo",
        signed=date(2024, 10, 9),
        grams=3_200_000,
        usd=5_300,
        shipped_between="2024-10-20 2025-02-28",
        place="Callao",
        crop="2024/25",
    ),
    Contract(
        name="K-03",
        seller=VATULANI,
        origin="SB",
        region="Vatulani",
        signed=date(2024, 11, 12),
        grams=2_800_000,
        usd=0,
        shipped_between="2025-01-05 2025-03-31",
        place="Honiara",
        crop="2024/25",
        landed=True,
        fixations=(
            Fixation(
                name="F-03/1",
                on=date(2025, 1, 15),
                grams=1_400_000,
            ),
            Fixation(
                name="F-03/2",
                on=date(2025, 2, 19),
                grams=1_400_000,
            ),
        ),
    ),
    Contract(
        name="K-04",
        seller=CAHOBA,
        origin="DO",
        region="Loma Cahoba",
        signed=date(2025, 1, 20),
        grams=1_500_000,
        usd=6_700,
        shipped_between="2025-02-01 2025-03-15",
        place="Caucedo",
        crop="2024/25",
        organic=True,
    ),
    Contract(
        name="K-05",
        seller=QUIRIMAYO,
        origin="PE",
        region="Quirimayo",
        signed=date(2025, 4, 3),
        grams=1_900_121,
        usd=6_100,
        shipped_between="2025-05-01 2025-05-31",
        place="Callao",
        crop="2024/25",
        typed="4189.05 lb",
    ),
    Contract(
        name="K-06",
        seller=CAHOBA,
        origin="DO",
        region="Loma Cahoba",
        signed=date(2025, 5, 12),
        grams=1_700_000,
        usd=5_600,
        shipped_between="2025-06-01 2025-06-30",
        place="Caucedo",
        crop="2024/25",
    ),
    Contract(
        name="K-07",
        seller=VATULANI,
        origin="SB",
        region="Vatulani",
        signed=date(2025, 7, 8),
        grams=1_500_000,
        usd=5_350,
        shipped_between="2025-08-15 2025-09-30",
        place="Honiara",
        crop="2024/25",
    ),
    Contract(
        name="K-08",
        seller=QUIRIMAYO,
        origin="PE",
        region="Quirimayo",
        signed=date(2025, 10, 15),
        grams=2_000_000,
        usd=4_450,
        shipped_between="2025-10-25 2025-11-30",
        place="Callao",
        crop="2025/26",
    ),
    Contract(
        name="K-09",
        seller=CAHOBA,
        origin="DO",
        region="Loma Cahoba",
        signed=date(2025, 11, 5),
        grams=1_600_000,
        usd=4_900,
        shipped_between="2025-12-01 2025-12-31",
        place="Caucedo",
        crop="2025/26",
        organic=True,
    ),
    Contract(
        name="K-10",
        seller=QUIRIMAYO,
        origin="PE",
        region="Quirimayo",
        signed=date(2026, 1, 12),
        grams=2_000_000,
        usd=4_600,
        shipped_between="2026-01-15 2026-02-15",
        place="Callao",
        crop="2025/26",
    ),
    Contract(
        name="K-11",
        seller=VATULANI,
        origin="SB",
        region="Vatulani",
        signed=date(2026, 3, 5),
        grams=1_400_000,
        usd=4_750,
        shipped_between="2026-04-01 2026-05-15",
        place="Honiara",
        crop="2025/26",
    ),
    Contract(
        name="K-12",
        seller=CAHOBA,
        origin="DO",
        region="Loma Cahoba",
        signed=date(2026, 5, 4),
        grams=1_050_000,
        usd=4_550,
        shipped_between="2026-05-25 2026-06-30",
        place="Caucedo",
        crop="2025/26",
    ),
)


def contract_named(name: str) -> Contract:
    """Return a contract by its number."""
    return next(contract for contract in CONTRACTS if contract.name == name)
