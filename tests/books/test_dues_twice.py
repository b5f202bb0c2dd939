"""Dues of random contracts, computed a second time by a reading written apart."""

from collections.abc import Mapping
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from tests.books.buying_world import BuyingWorld, lot, opened, row
from tests.books.naive_dues import naive_dues

SCHEMES = ("fair-harvest", "other")
START = date(2025, 1, 1)
Days = st.integers(0, 120).map(lambda days: str(START + timedelta(days=days)))
Early = st.integers(0, 30).map(lambda days: str(START + timedelta(days=days)))
Figure = st.decimals(min_value=500, max_value=4000, places=2).map(str)
Small = st.decimals(min_value=0, max_value=400, places=2).map(str)
Mass = st.decimals(min_value=Decimal("0.001"), max_value=20000, places=3)
Unit = st.sampled_from(["USD/t", "USD/t", "GBP/t", "USD/kg", "USc/lb"])
Governs = st.sampled_from(["contract", "fixation", "shipment", "delivery"])


@st.composite
def rows(draw: st.DrawFn, figures: st.SearchStrategy[str]) -> list[dict[str, object]]:
    """Draw a table; most have a row that is always in force."""
    found: list[dict[str, object]] = []
    for _ in range(draw(st.integers(0, 3))):
        since, origins = "2000-01-01", list[str]()
        if found or draw(st.integers(0, 9)) == 0:
            since = draw(Days)
            origins = draw(st.sampled_from([[], ["PE"], ["EC"]]))
        unit = draw(st.sampled_from(["USD/t", "USD/t", "GBP/t"]))
        key = (since, tuple(str(origins)))
        if key not in {(r["valid_from"], tuple(str(r["origins"]))) for r in found}:
            found.append(row(draw(figures), since, unit=unit, origins=origins))
    return found


@st.composite
def series(draw: st.DrawFn, figures: st.SearchStrategy[str]) -> dict[str, str]:
    """Draw a figure every few days; sometimes the gap is too long for the terms."""
    step = draw(st.sampled_from([1, 2, 3, 4, 5, 9]))
    cycle = draw(st.lists(figures, min_size=3, max_size=7))
    days = range(draw(st.integers(-9, 9)), 130, step)
    return {
        str(START + timedelta(days=day)): cycle[place % len(cycle)]
        for place, day in enumerate(days)
    }


@st.composite
def terms(draw: st.DrawFn, scheme: str) -> dict[str, object]:
    """Draw the terms of a scheme."""
    premiums = draw(rows(Small))
    for premium in premiums:
        share = draw(st.sampled_from(["1", "0.6", "0.333333"]))
        rest = str(1 - Decimal(share))
        premium["payees"] = [
            {"payee": "seller", "share": share},
            *([{"payee": "farmers", "share": rest}] if rest != "0" else []),
        ]
    body: dict[str, object] = {
        "scheme": scheme,
        "minimum_prices": draw(rows(Figure)),
        "organic_differentials": draw(rows(Small)),
        "premiums": premiums,
        "minimum_governed_by": draw(Governs),
        "market_governed_by": draw(Governs),
        "premium_governed_by": draw(Governs),
    }
    if draw(st.booleans()):
        market = draw(st.sampled_from(["NY", "LDN"]))
        body["market"] = {"market": market, "fall_back_days": draw(st.integers(0, 31))}
    weight = draw(st.sampled_from([None, None, "shipped", "landed"]))
    return body if weight is None else {**body, "premium_weight": weight}


@st.composite
def worlds(draw: st.DrawFn) -> BuyingWorld:
    """Draw a world with one contract under up to two schemes."""
    world = opened()
    schemes = draw(st.lists(st.sampled_from(SCHEMES), unique=True, max_size=2))
    for scheme in schemes:
        world.terms(**draw(terms(scheme)))
        world.certificate(scheme, valid_until=draw(Days))
    for market, unit in (("NY", "USD/t"), ("LDN", "GBP/t")):
        world.quotes(market, draw(series(Figure)), unit=unit)
    rate = st.decimals(min_value=1, max_value=2, places=4).map(str)
    base, to = draw(st.permutations(["GBP", "USD"]))
    world.rates(base, to, draw(series(rate)))
    signed = draw(Early)
    world.contract(
        draw(prices()),
        on=signed,
        claims=[{"scheme": s, "custody": "mass balance"} for s in schemes],
        organic=draw(st.booleans()),
        quantity_kg="900000",
        weight_basis=draw(st.sampled_from(["shipped", "landed"])),
        franchise_percent=draw(st.sampled_from([None, None, "0", "0.5", "1.5"])),
    )
    [(_, _, contract)] = [e for e in world.bodies if e[0] == "contract.signed"]
    if contract["price"]["basis"] == "to be fixed":
        for number in range(draw(st.integers(0, 3))):
            world.fix(
                f"F-{number}", draw(Days), str(draw(Mass)), draw(Figure), draw(Unit)
            )
    for number in range(draw(st.integers(1, 3))):
        received = max(draw(Days), signed)
        if draw(st.booleans()):
            world.ship(f"S-{number}", min(draw(Days), received))
        world.receive(
            f"S-{number}",
            received,
            [
                draw(lots(f"L-{number}-{place}"))
                for place in range(draw(st.integers(1, 3)))
            ],
        )
    return world


@st.composite
def prices(draw: st.DrawFn) -> Mapping[str, Any]:
    """Draw a price or a price basis."""
    if draw(st.booleans()):
        price = {"amount": draw(Figure), "unit": draw(Unit)}
        return {"basis": "fixed", "price": price}
    amount = str(draw(st.decimals(min_value=-200, max_value=200, places=2)))
    return {
        "basis": "to be fixed",
        "market": draw(st.sampled_from(["NY", "LDN"])),
        "month": "2025-12",
        "differential": {"amount": amount, "unit": draw(Unit)},
        "call": "buyer",
    }


@st.composite
def lots(draw: st.DrawFn, name: str) -> Mapping[str, object]:
    """Draw a lot of a receipt."""
    shipped = draw(Mass)
    per_cent = draw(st.integers(900, 1010))
    landed = max(
        Decimal("0.001"), (shipped * per_cent / 1000).quantize(Decimal("0.001"))
    )
    decision = draw(st.sampled_from(["accepted", "accepted", "accepted", "rejected"]))
    because = {} if decision == "accepted" else {"rejected_because": "mould"}
    return lot(name, str(shipped), str(landed), decision=decision, **because)


@settings(max_examples=100)
@given(world=worlds(), as_of=Days)
def test_both_readings_agree_to_the_cent(world: BuyingWorld, as_of: str) -> None:
    [(signed, _)] = [
        (on, body) for kind, on, body in world.bodies if "contract" in kind
    ]
    day = max(as_of, signed)

    dues = world.dues(day)

    totals = {
        (str(part.duty), part.payee): part.owed_minor if part.is_complete else None
        for part in dues.settlements
    }
    assert naive_dues(world.bodies, day) == totals
