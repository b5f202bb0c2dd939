"""The whole scenario: every file, in the order in which a ledger records them."""

import re
from collections.abc import Iterator
from datetime import date

from sample_shipments.generator import (
    buying,
    cast,
    incident,
    invoice,
    making,
    market,
    paying,
    product,
    scheme,
)
from sample_shipments.generator.factory import Factory
from sample_shipments.generator.paper import File, Tree, csv_file, kg, yaml_file
from sample_shipments.generator.selling import Shop
from sample_shipments.generator.workday import month_of


def files() -> list[File]:
    """Return every file of the scenario in natural order of their paths."""
    factory = Factory()
    factory.run()
    shop = Shop(factory)
    shop.run()
    written = [
        *cast.files(),
        scheme.terms_file(),
        *product.files(),
        *market.files(),
        *buying.files(),
        *paying.files(),
        *making.files(factory.batches),
        *invoice.files(shop),
        *_incident_files(),
        *_stocktakes(shop),
        *_corrections(shop, {}),
    ]
    written.sort(key=lambda file: natural(file.path))
    places = _places(written)
    # What a correction names is known only now that every entry has its place.
    corrected = {file.path: file for file in _corrections(shop, places)}
    return [corrected.get(file.path, file) for file in written]


def natural(path: str) -> list[tuple[tuple[int, str], ...]]:
    """Return a key that sorts paths as people read them: 2 before 10."""
    return [
        tuple(
            (int(part), "") if part.isdigit() else (-1, part)
            for part in re.split("([0-9]+)", step)
            if part
        )
        for step in path.split("/")
    ]


def _places(written: list[File]) -> dict[str, int]:
    names = [name for file in written for name in file.records]
    return {name: place for place, name in enumerate(names)}


def _incident_files() -> Iterator[File]:
    hold = incident.hold_entries()
    yield yaml_file(
        "2026-02/3-making/hold-H-01.yaml", hold, names="H-01 H-01/loss H-01/end"
    )
    yield yaml_file("2026-07/3-making/moved-to-cellar.yaml", [incident.move_entry()])
    closing = incident.closing_entry()
    yield yaml_file("2025-10/6-control/period-closed-2024-25.yaml", [closing])


def _stocktakes(shop: Shop) -> Iterator[File]:
    for day in incident.STOCKTAKES:
        found = {
            lot: shop.factory.stock.left(lot, day) + _over(shop, lot, day)
            for since, code, lot in shop.factory.for_sale
            if since <= day and code != "NIB"
        }
        rows = [
            {
                "on": str(day),
                "lot": lot,
                "found_kg": kg(grams),
                "counted_by": "officer-1",
                "place": "cold-store",
            }
            for lot, grams in found.items()
            if grams
        ]
        month = month_of(day)
        path = f"{month}/6-control/counts-{month}.csv"
        yield csv_file(path, rows, names=[f"count {row['lot']} {day}" for row in rows])


def _over(shop: Shop, lot: str, day: date) -> int:
    """Return what lies in a lot beyond its book: goods that never left."""
    if shop.doubled is None or day >= incident.DOUBLING_FOUND:
        return 0
    return sum(line.grams for line in shop.doubled.lines if line.lot == lot)


def _corrections(shop: Shop, places: dict[str, int]) -> Iterator[File]:
    wrong = invoice.mistyped(shop)
    replacement: Tree = {
        "entry_kind": "sale.dispatched",
        "occurred_on": str(wrong.on),
        "body": invoice.sale_body(wrong),
    }
    yield yaml_file(
        "2025-02/6-control/correction-mass-mistyped.yaml",
        [
            {
                "kind": "correction",
                "on": str(incident.MISTYPING_FOUND),
                "target": str(places.get(wrong.name, 0)),
                "reason": f"two digits of a mass of {wrong.name} were swapped; the "
                "invoice and the number of bars show it",
                "replacement": replacement,
                "approved_by": "officer-1",
            }
        ],
    )
    if shop.doubled is None:
        raise ValueError("no sale was typed twice")
    yield yaml_file(
        "2025-11/0-control/correction-sale-typed-twice.yaml",
        [
            {
                "kind": "correction",
                "on": str(incident.DOUBLING_FOUND),
                "target": str(places.get(shop.doubled.name, 0)),
                "reason": f"invoice {shop.doubled.document} was typed twice; the "
                "stocktake of September found the blocks still on the shelf",
                "approved_by": "officer-1",
            }
        ],
    )
