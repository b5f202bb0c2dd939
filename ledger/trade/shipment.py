"""Shipments: what left origin, what arrived, and how it was found."""

from collections.abc import Collection
from decimal import Decimal
from typing import ClassVar, Final, Literal, Self

from pydantic import model_validator

from ledger.trade.codes import ContainerNumber, Country
from ledger.trade.quantity import Count, Kilograms, Percent, PositiveKilograms
from ledger.trade.record import Measured, Name, Record, Text, YesNo
from ledger.trade.words import Commodity, Form

_GRAM: Final = Decimal("0.001")


class Carriage(Record):
    """How a shipment travels, as the bill of lading states it."""

    bill_of_lading: Text
    """Number of the bill of lading, or of the waybill where goods go by land or air."""
    vessel: Text | None = None
    """Name of the vessel, and voyage."""
    port_of_loading: Text | None = None
    """Where it was loaded."""
    port_of_discharge: Text | None = None
    """Where it is discharged."""
    container: ContainerNumber | None = None
    """Container number (ISO 6346)."""
    seal: Text | None = None
    """Number of the container's seal."""


class ShipmentDispatched(Measured):
    """Goods left the seller."""

    kind: ClassVar[str] = "shipment.dispatched"

    shipment: Name
    """Name of the shipment."""
    contract: Name
    """Contract it is shipped under."""
    carriage: Carriage
    """How it travels; the entry's own date is the bill of lading's."""
    marks: Text | None = None
    """Shipping marks on the bags."""
    bags: Count | None = None
    """Number of bags."""
    gross_kg: PositiveKilograms | None = None
    """Gross weight shipped."""
    tare_kg: Kilograms | None = None
    """Tare of bags and liners."""
    net_shipped_kg: PositiveKilograms
    """Net weight shipped, final at shipment."""

    @model_validator(mode="after")
    def _net_is_gross_less_tare(self) -> Self:
        check_net(
            self.gross_kg,
            self.tare_kg,
            self.net_shipped_kg,
            "net_shipped_kg",
            converted=self.typed.keys(),
        )
        return self


class CutTest(Record):
    """Result of cutting beans lengthwise, in per cent by count (ISO 1114, ISO 2451)."""

    mouldy_percent: Percent
    """Mouldy beans."""
    slaty_percent: Percent
    """Slaty beans."""
    insect_damaged_percent: Percent
    """Insect-damaged or infested beans."""
    germinated_percent: Percent
    """Germinated beans."""
    flat_percent: Percent
    """Flat beans."""
    beans_cut: Count | None = None
    """Number of beans cut."""

    @model_validator(mode="after")
    def _within_a_hundred(self) -> Self:
        total = (
            self.mouldy_percent
            + self.slaty_percent
            + self.insect_damaged_percent
            + self.germinated_percent
            + self.flat_percent
        )
        if total > 100:  # noqa: PLR2004 - a hundred per cent
            msg = (
                f"defects sum to {total} per cent; a bean is counted under one defect "
                "only (the most serious), so they cannot exceed 100"
            )
            raise ValueError(msg)
        return self


class Quality(Record):
    """What inspection at arrival found."""

    moisture_percent: Percent | None = None
    """Moisture by mass (ISO 2291)."""
    bean_count: Count | None = None
    """Beans in 100 g."""
    cut_test: CutTest | None = None
    """Cut test."""
    note: Text | None = None
    """Smell, infestation, anything else."""


class ReceivedLot(Measured):
    """One lot of a shipment as it arrived."""

    lot: Name
    """The maker's own lot number."""
    seller_lot: Text | None = None
    """Lot number of the seller, where it differs."""
    commodity: Commodity | None = None
    """What it is; as the contract says where left out."""
    form: Form | None = None
    """Form; as the contract says where left out."""
    origin: Country | None = None
    """Country of origin; as the contract says where left out."""
    organic: YesNo | None = None
    """Whether organic; as the contract says where left out."""
    grade: Name | None = None
    """Grade; as the contract says where left out."""
    bags: Count | None = None
    """Number of bags."""
    gross_kg: PositiveKilograms | None = None
    """Gross weight landed."""
    tare_kg: Kilograms | None = None
    """Tare of bags and liners."""
    net_shipped_kg: PositiveKilograms
    """Net weight of the lot as shipped."""
    net_landed_kg: PositiveKilograms
    """Net weight of the lot as weighed at arrival."""
    quality: Quality | None = None
    """Inspection at arrival."""
    decision: Literal["accepted", "rejected"] = "accepted"
    """Whether the maker takes it."""
    rejected_because: Text | None = None
    """Why it was rejected."""
    place: Name | None = None
    """Where it is stored."""

    @model_validator(mode="after")
    def _is_sound(self) -> Self:
        check_net(
            self.gross_kg,
            self.tare_kg,
            self.net_landed_kg,
            "net_landed_kg",
            converted=self.typed.keys(),
        )
        if (self.decision == "rejected") != (self.rejected_because is not None):
            msg = (
                f"decision of lot {self.lot} is {self.decision}; a rejected lot, and only "
                "a rejected lot, states rejected_because"
            )
            raise ValueError(msg)
        return self


class ShipmentReceived(Record):
    """Goods arrived, were weighed, inspected and put into lots."""

    kind: ClassVar[str] = "shipment.received"

    shipment: Name
    """Name of the shipment."""
    contract: Name | None = None
    """Contract it comes under; left out for uncontracted ingredients."""
    supplier: Name | None = None
    """Who delivered, where there is no contract."""
    site: Name | None = None
    """Site that received it; the first site where left out."""
    document: Text | None = None
    """Weight note or delivery note."""
    lots: tuple[ReceivedLot, ...]
    """What arrived, lot by lot."""

    @model_validator(mode="after")
    def _has_one_origin_of_title(self) -> Self:
        if (self.contract is None) == (self.supplier is None):
            msg = (
                f"shipment {self.shipment} must name either its contract or, without "
                "one, its supplier"
            )
            raise ValueError(msg)
        return self


def check_net(
    gross_kg: Decimal | None,
    tare_kg: Decimal | None,
    net_kg: Decimal,
    field: str,
    *,
    converted: Collection[str] = (),
) -> None:
    """Refuse a net weight that is not gross less tare, where all three are given.

    Three weights that agree in pounds may miss each other by a gram once each is
    converted and rounded to the gram; where any was converted, that gram is allowed.

    Args:
        gross_kg: Gross weight.
        tare_kg: Tare.
        net_kg: Net weight.
        field: Name of the net weight's field.
        converted: Fields whose figures were typed in a unit of their own.

    Raises:
        ValueError: The three do not agree.
    """
    if gross_kg is None or tare_kg is None:
        return
    allowed_kg = _GRAM if {"gross_kg", "tare_kg", field} & set(converted) else 0
    if abs(gross_kg - tare_kg - net_kg) > allowed_kg:
        msg = (
            f"{field} is {net_kg}, but gross {gross_kg} less tare {tare_kg} is "
            f"{gross_kg - tare_kg}; correct whichever the weight note does not show"
        )
        raise ValueError(msg)
