"""The files of buying: one a contract, one a shipment, one a delivery."""

from collections.abc import Mapping

from sample_shipments.generator.cast import INGREDIENTS
from sample_shipments.generator.contract import (
    CONTRACTS,
    DIFFERENTIAL_GBP,
    Contract,
    contract_named,
)
from sample_shipments.generator.delivery import DELIVERIES, Delivery
from sample_shipments.generator.market import (
    GBP_MARKET,
    gbp_per_tonne,
)
from sample_shipments.generator.paper import File, Tree, kg, yaml_file
from sample_shipments.generator.scheme import SCHEME
from sample_shipments.generator.shipment import SHIPMENTS, BeanLot, Shipment
from sample_shipments.generator.workday import month_of

BAG_TARE_G = 950
"""Mass of one jute bag with its liner."""


def files() -> list[File]:
    """Return the files of contracts, fixations, shipments and deliveries."""
    return [
        *(_contract_file(contract) for contract in CONTRACTS),
        *(file for contract in CONTRACTS for file in _fixation_files(contract)),
        *(_shipment_file(shipment) for shipment in SHIPMENTS),
        *(_delivery_file(delivery) for delivery in DELIVERIES),
    ]


def _mass(field: str, grams: int, typed: str) -> dict[str, Tree]:
    return {field: typed} if typed else {f"{field}_kg": kg(grams)}


def _contract_file(contract: Contract) -> File:
    first, last = contract.shipped_between.split()
    fixed: Tree = {
        "basis": "fixed",
        "price": {"amount": f"{contract.usd}.00", "unit": "USD/t"},
    }
    to_be_fixed: Tree = {
        "basis": "to be fixed",
        "market": GBP_MARKET,
        "month": "2025-03",
        "differential": {"amount": f"{DIFFERENTIAL_GBP}.00", "unit": "GBP/t"},
        "call": "seller",
        "fix_by": "2025-02-21",
    }
    entry: dict[str, Tree] = {
        "kind": "contract.signed",
        "on": str(contract.signed),
        "contract": contract.name,
        "seller": contract.seller,
        "claims": [
            {
                "scheme": SCHEME,
                "custody": "segregated" if contract.organic else "mass balance",
            }
        ],
        "origin": contract.origin,
        "region": contract.region,
        "organic": "true" if contract.organic else "false",
        "crop": contract.crop,
        **_mass("quantity", contract.grams, contract.typed),
        "tolerance_percent": "3",
        "price": fixed if contract.usd else to_be_fixed,
        "delivery": "FOB",
        "delivery_place": contract.place,
        "weight_basis": "landed" if contract.landed else "shipped",
        "franchise_percent": "0.5",
        "ship_from": first,
        "ship_until": last,
    }
    path = f"{month_of(contract.signed)}/2-buying/20-contract-{contract.name}.yaml"
    return yaml_file(path, [entry])


def _fixation_files(contract: Contract) -> list[File]:
    return [
        yaml_file(
            f"{month_of(fixation.on)}/2-buying/30-fixation-{contract.name}-{place}.yaml",
            [
                {
                    "kind": "price.fixed",
                    "on": str(fixation.on),
                    "fixation": fixation.name,
                    "contract": contract.name,
                    "quantity_kg": kg(fixation.grams),
                    "level": {
                        "amount": f"{gbp_per_tonne(fixation.on)}.00",
                        "unit": "GBP/t",
                    },
                }
            ],
        )
        for place, fixation in enumerate(contract.fixations, start=1)
    ]


def _shipment_file(shipment: Shipment) -> File:
    contract = contract_named(shipment.contract)
    path = f"{month_of(shipment.received)}/2-buying/40-shipment-{shipment.name}.yaml"
    return yaml_file(
        path,
        [_dispatched(shipment), _received(shipment, contract)],
        names=f"{shipment.name} {shipment.name}/received",
    )


def _dispatched(shipment: Shipment) -> Mapping[str, Tree]:
    bags = sum(lot.bags for lot in shipment.lots)
    net = sum(lot.shipped_g for lot in shipment.lots)
    return {
        "kind": "shipment.dispatched",
        "on": str(shipment.dispatched),
        "shipment": shipment.name,
        "contract": shipment.contract,
        "carriage": {
            "bill_of_lading": shipment.bill,
            "vessel": shipment.vessel,
            "port_of_loading": shipment.loaded,
            "port_of_discharge": "Felixstowe",
            "container": shipment.container + _check_digit(shipment.container),
            "seal": shipment.seal,
        },
        "marks": shipment.marks,
        "bags": str(bags),
        **_gross_and_tare_shipped(shipment, net, bags),
        **_mass("net_shipped", net, shipment.typed),
    }


def _received(shipment: Shipment, contract: Contract) -> Mapping[str, Tree]:
    return {
        "kind": "shipment.received",
        "on": str(shipment.received),
        "shipment": shipment.name,
        "contract": contract.name,
        "document": f"weight note WN-{shipment.name}",
        "lots": [_bean_lot(lot) for lot in shipment.lots],
    }


def _bean_lot(lot: BeanLot) -> Mapping[str, Tree]:
    names = ("mouldy", "slaty", "insect_damaged", "germinated", "flat")
    cut = zip(names, lot.cut.split(), strict=True)
    return {
        "lot": lot.lot,
        "bags": str(lot.bags),
        **({} if lot.typed_landed else _gross_and_tare(lot.landed_g, lot.bags)),
        **_mass("net_shipped", lot.shipped_g, lot.typed_shipped),
        **_mass("net_landed", lot.landed_g, lot.typed_landed),
        "quality": {
            "moisture_percent": lot.moisture,
            "bean_count": str(lot.count),
            "cut_test": {
                **{f"{name}_percent": percent for name, percent in cut},
                "beans_cut": "300",
            },
        },
        **(
            {"decision": "rejected", "rejected_because": lot.rejected}
            if lot.rejected
            else {"place": "bean-store"}
        ),
    }


def _gross_and_tare_shipped(
    shipment: Shipment, net_g: int, bags: int
) -> dict[str, Tree]:
    if shipment.typed_gross:
        return {"gross": shipment.typed_gross, "tare": shipment.typed_tare}
    return {} if shipment.typed else _gross_and_tare(net_g, bags)


def _gross_and_tare(net_g: int, bags: int) -> dict[str, Tree]:
    tare_g = bags * BAG_TARE_G
    return {"gross_kg": kg(net_g + tare_g), "tare_kg": kg(tare_g)}


def _check_digit(container: str) -> str:
    """Return the check digit of a container number.

    Source:
        ISO 6346, annex A: letters count from 10 on without the multiples of 11, place
        n weighs 2 to the n, and the sum is taken modulo 11 and then 10.
    """
    letters = [value for value in range(10, 39) if value % 11]
    values = [
        int(sign) if sign.isdigit() else letters[ord(sign) - ord("A")]
        for sign in container
    ]
    total = sum(value * 2**place for place, value in enumerate(values))
    return str(total % 11 % 10)


def _delivery_file(delivery: Delivery) -> File:
    entry: dict[str, Tree] = {
        "kind": "shipment.received",
        "on": str(delivery.on),
        "shipment": delivery.name,
        "supplier": INGREDIENTS,
        "document": f"delivery note OV-{delivery.name[3:]}",
        "lots": [
            {
                "lot": delivery.lot,
                "commodity": delivery.commodity,
                "form": delivery.form,
                "organic": "true" if delivery.organic else "false",
                "net_shipped_kg": kg(delivery.grams),
                "net_landed_kg": kg(delivery.grams),
                "place": "dry-store",
            }
        ],
    }
    path = f"{month_of(delivery.on)}/2-buying/50-delivery-{delivery.name}.yaml"
    return yaml_file(path, [entry])
