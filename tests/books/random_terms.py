"""Random ledgers under terms that use every option: three files of the docs, or drawn ones.

What is bought and made suits the options: graded beans, forms one after the other, butter
and powder, blends of which a known part is certified, claims moved between accounts.
"""

from pathlib import Path
from typing import Final

from hypothesis import strategies as st

from ledger.books.account import Account
from ledger.books.effect import Book
from ledger.intake.reading import read_file
from tests.books import random_ledger as draws
from tests.books.random_ledger import Body, Drawn, claims_in, kg, masses, terms_in
from tests.world import (
    MAKER,
    OTHER_SCHEME,
    SCHEME,
    World,
    batch_body,
    conversions,
    lot,
    opened,
)

FILES: Final = Path(__file__).parents[2] / "docs" / "how-to" / "terms"
GRADES: Final = ["grade-1", "grade-2"]
_AFTER: Final = {
    "bean": ("roasted bean", "nib", "liquor"),
    "roasted bean": ("nib",),
    "nib": ("liquor",),
    "liquor": ("butter", "powder", "cake"),
}
"""Forms that come next."""


def published(name: str) -> Body:
    """Return the body of one of the invented terms files."""
    path = FILES / name
    [draft] = read_file(path.name, path.read_bytes())
    return dict(draft.body)


@st.composite
def worlds(draw: st.DrawFn) -> World:
    """Draw a world under some terms, with contracts under each and under all of them."""
    world = opened()
    files = [["lantern.yaml"], ["saltmarsh.yaml"], ["tarnside.yaml", "lantern.yaml"]]
    if draw(st.booleans()):
        bodies = [published(name) for name in draw(st.sampled_from(files))]
    else:
        bodies = [_options(draw, scheme) for scheme in (SCHEME, OTHER_SCHEME)]
    for body in bodies:
        world.record("terms.published", "2025-01-01", **body)
        for holder in (MAKER, "alder", "birch"):
            kinds = ["cocoa", "sugar", "vanilla"]
            world.certify(holder, body["scheme"], commodities=kinds)
    _contracts(draw, world)
    for recipe in ("dark", "single"):
        world.record("recipe.published", **_recipe(recipe))
    return world


def _contracts(draw: st.DrawFn, world: World) -> None:
    every = [draws.bought_as(made) for made in claims_in(world)]
    first = {made["scheme"]: made for made in reversed(every)}
    both = [made for made in first.values() if made["scheme"] != "tarnside-organic"]
    chosen = [[made] for made in first.values()]
    chosen += [[draw(st.sampled_from(every))], both, []]
    for number, claims in enumerate(chosen):
        organic = any(made["scheme"] == "tarnside-organic" for made in claims)
        world.sign(
            f"K{number}",
            ("alder", "birch")[number % 2],
            *claims,
            on=draws.day(0),
            grade=draw(st.sampled_from(GRADES)),
            organic=organic or draw(st.integers(0, 3)) == 0,
        )


def _recipe(name: str) -> Body:
    known = {"origin": "EC", "grade": GRADES[0]} if name == "single" else {}
    parts = [
        {"commodity": "cocoa", "form": "liquor", "share": "0.65", **known},
        {"commodity": "cocoa", "form": "butter", "share": "0.05", **known},
        {"commodity": "sugar", "form": "ingredient", "share": "0.3", **known},
    ]
    about = {"recipe": name, "product": name, "valid_from": "2024-01-01"}
    return {**about, "ingredients": parts}


def _options(draw: st.DrawFn, scheme: str) -> Body:
    """Draw terms, option by option."""
    rolling = draw(st.integers(0, 2)) == 0
    scope = draw(st.sampled_from(("site", "site", "group")))
    rule: Body = {
        "scope": scope,
        "match_origin": draw(st.booleans()),
        "match_organic": draw(st.booleans()),
        "grades": draw(st.sampled_from(([], GRADES))),
        "within_day": draw(st.sampled_from(("as recorded", "receipts first"))),
        "credit_weight": draw(st.sampled_from(("lesser", "shipped", "landed"))),
    }
    if draw(st.booleans()):
        rule["below_zero_kg"] = draw(st.sampled_from(("0.005", "1", "25")))
    if not rolling:
        ways = {
            "between sites": scope == "site",
            "organic to conventional": rule["match_organic"],
            "to a lower grade": bool(rule["grades"]),
        }
        rule["transfers"] = [way for way, is_told in ways.items() if is_told]
    body: Body = {
        "scheme": scheme,
        "version": "1",
        "valid_from": "2023-01-01",
        "source": "an invented standard",
        "custody": ["segregated", "controlled blending", "mass balance"],
        "commodities": ["cocoa", "sugar"],
        "account": rule,
        "reconciliation_months": draw(st.sampled_from((1, 3))),
        "carry_over_periods": draw(st.integers(0, 2)),
        "conversions": [*conversions(), draws.sugar_factor()],
    }
    if rolling:
        body |= {
            "method": "rolling average percentage",
            "window_months": draw(st.integers(1, 4)),
        }
    if draw(st.booleans()):
        body["joint_outputs"] = [_joint(draw)]
    if draw(st.booleans()):
        body["measured_yields"] = {
            "forms": draw(st.sampled_from((["nib", "liquor"], ["liquor", "butter"]))),
            "window_months": draw(st.integers(1, 3)),
            "source": "an invented standard",
        }
    return body


def _joint(draw: st.DrawFn) -> Body:
    outputs = draw(
        st.sampled_from(
            (
                {"butter": "0.5", "powder": "0.5"},
                {"butter": "0.47", "cake": "0.33", "powder": "0.2"},
            )
        )
    )
    return {
        "of": "liquor",
        "outputs": [{"form": form, "share": share} for form, share in outputs.items()],
        "valid_from": draw(st.sampled_from(("2023-01-01", "2025-01-15"))),
        "source": "an invented standard",
    }


def receipt(draw: st.DrawFn, world: World, on: str) -> Drawn:
    """Draw a receipt: mostly of beans, sometimes of butter or powder, graded or not."""
    kind, on, body = draws.receipt(draw, world, on)
    if "contract" in body:
        for part in body["lots"]:
            if draw(st.integers(0, 4)) == 0:
                part["form"] = draw(st.sampled_from(("butter", "powder", "liquor")))
            if draw(st.integers(0, 4)) == 0:
                part["grade"] = draw(st.sampled_from(GRADES))
    return kind, on, body


def sugar(draw: st.DrawFn, world: World, on: str) -> Drawn:
    """Draw a receipt of certified sugar, or vanilla."""
    number = len(world.raws)
    contract = draw(st.sampled_from(draws.contracts_in(world)))
    commodity = draw(st.sampled_from(("sugar", "sugar", "vanilla")))
    about = {"commodity": commodity, "form": "ingredient"}
    lots = [lot(f"L{number}", kg(draw(st.integers(1, 40_000))), **about)]
    return (
        "shipment.received",
        on,
        {"shipment": f"S{number}", "contract": contract, "lots": lots},
    )


def made_forms(world: World) -> dict[str, str]:
    """Return the form of every lot that a batch made."""
    return {
        part["lot"]: part["form"]
        for raw in world.raws
        if raw["kind"] == "batch.made"
        for part in raw["body"]["outputs"]
    }


def step(draw: st.DrawFn, world: World, on: str) -> Drawn | None:
    """Draw a batch that turns one form into the next, losing little or much."""
    forms = made_forms(world)
    left = [name for name in draws.on_hand(world) if forms.get(name, "bean") in _AFTER]
    if not left:
        return None
    name = draw(st.sampled_from(sorted(left)))
    after = draw(st.sampled_from(_AFTER[forms.get(name, "bean")]))
    taken = draw(masses(world.stock(name)))
    given = max(1, taken * draw(st.integers(70, 100)) // 100)
    losses = {"moisture": kg(taken - given)} if taken > given else {}
    number = len(world.raws)
    body = batch_body(
        f"B{number}",
        {name: kg(taken)},
        {f"M{number}": kg(given)},
        losses=losses,
        form=after,
    )
    return "batch.made", on, body


def transfer(draw: st.DrawFn, world: World, on: str) -> Drawn | None:
    """Draw a claim that moves from one account to another, aside, down, or too much."""
    allowing = {
        scheme: terms["account"]
        for scheme, terms in terms_in(world).items()
        if terms.get("account", {}).get("transfers")
    }
    if not allowing:
        return None
    held = [
        (account, world.shelf.run(account.tally).closing_g)
        for account in map(Account.of, world.shelf.tallies(Book.ACCOUNT))
        if account.scheme in allowing and account.form == "all"
    ]
    full = [(account, grams) for account, grams in held if grams > 0]
    if not full:
        return None
    account, most = draw(st.sampled_from(full))
    rule = allowing[account.scheme]
    from_: Body = {"organic": account.production == "organic"}
    to: Body = {"organic": from_["organic"] and draw(st.booleans())}
    for side, site in ((from_, account.site), (to, None)):
        if site != "all" and rule.get("scope", "site") == "site":
            side["site"] = site or draw(st.sampled_from(("mill", "annex")))
    if rule.get("grades"):
        from_["grade"] = account.grade
        to["grade"] = draw(st.sampled_from(GRADES))
    body: Body = {
        "transfer": f"T{len(world.raws)}",
        "scheme": account.scheme,
        "commodity": account.commodity,
        "beans_kg": kg(draw(masses(most))),
        "from": from_,
        "to": to,
        "reason": "sold from there",
    }
    if rule.get("match_origin"):
        body["origin"] = account.origin
    return "claim.transferred", on, body


def claimed_sale(draw: st.DrawFn, world: World, on: str) -> Drawn | None:
    """Draw a sale of a little of a lot, with a claim that its accounts may well cover."""
    left = draws.on_hand(world)
    forms = made_forms(world)
    names = [name for name in sorted(left) if forms.get(name) != "chocolate"]
    if not names:
        return None
    late = [name for name in names if forms.get(name) in {"butter", "powder", "cake"}]
    of_late = bool(late) and draw(st.booleans())
    name = draw(st.sampled_from(late if of_late else names))
    usual = [made for made in claims_in(world) if made["custody"] == "mass balance"]
    claims = [draw(st.sampled_from(usual))]
    part = draw(st.sampled_from((1, 4, 10)))
    mass = kg(max(1, left[name] // part))
    lines = [{"lot": name, "mass_kg": mass, "claims": claims}]
    others = [other for other in names if other != name]
    sells_more = draw(st.booleans())
    if others and sells_more:
        other = draw(st.sampled_from(others))
        lines.append({"lot": other, "mass_kg": kg(left[other]), "claims": []})
    body = {"sale": f"X{len(world.raws)}", "document": "d", "customer": "shop"}
    return "sale.dispatched", on, {**body, "lines": lines}
