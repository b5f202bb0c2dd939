"""The files of selling: sales and returns of each month, and sales put right."""

from collections.abc import Iterator

from sample_shipments.generator import incident
from sample_shipments.generator.paper import File, Row, Tree, csv_file, kg, money
from sample_shipments.generator.scheme import SCHEME
from sample_shipments.generator.selling import Line, Return, Sale, Shop
from sample_shipments.generator.workday import month_of

_COLUMNS = (
    *("on", "sale", "document", "customer", "lot", "mass_kg", "pieces", "gtin"),
    *("scheme", "custody", "value", "currency"),
)


def files(shop: Shop) -> list[File]:
    """Return the sales of each month and the returns."""
    by_month: dict[str, list[Sale]] = {}
    for sale in shop.sales:
        by_month.setdefault(month_of(sale.on), []).append(sale)
    wrong = mistyped(shop)
    sales = [
        csv_file(
            f"{month}/4-selling/sales-{month}.csv",
            [row for sale in sold for row in _rows(sale, mistyped=sale is wrong)],
            names=[sale.name for sale in sold],
        )
        for month, sold in by_month.items()
    ]
    return [*sales, *(_return_file(back) for back in shop.returns)]


def mistyped(shop: Shop) -> Sale:
    """Return the sale whose first mass was typed with two digits swapped."""
    return next(
        sale
        for sale in shop.sales
        if month_of(sale.on) == incident.MISTYPED_MONTH
        and _swapped(kg(sale.lines[0].grams)) < kg(sale.lines[0].grams)
    )


def sale_body(sale: Sale) -> dict[str, Tree]:
    """Return what was really sold, as the body of an entry."""
    return {
        "sale": sale.name,
        "document": sale.document,
        "customer": sale.customer.party,
        "lines": [_line_body(line) for line in sale.lines],
        "value": {"amount": money(sale.minor), "currency": sale.customer.currency},
    }


def _line_body(line: Line) -> dict[str, Tree]:
    claims = [{"scheme": SCHEME, "custody": _custody(line)}] if line.claimed else []
    return {
        "lot": line.lot,
        "mass_kg": kg(line.grams),
        "pieces": str(line.pieces),
        "gtin": line.product.gtin,
        **({"claims": claims} if claims else {}),
    }


def _custody(line: Line) -> str:
    return "segregated" if line.product.organic else "mass balance"


def _swapped(mass_kg: str) -> str:
    return mass_kg[1] + mass_kg[0] + mass_kg[2:]


def _rows(sale: Sale, *, mistyped: bool) -> Iterator[Row]:
    for place, line in enumerate(sale.lines):
        typed = kg(line.grams)
        row = {
            "on": str(sale.on),
            "sale": sale.name,
            "document": sale.document,
            "customer": sale.customer.party,
            "lot": line.lot,
            "mass_kg": _swapped(typed) if mistyped and not place else typed,
            "pieces": str(line.pieces),
            "gtin": line.product.gtin,
            "scheme": SCHEME if line.claimed else "",
            "custody": _custody(line) if line.claimed else "",
            "value": "" if place else money(sale.minor),
            "currency": "" if place else sale.customer.currency,
        }
        yield {column: row[column] for column in _COLUMNS}


def _return_file(back: Return) -> File:
    planned = back.planned
    row = {
        "on": str(planned.on),
        "return": planned.name,
        "sale": back.sale,
        "document": f"CN-{planned.on:%y}-{planned.name[3:]}",
        "reason": planned.reason,
        "lot": planned.lot,
        "mass_kg": kg(planned.grams),
        "pieces": str(planned.pieces),
    }
    month = month_of(planned.on)
    return csv_file(
        f"{month}/5-returns/returns-{month}.csv", [row], names=[planned.name]
    )
