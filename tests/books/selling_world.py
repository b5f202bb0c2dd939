"""A maker who bought certified beans, and sells them on with and without a claim."""

from decimal import Decimal

from tests.books.buying_world import SCHEME, BuyingWorld, certified, fixed, lot

FACTORS = [
    {"form": form, "factor": factor, "valid_from": "2000-01-01", "source": "annex 2"}
    for form, factor in (("bean", "1.00"), ("liquor", "1.25"))
]
CLAIM = {"scheme": SCHEME, "custody": "mass balance"}


def stocked(**terms: object) -> BuyingWorld:
    """Return a world with a tonne of certified beans and one of ordinary beans."""
    world = certified(conversions=FACTORS, **terms)
    world.certificate(holder="maker")
    world.party("shop", "customer")
    world.party("trader", "supplier")
    world.contract(fixed("2000.00"), on="2025-01-10")
    world.receive("S-1", "2025-01-20", [lot("L-1", "1000")])
    world.record(
        "shipment.received",
        "2025-01-25",
        {
            "shipment": "S-2",
            "supplier": "trader",
            "lots": [
                {
                    **lot("L-2", "1000"),
                    "commodity": "cocoa",
                    "form": "bean",
                    "origin": "PE",
                }
            ],
        },
    )
    return world


def line(name: str, kg: str, *claims: object) -> dict[str, object]:
    """Return a line of a sale."""
    return {"lot": name, "mass_kg": kg, "claims": list(claims)}


def sell(
    world: BuyingWorld,
    sale: str,
    on: str,
    *lines: object,
    value: str | None = None,
    currency: str = "GBP",
) -> int:
    """Sell, and return the entry."""
    money = None if value is None else {"amount": value, "currency": currency}
    body = {
        "sale": sale,
        "document": f"invoice {sale}",
        "customer": "shop",
        "lines": list(lines),
        "value": money,
    }
    return world.record("sale.dispatched", on, body).seq


def take_back(world: BuyingWorld, sale: str, on: str, name: str, kg: str) -> None:
    """Take goods of a sale back."""
    body = {
        "return": f"R-{world.entries}",
        "sale": sale,
        "document": "credit note",
        "reason": "bloom",
        "lines": [{"lot": name, "mass_kg": kg}],
    }
    world.record("sale.returned", on, body)


def withdraw(world: BuyingWorld, sale: str, on: str, name: str, kg: str) -> None:
    """Take a claim of a sale back."""
    body = {
        "withdrawal": f"W-{world.entries}",
        "sale": sale,
        "document": "letter",
        "reason": "label without claim",
        "lines": [{"lot": name, "mass_kg": kg, "scheme": SCHEME}],
    }
    world.record("claim.withdrawn", on, body)


def grind(
    world: BuyingWorld, batch: str, on: str, name: str, kg: str, out: str
) -> None:
    """Grind beans to liquor; the rest is shell."""
    lost = str(Decimal(kg) - Decimal(out))
    body = {
        "batch": batch,
        "step": "grind",
        "inputs": [{"lot": name, "mass_kg": kg}],
        "outputs": [{"lot": f"Q-{batch}", "mass_kg": out, "form": "liquor"}],
        "losses": [{"reason": "shell", "mass_kg": lost}],
    }
    world.record("batch.made", on, body)


def close(world: BuyingWorld, start: str, end: str, on: str) -> None:
    """Sign off a period."""
    body = {"period": end, "start": start, "end": end, "signed_off_by": "officer"}
    world.record("period.closed", on, body)


def void(world: BuyingWorld, target: int, on: str) -> int:
    """Make an entry void, and return the correction."""
    body = {"target": target, "reason": "mistyped", "accept_breach": True}
    return world.record("correction", on, body).seq
