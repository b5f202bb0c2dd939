"""Logging a shipment: what left the seller, and what arrived and was weighed."""

from collections.abc import Iterator, Mapping
from datetime import date
from typing import Final
from urllib.parse import quote

from ledger.books.effect import Subject, SubjectKind
from ledger.books.shelf import Shelf
from ledger.desk.weighing import Weighed, weighed, with_net
from ledger.reports.figures import kg_text, percent_text
from ledger.reports.tongue import Tongue
from ledger.trade.shipment import ShipmentDispatched
from ledger.trade.words import Commodity, Form, PartyRole
from ledger.web.access import BUYER
from ledger.web.asked import Asked
from ledger.web.entry_fields import Field, Group
from ledger.web.entry_page import Body, EntryForm, Worked
from ledger.web.known import contracts, parties, shipments_on_the_way, sites, words
from ledger.web.page import Page
from ledger.web.pages.contract_forms import conversions
from ledger.web.prices import price_facts

_MASS_HINT: Final = "In kg, or with a unit: 13750 lb, 185 bags of 152 lb."


def _shipment_page(body: Body) -> str:
    return f"/shipments/{quote(str(body.get('shipment', '')), safe='')}"


def _left(shelf: Shelf, shipment: str) -> tuple[date, ShipmentDispatched] | None:
    found = shelf.introducer(Subject(SubjectKind.SHIPMENT, shipment))
    if found is None or not isinstance(found.record, ShipmentDispatched):
        return None
    return found.occurred_on, found.record


def _first_of_receipt(asked: Asked, shelf: Shelf) -> Mapping[str, str]:
    """Return what the bill of lading said of the shipment that the address names."""
    left = _left(shelf, asked.query("shipment"))
    if left is None:
        return {}
    _, sent = left
    values = {
        "contract": sent.contract,
        "lots.0.net_shipped": sent.typed.get(
            "net_shipped_kg", f"{sent.net_shipped_kg:f}"
        ),
    }
    if sent.bags is not None:
        values["lots.0.bags"] = str(sent.bags)
    return values


def _receipt_completed(body: Body) -> Body:
    return with_net(body, "net_landed", at="lots")


def _worked_out_of_receipt(asked: Asked, on: date, body: Body) -> Worked:
    with asked.books() as books:
        left = _left(books.shelf, str(body.get("shipment", "")))
    found = weighed(body)
    return (
        *_nets(body, asked.tongue),
        *conversions("shipment.received", body, asked),
        *(_together(found, asked.tongue) if found else ()),
        *price_facts(
            asked,
            str(body.get("contract", "")),
            on,
            shipped_on=left[0] if left else None,
        ),
    )


def _nets(body: Body, tongue: Tongue) -> Iterator[tuple[str, str]]:
    """Yield the net weight of every lot whose gross weight and tare are typed."""
    lots = body.get("lots")
    for lot in lots if isinstance(lots, list) else ():
        if isinstance(lot, dict) and ("gross" in lot or "gross_kg" in lot):
            net = lot.get("net_landed_kg")
            if isinstance(net, str):
                name = str(lot.get("lot", ""))
                yield (
                    f"{tongue.says('Net landed, gross less tare')} {name}",
                    f"{tongue.figure(net)} kg",
                )


def _together(found: Weighed, tongue: Tongue) -> Iterator[tuple[str, str]]:
    says = tongue.says
    if found.bags is not None:
        yield says("Bags"), tongue.figure(str(found.bags))
    yield says("Net shipped, together"), f"{tongue.figure(kg_text(found.shipped_g))} kg"
    yield says("Net landed, together"), f"{tongue.figure(kg_text(found.landed_g))} kg"
    yield (
        says("Lost on the way" if found.lost >= 0 else "Gained on the way"),
        f"{tongue.figure(percent_text(abs(found.lost)))} %",
    )


def _dispatch_completed(body: Body) -> Body:
    return with_net(body, "net_shipped")


def _worked_out_of_dispatch(asked: Asked, on: date, body: Body) -> Worked:
    net = body.get("net_shipped_kg")
    told = (
        ((asked.tongue.says("Net shipped"), f"{asked.tongue.figure(net)} kg"),)
        if isinstance(net, str)
        else ()
    )
    return (
        *told,
        *conversions("shipment.dispatched", body, asked),
        *price_facts(asked, str(body.get("contract", "")), on, shipped_on=on),
    )


RECEIVE: Final = EntryForm(
    kind="shipment.received",
    address="/record-receipt",
    title="Log a shipment received",
    day="Received on",
    groups=(
        Group(
            "The shipment",
            (
                Field(
                    "shipment",
                    "Shipment",
                    "pick",
                    required=True,
                    choices=shipments_on_the_way,
                ),
                Field(
                    "contract",
                    "Contract",
                    "choice",
                    hint="Empty for ingredients without one.",
                    choices=contracts,
                ),
                Field("document", "Weight note or delivery note"),
                Field(
                    "site", "Site", "choice", hint="Empty: the first.", choices=sites
                ),
            ),
            further=(
                Field(
                    "supplier",
                    "Supplier, where there is no contract",
                    "choice",
                    choices=parties(PartyRole.SUPPLIER, PartyRole.COOPERATIVE),
                ),
            ),
        ),
        Group(
            "Lot",
            (
                Field("lots.*.lot", "Our lot number"),
                Field("lots.*.bags", "Bags"),
                Field("lots.*.gross", "Gross weight", hint=_MASS_HINT, unit="kg"),
                Field(
                    "lots.*.tare",
                    "Tare",
                    hint="All bags together, such as 22 bags of 0.95 kg.",
                    unit="kg",
                ),
                Field(
                    "lots.*.net_landed",
                    "Net weight landed",
                    hint="Left empty: gross less tare.",
                    unit="kg",
                ),
                Field(
                    "lots.*.net_shipped",
                    "Net weight shipped",
                    hint="As the bill of lading or weight note says.",
                    unit="kg",
                ),
                Field("lots.*.place", "Where it is stored"),
                Field(
                    "lots.*.decision",
                    "Decision",
                    "choice",
                    choices=(("accepted", "accepted"), ("rejected", "rejected")),
                    first="accepted",
                ),
                Field(
                    "lots.*.rejected_because",
                    "Why it was rejected",
                    hint="Only for a lot that was.",
                ),
            ),
            further=(
                Field(
                    "lots.*.quality.moisture_percent",
                    "Moisture",
                    hint="By mass, ISO 2291.",
                    unit="%",
                ),
                Field("lots.*.quality.bean_count", "Beans in 100 g"),
                *(
                    Field(f"lots.*.quality.cut_test.{name}_percent", label, unit="%")
                    for name, label in (
                        ("mouldy", "Mouldy"),
                        ("slaty", "Slaty"),
                        ("insect_damaged", "Insect-damaged"),
                        ("germinated", "Germinated"),
                        ("flat", "Flat"),
                    )
                ),
                Field("lots.*.quality.cut_test.beans_cut", "Beans cut"),
                Field("lots.*.quality.note", "Smell, infestation, anything else"),
                Field("lots.*.seller_lot", "Lot number of the seller"),
                Field("lots.*.grade", "Grade, if not as in the contract"),
                Field(
                    "lots.*.commodity",
                    "Commodity, if not as in the contract",
                    "choice",
                    choices=words(Commodity),
                ),
                Field(
                    "lots.*.form",
                    "Form, if not as in the contract",
                    "choice",
                    choices=words(Form),
                ),
                Field("lots.*.origin", "Origin, if not as in the contract"),
                Field(
                    "lots.*.organic",
                    "Organic, if not as in the contract",
                    "choice",
                    choices=(("true", "organic"), ("false", "not organic")),
                ),
            ),
            rows=1,
        ),
    ),
    done=_shipment_page,
    first=_first_of_receipt,
    completed=_receipt_completed,
    worked_out=_worked_out_of_receipt,
    caution="Weigh before you trust the papers. A lot that looks or smells unfit is not "
    "for food until whoever answers for food safety has decided.",
)

DISPATCH: Final = EntryForm(
    kind="shipment.dispatched",
    address="/record-dispatch",
    title="Log a shipment that left",
    day="Day of the bill of lading",
    groups=(
        Group(
            "The shipment",
            (
                Field("shipment", "Name of the shipment", required=True),
                Field(
                    "contract", "Contract", "choice", required=True, choices=contracts
                ),
                Field("bags", "Bags"),
                Field("marks", "Shipping marks"),
                Field("gross", "Gross weight shipped", hint=_MASS_HINT, unit="kg"),
                Field("tare", "Tare", unit="kg"),
                Field(
                    "net_shipped",
                    "Net weight shipped",
                    hint="Left empty: gross less tare.",
                    unit="kg",
                ),
            ),
        ),
        Group(
            "Carriage",
            (
                Field(
                    "carriage.bill_of_lading",
                    "Bill of lading",
                    hint="Its number, or that of the waybill.",
                    required=True,
                ),
                Field("carriage.vessel", "Vessel and voyage"),
                Field("carriage.port_of_loading", "Port of loading"),
                Field("carriage.port_of_discharge", "Port of discharge"),
                Field("carriage.container", "Container", hint="ISO 6346."),
                Field("carriage.seal", "Seal of the container"),
            ),
        ),
    ),
    done=_shipment_page,
    completed=_dispatch_completed,
    worked_out=_worked_out_of_dispatch,
)

PAGES: Final[tuple[Page, ...]] = (*RECEIVE.pages(BUYER), *DISPATCH.pages(BUYER))
