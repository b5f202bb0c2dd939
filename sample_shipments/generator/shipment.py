"""The shipments of beans, and their papers."""

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True)
class BeanLot:
    """One lot of a shipment.

    Attributes:
        lot: The maker's lot number.
        bags: Number of bags.
        shipped_g: Net shipped.
        landed_g: Net landed.
        moisture: Moisture, per cent.
        count: Beans in 100 g.
        cut: Mouldy, slaty, insect-damaged, germinated and flat beans, per cent.
        rejected: Why it was rejected, if it was.
        typed_shipped: Net shipped as typed, where not in kilograms.
        typed_landed: Net landed as typed, where not in kilograms.
    """

    lot: str
    bags: int
    shipped_g: int
    landed_g: int
    moisture: str
    count: int
    cut: str
    rejected: str = ""
    typed_shipped: str = ""
    typed_landed: str = ""


@dataclass(frozen=True, slots=True)
class Shipment:
    """A shipment of beans and its papers.

    Attributes:
        name: Name of the shipment.
        contract: Contract it comes under.
        dispatched: Date of the bill of lading.
        received: Day of arrival at the factory.
        bill: Number of the bill of lading.
        vessel: Vessel and voyage.
        loaded: Port of loading.
        container: Container number without its check digit.
        seal: Number of the container's seal.
        marks: Marks on the bags.
        lots: What was in it.
        typed: Net shipped as typed, where not in kilograms.
        typed_gross: Gross weight as typed, where not in kilograms.
        typed_tare: Tare as typed, where not in kilograms.
        certified: Whether the seller's certificate was valid when it shipped.
    """

    name: str
    contract: str
    dispatched: date
    received: date
    bill: str
    vessel: str
    loaded: str
    container: str
    seal: str
    marks: str
    lots: tuple[BeanLot, ...]
    typed: str = ""
    typed_gross: str = ""
    typed_tare: str = ""
    certified: bool = True


SHIPMENTS = (
    Shipment(
        name="SH-01",
        contract="K-01",
        dispatched=date(2024, 10, 4),
        received=date(2024, 10, 21),
        bill="CDO-4410-778",
        vessel="MV Corran Lantern, voyage 441N",
        loaded="Caucedo",
        container="WQXU410227",
        seal="DO118204",
        marks="CAHOBA / WRENLOCK / K-01",
        lots=(
            BeanLot(
                lot="DO-24-01",
                bags=32,
                shipped_g=2_000_000,
                landed_g=1_991_500,
                moisture="7.1",
                count=94,
                cut="1.3 2 0.3 0.7 0.7",
            ),
        ),
    ),
    Shipment(
        name="SH-02",
        contract="K-02",
        dispatched=date(2024, 10, 30),
        received=date(2024, 12, 5),
        bill="PEC-24-30917",
        vessel="MV Estela Saltern, voyage 58W",
        loaded="Callao",
        container="WQXU410553",
        seal="PE770415",
        marks="QUIRIMAYO / WRENLOCK / K-02 / 1-25",
        lots=(
            BeanLot(
                lot="PE-24-01",
                bags=25,
                shipped_g=1_600_000,
                landed_g=1_594_000,
                moisture="7.3",
                count=88,
                cut="0.7 1.3 0 0.3 1",
            ),
        ),
    ),
    Shipment(
        name="SH-03",
        contract="K-02",
        dispatched=date(2025, 2, 3),
        received=date(2025, 3, 10),
        bill="PEC-25-02254",
        vessel="MV Estela Saltern, voyage 61W",
        loaded="Callao",
        container="WQXU411790",
        seal="PE771290",
        marks="QUIRIMAYO / WRENLOCK / K-02 / 26-50",
        lots=(
            BeanLot(
                lot="PE-25-01",
                bags=25,
                shipped_g=1_600_000,
                landed_g=1_595_500,
                moisture="7.0",
                count=91,
                cut="1 1.7 0.3 0 0.7",
                typed_shipped="25 bags of 64 kg",
            ),
        ),
        typed="25 bags of 64 kg",
    ),
    Shipment(
        name="SH-04",
        contract="K-03",
        dispatched=date(2025, 1, 22),
        received=date(2025, 3, 14),
        bill="HIR0125-0061",
        vessel="MV Tern Passage, voyage 12S",
        loaded="Honiara",
        container="WQXU402318",
        seal="SB009127",
        marks="VATULANI / WRENLOCK / K-03",
        lots=(
            BeanLot(
                lot="SB-25-01",
                bags=45,
                shipped_g=2_800_000,
                landed_g=2_747_000,
                moisture="7.4",
                count=102,
                cut="2.3 1 0.7 0 1.3",
            ),
        ),
    ),
    Shipment(
        name="SH-05",
        contract="K-04",
        dispatched=date(2025, 2, 14),
        received=date(2025, 3, 4),
        bill="CDO-5071-113",
        vessel="MV Corran Lantern, voyage 447N",
        loaded="Caucedo",
        container="WQXU412084",
        seal="DO119377",
        marks="CAHOBA ORGANICO / WRENLOCK / K-04",
        lots=(
            BeanLot(
                lot="DO-25-01",
                bags=24,
                shipped_g=1_500_000,
                landed_g=1_494_500,
                moisture="6.9",
                count=93,
                cut="0.7 1 0 0.3 0.3",
            ),
        ),
    ),
    Shipment(
        name="SH-06",
        contract="K-05",
        dispatched=date(2025, 5, 6),
        received=date(2025, 6, 11),
        bill="PEC-25-11806",
        vessel="MV Estela Saltern, voyage 66W",
        loaded="Callao",
        container="WQXU413356",
        seal="PE772518",
        marks="QUIRIMAYO / WRENLOCK / K-05",
        lots=(
            BeanLot(
                lot="PE-25-02",
                bags=20,
                shipped_g=1_250_082,
                landed_g=1_245_320,
                moisture="7.2",
                count=89,
                cut="1.3 1.3 0 0.3 0.7",
                typed_shipped="2755.96 lb",
                typed_landed="2745.46 lb",
            ),
            BeanLot(
                lot="PE-25-03",
                bags=10,
                shipped_g=650_043,
                landed_g=648_183,
                moisture="8.9",
                count=92,
                cut="9.3 2 1.7 0.3 1",
                rejected="mouldy beans 9.3 %, moisture 8.9 %; bags at the door were wet",
                typed_shipped="1433.10 lb",
                typed_landed="1429.00 lb",
            ),
        ),
        typed="4189.06 lb",
        typed_gross="4252.12 lb",
        typed_tare="63.06 lb",
    ),
    Shipment(
        name="SH-07",
        contract="K-06",
        dispatched=date(2025, 6, 20),
        received=date(2025, 7, 9),
        bill="CDO-5188-402",
        vessel="MV Corran Lantern, voyage 455N",
        loaded="Caucedo",
        container="WQXU414419",
        seal="DO120066",
        marks="CAHOBA / WRENLOCK / K-06",
        lots=(
            BeanLot(
                lot="DO-25-02",
                bags=27,
                shipped_g=1_700_000,
                landed_g=1_693_000,
                moisture="7.0",
                count=95,
                cut="1 2.3 0.3 0.7 0.7",
            ),
        ),
    ),
    Shipment(
        name="SH-08",
        contract="K-07",
        dispatched=date(2025, 9, 12),
        received=date(2025, 11, 4),
        bill="HIR0925-0204",
        vessel="MV Tern Passage, voyage 19S",
        loaded="Honiara",
        container="WQXU402990",
        seal="SB010344",
        marks="VATULANI / WRENLOCK / K-07",
        lots=(
            BeanLot(
                lot="SB-25-02",
                bags=24,
                shipped_g=1_500_000,
                landed_g=1_493_500,
                moisture="7.4",
                count=104,
                cut="2 1.3 0.7 0 1",
            ),
        ),
        certified=False,
    ),
    Shipment(
        name="SH-09",
        contract="K-08",
        dispatched=date(2025, 11, 3),
        received=date(2025, 12, 8),
        bill="PEC-25-29440",
        vessel="MV Estela Saltern, voyage 74W",
        loaded="Callao",
        container="WQXU415872",
        seal="PE774031",
        marks="QUIRIMAYO / WRENLOCK / K-08",
        lots=(
            BeanLot(
                lot="PE-25-04",
                bags=31,
                shipped_g=2_000_000,
                landed_g=1_993_000,
                moisture="7.1",
                count=90,
                cut="0.7 1.7 0 0.3 0.7",
            ),
        ),
    ),
    Shipment(
        name="SH-10",
        contract="K-09",
        dispatched=date(2025, 12, 18),
        received=date(2026, 1, 13),
        bill="CDO-5340-019",
        vessel="MV Corran Lantern, voyage 468N",
        loaded="Caucedo",
        container="WQXU416205",
        seal="DO121518",
        marks="CAHOBA ORGANICO / WRENLOCK / K-09",
        lots=(
            BeanLot(
                lot="DO-26-01",
                bags=26,
                shipped_g=1_600_000,
                landed_g=1_593_500,
                moisture="6.8",
                count=92,
                cut="0.3 1.3 0 0.3 0.3",
            ),
        ),
    ),
    Shipment(
        name="SH-11",
        contract="K-10",
        dispatched=date(2026, 1, 21),
        received=date(2026, 2, 24),
        bill="PEC-26-01408",
        vessel="MV Estela Saltern, voyage 79W",
        loaded="Callao",
        container="WQXU417033",
        seal="PE775264",
        marks="QUIRIMAYO / WRENLOCK / K-10",
        lots=(
            BeanLot(
                lot="PE-26-01",
                bags=31,
                shipped_g=2_000_000,
                landed_g=1_994_500,
                moisture="7.2",
                count=87,
                cut="1 1 0.3 0 1",
            ),
        ),
    ),
    Shipment(
        name="SH-12",
        contract="K-11",
        dispatched=date(2026, 4, 17),
        received=date(2026, 6, 9),
        bill="HIR0426-0087",
        vessel="MV Tern Passage, voyage 24S",
        loaded="Honiara",
        container="WQXU403467",
        seal="SB011092",
        marks="VATULANI / WRENLOCK / K-11",
        lots=(
            BeanLot(
                lot="SB-26-01",
                bags=22,
                shipped_g=1_400_000,
                landed_g=1_394_000,
                moisture="7.3",
                count=101,
                cut="1.7 1 0.3 0 1.3",
            ),
        ),
    ),
    Shipment(
        name="SH-13",
        contract="K-12",
        dispatched=date(2026, 6, 12),
        received=date(2026, 7, 2),
        bill="CDO-5517-266",
        vessel="MV Corran Lantern, voyage 481N",
        loaded="Caucedo",
        container="WQXU418840",
        seal="DO122907",
        marks="CAHOBA / WRENLOCK / K-12",
        lots=(
            BeanLot(
                lot="DO-26-02",
                bags=17,
                shipped_g=1_050_000,
                landed_g=1_046_500,
                moisture="7.0",
                count=96,
                cut="1.3 2 0.3 0.3 0.7",
            ),
        ),
    ),
)
