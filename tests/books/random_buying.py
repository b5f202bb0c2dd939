"""Random contracts: terms, markets, receipts and payments, drawn for two readings."""

from collections.abc import Mapping
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from hypothesis import strategies as st

from tests.books.buying_world import SELLER, BuyingWorld, lot, opened, row

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
    body: dict[str, Any] = {
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
        body["market"]["form"] = draw(st.sampled_from(["bean", "bean", "liquor"]))
        if draw(st.booleans()):
            body["market"]["average"] = draw(averages())
    if draw(st.booleans()):
        body["seasonal_differential"] = draw(seasonal())
    if draw(st.booleans()):
        body["late_interest"] = draw(late_interest())
    body["price_due"] = {
        "days": draw(st.integers(0, 40)),
        "after": draw(st.sampled_from(["contract", "shipment", "receipt"])),
    }
    weight = draw(st.sampled_from([None, None, "shipped", "landed"]))
    return body if weight is None else {**body, "premium_weight": weight}


@st.composite
def averages(draw: st.DrawFn) -> dict[str, object]:
    """Draw how a reference is made of futures months."""
    markets = draw(st.sampled_from([["NY"], ["LDN"], ["NY", "LDN"]]))
    return {
        "markets": [
            {
                "market": market,
                "months": draw(st.sampled_from([[3, 5, 7, 9, 12], [3, 6, 9, 12]])),
                "leaves_days": draw(st.sampled_from([0, 0, 10])),
            }
            for market in markets
        ],
        "nearest": draw(st.integers(1, 2)),
        "currency": draw(st.sampled_from(["USD", "GBP"])),
        "forward_months": draw(st.sampled_from([None, 6])),
        "source": "definition",
    }


@st.composite
def seasonal(draw: st.DrawFn) -> dict[str, object]:
    """Draw seasons of an origin; there may be a gap after the last one."""
    turns = draw(Days)
    ends = str(START + timedelta(days=draw(st.sampled_from([100, 400]))))
    spans = [("2000-01-01", turns)]
    if turns < ends:
        spans.append((str(date.fromisoformat(turns) + timedelta(days=1)), ends))
    return {
        "governed_by": draw(Governs),
        "seasons": [
            {
                "season_from": first,
                "season_until": last,
                "origins": draw(st.sampled_from([["PE"], ["PE", "EC"], ["EC"]])),
                "reference": {
                    "amount": draw(Figure),
                    "unit": draw(st.sampled_from(["USD/t", "GBP/t"])),
                },
                "source": "gazette",
            }
            for first, last in spans
        ],
    }


@st.composite
def late_interest(draw: st.DrawFn) -> list[dict[str, object]]:
    """Draw one or two rates of interest."""
    return [
        {
            "valid_from": since,
            "percent_per_year": str(
                draw(st.decimals(min_value=0, max_value=40, places=2))
            ),
            "day_count": draw(
                st.sampled_from(["actual/365", "actual/360", "actual/actual", "30/360"])
            ),
            "source": "clause 8",
        }
        for since in ["2000-01-01", draw(Days)]
    ]


@st.composite
def worlds(draw: st.DrawFn) -> BuyingWorld:
    """Draw a world with one contract under up to two schemes."""
    world = opened()
    schemes = draw(st.lists(st.sampled_from(SCHEMES), unique=True, max_size=2))
    for scheme in schemes:
        world.terms(**draw(terms(scheme)))
        world.certificate(scheme, valid_until=draw(Days))
    draw_market(draw, world)
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
        draw_receipt(draw, world, number, signed)
    for number in range(draw(st.integers(0, 4))):
        draw_payment(draw, world, number, currency_of(contract["price"]))
    return world


def draw_market(draw: st.DrawFn, world: BuyingWorld) -> None:
    """Draw quotes of two markets and of their months, and rates now and ahead."""
    for market, unit in (("NY", "USD/t"), ("LDN", "GBP/t")):
        world.quotes(market, draw(series(Figure)), unit=unit)
    for month in ("2025-03", "2025-05", "2025-06", "2025-12"):
        for market, unit in (("NY", "USc/lb"), ("LDN", "GBP/t")):
            levels = draw(series(Figure))
            if draw(st.booleans()):
                in_time = {on: lv for on, lv in levels.items() if on[:7] <= month}
                world.quotes(market, in_time, unit, month)
    rate = st.decimals(min_value=1, max_value=2, places=4).map(str)
    base, to = draw(st.permutations(["GBP", "USD"]))
    world.rates(base, to, draw(series(rate)))
    world.rates(base, to, draw(series(rate)), forward_months=6)


def draw_receipt(draw: st.DrawFn, world: BuyingWorld, number: int, signed: str) -> None:
    """Draw a shipment, often with its bill of lading."""
    received = max(draw(Days), signed)
    if draw(st.booleans()):
        world.ship(f"S-{number}", min(draw(Days), received))
    names = [f"L-{number}-{place}" for place in range(draw(st.integers(1, 3)))]
    world.receive(f"S-{number}", received, [draw(lots(name)) for name in names])


def draw_payment(
    draw: st.DrawFn, world: BuyingWorld, number: int, currency: str
) -> None:
    """Draw a payment; it may name a shipment."""
    shipment = draw(st.sampled_from([None, "S-0", "S-1"]))
    world.pay(
        f"P-{number}",
        draw(Days),
        f"{draw(st.integers(1, 9_000_000)) / 100:.2f}",
        draw(st.sampled_from(["price", "price", "premium", "interest", "advance"])),
        currency=currency,
        payee=draw(st.sampled_from([SELLER, SELLER, "farmers"])),
        shipment=shipment,
    )


def currency_of(price: Mapping[str, Any]) -> str:
    """Return the currency that a contract is paid in."""
    unit = str((price.get("price") or price["differential"])["unit"])
    return "USD" if unit == "USc/lb" else unit[:3]


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
