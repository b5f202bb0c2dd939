"""Random contracts under the three invented terms files of the docs, for two readings."""

from typing import Any, Final

from hypothesis import strategies as st

from tests.books.buying_world import SELLER, BuyingWorld, opened, usd
from tests.books.random_buying import Days, Early, Mass, lots, series
from tests.books.random_terms import published

_SCHEMES: Final = {
    "lantern": "lantern.yaml",
    "saltmarsh": "saltmarsh.yaml",
    "tarnside-organic": "tarnside.yaml",
}
_TOGETHER: Final = (
    ["lantern"],
    ["lantern", "saltmarsh"],
    ["saltmarsh"],
    ["tarnside-organic"],
    ["saltmarsh", "tarnside-organic"],
    ["tarnside-organic"],
)
"""Which schemes a contract is under; tarnside stands beside lantern nowhere."""
_Level = st.decimals(min_value=2000, max_value=6000, places=2).map(str)


@st.composite
def contracts(draw: st.DrawFn) -> BuyingWorld:
    """Draw a contract for beans or sugar under one or two schemes, and what came of it."""
    world = opened()
    schemes = draw(st.sampled_from(_TOGETHER))
    for scheme in schemes:
        world.record("terms.published", "2025-01-01", published(_SCHEMES[scheme]))
        kinds = ["cocoa", "sugar"]
        until = draw(st.sampled_from((None, None, draw(Days))))
        world.certificate(scheme, valid_until=until or "2030-12-31", commodities=kinds)
    _markets(draw, world)
    goods: dict[str, Any] = {}
    if draw(st.integers(0, 2)) == 0:
        goods = {"commodity": "sugar", "form": "ingredient"}
    signed = draw(Early)
    world.contract(
        draw(_prices()),
        on=signed,
        claims=[{"scheme": scheme, "custody": "mass balance"} for scheme in schemes],
        organic=draw(st.booleans()) or "tarnside-organic" in schemes,
        origin=draw(st.sampled_from(("EC", "EC", "PE", "PY"))),
        delivery=draw(st.sampled_from(("FOB", "FOB", "FCA"))),
        grade="grade-1",
        weight_basis=draw(st.sampled_from(("shipped", "landed"))),
        **goods,
    )
    [(_, _, contract)] = [e for e in world.bodies if e[0] == "contract.signed"]
    if contract["price"]["basis"] == "to be fixed":
        for number in range(draw(st.integers(0, 2))):
            world.fix(f"F-{number}", draw(Days), str(draw(Mass)), draw(_Level))
    for number in range(draw(st.integers(1, 2))):
        received = max(draw(Days), signed)
        if draw(st.booleans()):
            world.ship(f"S-{number}", min(draw(Days), received))
        world.receive(f"S-{number}", received, [draw(lots(f"L-{number}"))])
    for number in range(draw(st.integers(0, 4))):
        _pay(draw, world, number)
    return world


def _markets(draw: st.DrawFn, world: BuyingWorld) -> None:
    """Draw quotes of the markets that the terms read, and rates now and ahead."""
    world.quotes("sugar-eur", draw(series(_Level)), unit="EUR/t")
    world.quotes("NY", draw(series(_Level)), unit="USD/t")
    for month in ("2025-03", "2025-05", "2025-07", "2025-09"):
        for market, unit in (("futures-east", "USD/t"), ("futures-west", "EUR/t")):
            levels = draw(series(_Level))
            in_time = {on: level for on, level in levels.items() if on[:7] <= month}
            world.quotes(market, in_time, unit, month)
    rate = st.decimals(min_value=1, max_value=2, places=4).map(str)
    for ahead in (None, 6):
        world.rates("EUR", "USD", draw(series(rate)), forward_months=ahead)


@st.composite
def _prices(draw: st.DrawFn) -> dict[str, Any]:
    if draw(st.booleans()):
        unit = draw(st.sampled_from(("USD/t", "EUR/t")))
        return {"basis": "fixed", "price": usd(draw(_Level), unit)}
    return {
        "basis": "to be fixed",
        "market": "NY",
        "month": "2025-09",
        "differential": usd(str(draw(st.integers(-200, 200)))),
        "call": "buyer",
    }


def _pay(draw: st.DrawFn, world: BuyingWorld, number: int) -> None:
    [contract] = [body for kind, _, body in world.bodies if kind == "contract.signed"]
    price = contract["price"].get("price") or contract["price"]["differential"]
    towards = ("price", "price", "premium", "interest", "advance")
    world.pay(
        f"P-{number}",
        draw(Days),
        f"{draw(st.integers(1, 9_000_000)) / 100:.2f}",
        draw(st.sampled_from(towards)),
        currency=price["unit"][:3],
        payee=draw(st.sampled_from((SELLER, SELLER, "farmers"))),
        shipment=draw(st.sampled_from((None, "S-0"))),
    )
