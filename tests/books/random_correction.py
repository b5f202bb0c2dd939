"""Random second thoughts: corrections, lots rejected after all, claims taken back."""

from collections.abc import Callable
from datetime import date, timedelta

from hypothesis import strategies as st

from tests.books.random_ledger import (
    FORMS,
    Body,
    Drawn,
    bought_as,
    claims_in,
    contracts_in,
    day,
    kg,
    masses,
    other_factors,
)
from tests.naive_trade import grams
from tests.world import World


def rejection(draw: st.DrawFn, world: World, on: str) -> Drawn | None:
    """Draw the rejection of a received lot, mostly dated back."""
    lots = [
        part["lot"]
        for raw in world.raws
        if raw["kind"] == "shipment.received"
        for part in raw["body"]["lots"]
    ]
    if not lots:
        return None
    back = timedelta(days=draw(st.sampled_from((0, 0, 3, 30))))
    body = {"lot": draw(st.sampled_from(lots)), "hold": f"J{len(world.raws)}"}
    from_on = str(date.fromisoformat(on) - back)
    return "lot.rejected", on, {**body, "from_on": from_on, "reason": "taint"}


def withdrawal(draw: st.DrawFn, world: World, on: str) -> Drawn | None:
    """Draw a credit note that takes claims of a sale back, sometimes more than it made."""
    sales = [
        raw["body"]
        for raw in world.raws
        if raw["kind"] == "sale.dispatched"
        and any(line.get("claims") for line in raw["body"]["lines"])
    ]
    if not sales:
        return None
    body = draw(st.sampled_from(sales))
    lines = [
        {
            "lot": line["lot"],
            "mass_kg": kg(draw(masses(grams(line["mass_kg"])))),
            "scheme": claimed["scheme"],
        }
        for line in body["lines"]
        for claimed in line.get("claims", [])
    ]
    about = {"withdrawal": f"W{len(world.raws)}", "sale": body["sale"]}
    more = {"document": "note", "reason": "no cover", "lines": lines}
    return "claim.withdrawn", on, about | more


def correction(draw: st.DrawFn, world: World, on: str) -> Drawn:
    """Draw a correction of any entry: void, another day, or other figures."""
    wrong = draw(st.sampled_from(world.raws[-25:]))
    if draw(st.integers(0, 9)) == 0:
        wrong = draw(st.sampled_from(world.raws))
    body: Body = {
        "target": wrong["seq"],
        "reason": "mistyped",
        "accept_breach": draw(st.booleans()),
    }
    kind, happened, old = wrong["kind"], wrong["occurred_on"], wrong["body"]
    if kind == "correction" and "replacement" in old:
        inner = old["replacement"]
        kind, happened, old = inner["entry_kind"], inner["occurred_on"], inner["body"]
    if draw(st.integers(0, 2)):
        change = draw(st.sampled_from(_CHANGES))
        moved = draw(st.sampled_from((0, 0, 0, -1, 1, -20, 20)))
        body["replacement"] = {
            "entry_kind": kind,
            "occurred_on": str(date.fromisoformat(happened) + timedelta(days=moved)),
            "body": {**old, **change(draw, world, kind, old)},
        }
    return "correction", on, body


def _scaled(draw: st.DrawFn, _world: World, _kind: str, old: Body) -> Body:
    """Draw the same masses, all of them larger or smaller by one part."""
    part = draw(st.sampled_from((50, 90, 99, 101, 110)))

    def scaled(value: object, name: str = "") -> object:
        if isinstance(value, dict):
            return {key: scaled(inner, key) for key, inner in value.items()}
        if isinstance(value, list):
            return [scaled(inner) for inner in value]
        if name.endswith("_kg") and isinstance(value, str):
            return kg(max(1, grams(value) * part // 100))
        return value

    new = {key: scaled(value, key) for key, value in old.items()}
    if "outputs" in old:
        taken = sum(grams(part["mass_kg"]) for part in old["inputs"])
        given = sum(grams(part["mass_kg"]) for part in old["outputs"][1:])
        lost = sum(grams(part["mass_kg"]) for part in old.get("losses", []))
        first = max(1, (taken - given - lost) * part // 100)
        rest = taken - given - lost - first
        outputs = [{**old["outputs"][0], "mass_kg": kg(first)}, *old["outputs"][1:]]
        extra = [{"reason": "dust", "mass_kg": kg(rest)}] if rest > 0 else []
        return {"outputs": outputs, "losses": [*old.get("losses", []), *extra]}
    return new


def _claimed(draw: st.DrawFn, world: World, kind: str, old: Body) -> Body:
    """Draw other claims, another contract, or other certificate dates."""
    claims = draw(st.lists(st.sampled_from(claims_in(world)), max_size=2))
    if kind == "contract.signed":
        bought = [bought_as(made) for made in claims]
        return {"claims": bought, "organic": draw(st.booleans())}
    if kind == "sale.dispatched":
        return {"lines": [{**line, "claims": claims} for line in old["lines"]]}
    if kind == "shipment.received" and "contract" in old:
        return {"contract": draw(st.sampled_from(contracts_in(world)))}
    if kind == "certificate.recorded":
        return {"valid_until": day(draw(st.integers(0, 200)))}
    if kind.startswith("certificate."):
        return {"from_on": day(draw(st.integers(0, 200)))}
    return {}


def _otherwise(draw: st.DrawFn, _world: World, kind: str, old: Body) -> Body:
    """Draw a recipe, a decision, factors, a site or lots on hold that are different."""
    if kind == "terms.published":
        return {"conversions": other_factors(draw, old)}
    if kind == "recipe.published":
        first, second, third = old["ingredients"]
        share = draw(st.sampled_from(("0.6", "0.64", "0.66")))
        other = kg(700 - grams(share))
        parts = [{**first, "share": share}, {**second, "share": other}, third]
        return {"ingredients": parts}
    if kind == "shipment.received":
        away = {"decision": "rejected", "rejected_because": "mould"}
        return {"lots": [{**old["lots"][0], **away}, *old["lots"][1:]]}
    if kind == "batch.made":
        form = draw(st.sampled_from(FORMS))
        outputs = [
            {k: v for k, v in part.items() if k != "recipe"} | {"form": form}
            for part in old["outputs"]
        ]
        return {"outputs": outputs}
    if kind == "hold.placed":
        return {"lots": []}
    return {"site": "annex"} if kind == "sale.dispatched" else {}


_CHANGES: tuple[Callable[[st.DrawFn, World, str, Body], Body], ...] = (
    _scaled,
    _claimed,
    _otherwise,
)
