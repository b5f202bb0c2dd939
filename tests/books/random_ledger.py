"""Random entries for a factory: receipts, batches, sales, corrections and the rest.

Each function draws the body of one entry from what a world holds; many are wrong on
purpose, since what is refused must change nothing. Days are counted from the first.
"""

from datetime import date, timedelta
from typing import Any

from hypothesis import strategies as st

from ledger.books.effect import Book
from tests.naive_trade import grams
from tests.world import (
    MAKER,
    OTHER_SCHEME,
    SCHEME,
    World,
    batch_body,
    claim,
    conversions,
    lot,
    opened,
    sale_body,
)

Body = dict[str, Any]
Drawn = tuple[str, str, Body]
"""Kind, day and body."""

FIRST_DAY = date(2025, 1, 1)
FORMS = ("bean", "nib", "liquor", "butter", "powder")
RECIPES = ("dark", "single")


def day(number: int) -> str:
    """Return a day, counted from the first."""
    return str(FIRST_DAY + timedelta(days=number))


def kg(mass_g: int) -> str:
    """Return grams as kilograms in text."""
    return f"{mass_g // 1000}.{mass_g % 1000:03d}"


def factory() -> World:
    """Return a world with two schemes that differ in every rule, and four contracts."""
    world = opened()
    world.terms(
        reconciliation_months=3,
        conversions=[*conversions(), sugar_factor()],
        commodities=["cocoa", "sugar"],
    )
    world.terms(
        OTHER_SCHEME,
        custody=["segregated", "mass balance"],
        reconciliation_months=1,
        carry_over_periods=2,
        account={
            "match_origin": True,
            "match_organic": False,
            "within_day": "receipts first",
            "credit_weight": "landed",
        },
        certificate_governed_by="delivery",
    )
    for holder in (MAKER, "alder", "birch"):
        for scheme in (SCHEME, OTHER_SCHEME):
            world.certify(holder, scheme)
    world.sign("C-PE", "alder", claim())
    world.sign("C-PE-organic", "alder", claim("segregated"), organic=True)
    both = (claim("identity preserved"), claim("segregated", OTHER_SCHEME))
    world.sign("C-EC-both", "birch", *both)
    world.sign("C-plain", "birch")
    for recipe, origin in (("dark", {}), ("single", {"origin": "EC"})):
        parts = [
            {"commodity": "cocoa", "form": "liquor", "share": "0.65", **origin},
            {"commodity": "cocoa", "form": "butter", "share": "0.05", **origin},
            {"commodity": "sugar", "form": "ingredient", "share": "0.3"},
        ]
        world.record(
            "recipe.published",
            recipe=recipe,
            product=recipe,
            valid_from="2024-01-01",
            ingredients=parts,
        )
    return world


def sugar_factor() -> Body:
    """Return the factor of sugar, which is its own."""
    return {**conversions()[0], "commodity": "sugar", "form": "ingredient"}


def terms_in(world: World) -> dict[str, Body]:
    """Return the first terms of every scheme that is recorded."""
    found: dict[str, Body] = {}
    for raw in world.raws:
        if raw["kind"] == "terms.published":
            found.setdefault(raw["body"]["scheme"], raw["body"])
    return found


def claims_in(world: World) -> list[Body]:
    """Return the claims that the terms allow, those of mass balance first."""
    found = []
    for scheme, terms in terms_in(world).items():
        for custody in terms["custody"]:
            made: Body = {"scheme": scheme, "custody": custody}
            if custody == "controlled blending":
                made["proportion"] = "0.4"
            texts = [
                label["text"]
                for label in terms.get("labels", [])
                if custody in label.get("custody", [custody])
            ]
            found.append({**made, "label": texts[0]} if texts else made)
    return sorted(found, key=lambda made: made["custody"] != "mass balance")


def bought_as(made: Body) -> Body:
    """Return a claim as a contract makes it: without a label."""
    return {name: value for name, value in made.items() if name != "label"}


def contracts_in(world: World) -> list[str]:
    """Return the names of the contracts that are recorded."""
    kind = "contract.signed"
    return [raw["body"]["contract"] for raw in world.raws if raw["kind"] == kind]


def masses(most_g: int) -> st.SearchStrategy[int]:
    """Draw grams up to a limit, often a small part, sometimes all or a gram more."""
    parts = [max(1, most_g // part) for part in (1, 2, 3, 7, 20, 20)]
    return st.one_of(
        st.integers(1, max(1, most_g)), st.sampled_from([*parts, most_g + 1])
    )


def on_hand(world: World) -> dict[str, int]:
    """Return what is left of every lot in the end."""
    left = {t.key: world.stock(t.key) for t in world.shelf.tallies(Book.STOCK)}
    return {name: mass for name, mass in left.items() if mass > 0}


def some_lots(draw: st.DrawFn, world: World, most: int) -> dict[str, str]:
    """Draw lots on hand with a mass of each."""
    left = on_hand(world)
    if not left:
        return {}
    chosen = draw(
        st.lists(st.sampled_from(sorted(left)), min_size=1, max_size=most, unique=True)
    )
    return {name: kg(draw(masses(left[name]))) for name in chosen}


def receipt(draw: st.DrawFn, world: World, on: str) -> Drawn:
    """Draw a receipt of one or two lots, some short, some rejected, or of sugar."""
    number = len(world.raws)
    if draw(st.integers(0, 4)) == 0:
        sugar = lot(f"L{number}", kg(draw(st.integers(1, 40_000))), commodity="sugar")
        body = {"supplier": "cane", "lots": [{**sugar, "form": "ingredient"}]}
        return "shipment.received", on, {"shipment": f"S{number}", **body}
    lots = []
    for place in range(draw(st.integers(1, 2))):
        shipped = draw(st.integers(1, 90_000))
        landed = max(1, shipped + draw(st.integers(-900, 200)))
        more: Body = {}
        if draw(st.integers(0, 9)) == 0:
            more = {"decision": "rejected", "rejected_because": "mould"}
        if draw(st.integers(0, 9)) == 0:
            more["organic"] = draw(st.booleans())
        lots.append(lot(f"L{number}-{place}", kg(shipped), kg(landed), **more))
    body = {"contract": draw(st.sampled_from(contracts_in(world))), "lots": lots}
    if draw(st.integers(0, 9)) == 0:
        body["site"] = "annex"
    return "shipment.received", on, {"shipment": f"S{number}", **body}


def batch(draw: st.DrawFn, world: World, on: str) -> Drawn | None:
    """Draw a batch that blends, splits, loses; a tank fill or rework is no different."""
    inputs = some_lots(draw, world, 3)
    rest = sum(grams(mass) for mass in inputs.values())
    if not rest:
        return None
    number = len(world.raws)
    outputs = {}
    for place in range(draw(st.integers(1, 3))):
        if rest:
            mass = draw(masses(rest))
            mass = min(mass, rest)
            outputs[f"M{number}-{place}"] = kg(mass)
            rest -= mass
    about: Body = {"form": draw(st.sampled_from(FORMS))}
    if draw(st.booleans()):
        about = {"form": "chocolate", "recipe": draw(st.sampled_from(RECIPES))}
    losses = {"waste": kg(rest)} if rest else {}
    body = batch_body(f"B{number}", inputs, outputs, losses=losses, **about)
    return "batch.made", on, body


def usual_claims(draw: st.DrawFn, world: World) -> list[Body]:
    """Draw claims: mostly of mass balance, under one scheme, none, or all of them."""
    every = claims_in(world)
    usual = [made for made in every if made["custody"] == "mass balance"]
    how = draw(st.sampled_from(("none", "one", "one", "one", "all", "any")))
    if how == "any":
        return draw(st.lists(st.sampled_from(every), max_size=2))
    return {"none": [], "all": usual, "one": [draw(st.sampled_from(usual))]}[how]


def sale(draw: st.DrawFn, world: World, on: str) -> Drawn | None:
    """Draw a sale, lot by lot with claims or without, one lot sometimes in two lines."""
    lines: list[Body] = []
    for name, mass in some_lots(draw, world, 2).items():
        parts = [grams(mass)]
        if parts[0] > 1 and draw(st.integers(0, 3)) == 0:
            first = draw(st.integers(1, parts[0] - 1))
            parts = [first, parts[0] - first]
        for part in parts:
            claims = usual_claims(draw, world)
            lines.append({"lot": name, "mass_kg": kg(part), "claims": claims})
    if not lines:
        return None
    more = {"site": "annex"} if draw(st.integers(0, 19)) == 0 else {}
    return "sale.dispatched", on, sale_body(f"X{len(world.raws)}", lines, **more)


def sale_return(draw: st.DrawFn, world: World, on: str) -> Drawn | None:
    """Draw a return of a part of a sale, sometimes of more than was sold."""
    sales = [raw for raw in world.raws if raw["kind"] == "sale.dispatched"]
    if not sales:
        return None
    body = draw(st.sampled_from(sales))["body"]
    lines = [
        {"lot": line["lot"], "mass_kg": kg(draw(masses(grams(line["mass_kg"]))))}
        for line in body["lines"]
        if draw(st.booleans())
    ] or [{"lot": body["lines"][0]["lot"], "mass_kg": "0.001"}]
    number = len(world.raws)
    about = {"return": f"R{number}", "sale": body["sale"], "document": "note"}
    return "sale.returned", on, {**about, "reason": "bloom", "lines": lines}


def lot_entry(draw: st.DrawFn, world: World, on: str) -> Drawn | None:
    """Draw something that happens to a lot: counted, moved, written off, held."""
    chosen = some_lots(draw, world, 1)
    if not chosen:
        return None
    [(name, mass)] = chosen.items()
    number = len(world.raws)
    bodies: dict[str, Body] = {
        "lot.counted": {"lot": name, "found_kg": mass, "counted_by": "me"},
        "lot.moved": {"lot": name, "to_place": "rack"},
        "hold.placed": {"hold": f"H{number}", "lots": [name], "reason": "?"},
        "lot.written_off": {"lot": name, "mass_kg": mass, "reason": "waste"},
    }
    kind = draw(st.sampled_from(sorted(bodies)))
    return kind, on, bodies[kind]


def release(draw: st.DrawFn, world: World, on: str) -> Drawn | None:
    """Draw the release of a hold."""
    holds = [raw["body"]["hold"] for raw in world.raws if raw["kind"] == "hold.placed"]
    if not holds:
        return None
    return "hold.released", on, {"hold": draw(st.sampled_from(holds)), "reason": "ok"}


def certificate_event(draw: st.DrawFn, world: World, on: str) -> Drawn:
    """Draw a suspension, withdrawal or reinstatement, often dated back, or a renewal."""
    holder = draw(st.sampled_from(("alder", "birch", "alder", "birch", MAKER)))
    scheme = draw(st.sampled_from(sorted(terms_in(world))))
    back = draw(st.integers(0, 60))
    from_on = str(date.fromisoformat(on) - timedelta(days=back))
    stopped = [
        raw["body"]["certificate"]
        for raw in world.raws
        if raw["kind"] == "certificate.suspended"
    ]
    how = "reinstated" if stopped else "suspended"
    if draw(st.integers(0, 2)) == 0:
        how = draw(st.sampled_from(("suspended", "recorded", "recorded", "withdrawn")))
    body: Body = {"certificate": f"{holder}/{scheme}", "from_on": from_on}
    if how == "reinstated":
        body["certificate"] = stopped[-1]
    if how == "recorded":
        body = {
            "certificate": f"N{len(world.raws)}",
            "holder": holder,
            "scheme": scheme,
            "number": "2",
            "issued_by": "certifier",
            "valid_from": from_on,
            "valid_until": "2027-12-31",
            "commodities": ["cocoa", "sugar"],
        }
    else:
        body["reason"] = "audit"
    return f"certificate.{how}", on, body


def dispatch(draw: st.DrawFn, world: World, on: str) -> Drawn | None:
    """Draw a bill of lading, mostly of a shipment that is long here."""
    shipments = [
        raw["body"] for raw in world.raws if raw["kind"] == "shipment.received"
    ]
    contracted = [body for body in shipments if "contract" in body]
    if not contracted:
        return None
    body = draw(st.sampled_from(contracted))
    return (
        "shipment.dispatched",
        str(date.fromisoformat(on) - timedelta(days=draw(st.integers(0, 90)))),
        {
            "shipment": body["shipment"],
            "contract": body["contract"],
            "carriage": {"bill_of_lading": "BL"},
            "net_shipped_kg": "1",
        },
    )


def terms(draw: st.DrawFn, world: World, on: str) -> Drawn:
    """Draw a new version of terms, with another factor for one form."""
    first = draw(st.sampled_from([*terms_in(world).values()]))
    valid_from = str(date.fromisoformat(on) + timedelta(days=draw(st.integers(0, 30))))
    more = {
        "version": f"V{len(world.raws)}",
        "valid_from": valid_from,
        "conversions": other_factors(draw, first),
    }
    return "terms.published", on, {**first, **more}


def other_factors(draw: st.DrawFn, terms: Body) -> list[Body]:
    """Draw the factors of some terms, with another one for one form."""
    rows = list(terms["conversions"])
    place = draw(st.integers(1, len(rows) - 1))
    changed = {k: v for k, v in rows[place].items() if k != "yield_percent"}
    changed["factor"] = str(draw(st.integers(100, 150)) / 100)
    return [*rows[:place], changed, *rows[place + 1 :]]


def close(draw: st.DrawFn, world: World, on: str) -> Drawn | None:
    """Draw a period close, up to some days ago or to the end of a month."""
    if len(world.raws) % 5:
        return None
    ends = [r["body"]["end"] for r in world.raws if r["kind"] == "period.closed"]
    start = day(-400)
    if ends:
        start = str(date.fromisoformat(max(ends)) + timedelta(days=1))
    end = date.fromisoformat(on) - timedelta(days=draw(st.integers(0, 20)))
    if draw(st.booleans()):
        end = end.replace(day=1) - timedelta(days=1)
    number = len(world.raws)
    body = {"period": f"P{number}", "start": start, "end": str(end)}
    return "period.closed", on, {**body, "signed_off_by": "officer"}
