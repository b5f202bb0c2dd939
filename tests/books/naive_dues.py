"""A second reading of dues, written apart from the product and as plainly as possible.

With `tests.books.naive_prices` it knows contracts under any number of schemes, fixations,
quotes of series and of futures months, rates now and ahead, holidays, seasons, franchise,
rejected lots, certificates that end, premiums that are split, advances, payments, and
interest on what was late. Its sums are in cents.
"""

from calendar import isleap
from datetime import date, timedelta
from fractions import Fraction
from math import ceil
from typing import Any, NamedTuple

from tests.books.naive_prices import (
    Body,
    Entry,
    Perhaps,
    Reading,
    about,
    latest,
)


class Sums(NamedTuple):
    """What is known of one duty and payee, in cents."""

    owed: int
    is_complete: bool
    outstanding: int
    unused: int


class Line:
    """What one payee is owed for one receipt."""

    def __init__(self, key: dict[str, Any], cents: int) -> None:
        self.key = key
        self.cents = cents
        self.paid: list[tuple[int, str]] = []

    def left(self) -> int:
        """Return cents that are open."""
        return self.cents - sum(cents for cents, _ in self.paid)

    def age(self) -> tuple[str, ...]:
        """Return what decides which line is paid first."""
        key = self.key
        names = ("due", "received", "shipment", "standing", "scheme")
        return tuple(key[name] or ("9999" if name == "due" else "") for name in names)


def naive_dues(
    entries: list[Entry], as_of: str, contract: str
) -> dict[tuple[str, str], Sums]:
    """Return what is owed and paid under a contract, by duty and payee."""
    reading = Reading(entries, as_of, contract)
    lines: list[Line] = []
    missing: set[tuple[str, str]] = set()
    for received, receipt in reading.under("shipment.received"):
        exact: dict[tuple[tuple[str, Any], ...], Fraction] = {}
        for key, amount in of_receipt(reading, received, receipt):
            if amount is None:
                missing.add((key["duty"], key["payee"]))
            else:
                name = tuple(sorted(key.items(), key=lambda item: item[0]))
                exact[name] = exact.get(name, Fraction(0)) + amount
        lines += [Line(dict(name), ceil(sums * 100)) for name, sums in exact.items()]
    payments = reading.under("payment.made")
    is_interest = [body["towards"] == "interest" for _, body in payments]
    others = [p for p, is_it in zip(payments, is_interest, strict=True) if not is_it]
    unused = set_off(lines, others)
    interest = [late for line in lines for late in interest_of(reading, line)]
    own = [p for p, is_it in zip(payments, is_interest, strict=True) if is_it]
    unused |= set_off(interest, own)
    names = {(line.key["duty"], line.key["payee"]) for line in lines + interest}
    return {
        name: Sums(
            sum(line.cents for line in lines + interest if of(line, name)),
            name not in missing,
            sum(line.left() for line in lines + interest if of(line, name)),
            unused.get(name, 0),
        )
        for name in names | missing | set(unused)
    }


def of(line: Line, name: tuple[str, str]) -> bool:
    """Tell whether a line is of a duty and payee."""
    return (line.key["duty"], line.key["payee"]) == name


def after(term: Body, dates: dict[str, str]) -> str:
    """Return the last day on which a payment is in time."""
    starts = {"contract": "contract", "shipment": "shipment", "receipt": "delivery"}
    start = dates[starts[term["after"]]]
    return str(date.fromisoformat(start) + timedelta(days=term["days"]))


def of_receipt(
    reading: Reading, received: str, receipt: Body
) -> list[tuple[dict[str, Any], Perhaps]]:
    """List what each part of each lot is owed, before rounding."""
    shipped = [
        on
        for on, body in reading.of("shipment.dispatched")
        if body["shipment"] == receipt["shipment"]
    ]
    found: list[tuple[dict[str, Any], Perhaps]] = []
    lots = [lot for lot in receipt["lots"] if lot["decision"] == "accepted"]
    for lot, whole_kg in zip(lots, reading.paid_kg(lots), strict=True):
        for part in reading.parts(whole_kg):
            fixed_on = reading.signed if reading.outright else part[1] or reading.as_of
            dates = {
                "contract": reading.signed,
                "fixation": fixed_on,
                "shipment": shipped[0] if shipped else received,
                "delivery": received,
            }
            base = {"shipment": receipt["shipment"], "received": received}
            for key, amount in of_part(reading, lot, part, whole_kg, dates):
                found.append(({**base, **key}, amount))
    return found


def highest(amounts: list[Perhaps], kg: Fraction) -> Perhaps:
    """Return what the highest of some amounts a tonne comes to, if all are known."""
    known = [amount for amount in amounts if amount is not None]
    return max(known) * kg / 1000 if len(known) == len(amounts) else None


def of_part(
    reading: Reading,
    lot: Body,
    part: tuple[Fraction, str, Any],
    whole_kg: Fraction,
    dates: dict[str, str],
) -> list[tuple[dict[str, Any], Perhaps]]:
    """List what a part of a lot is owed, by duty and payee."""
    kg, fixed_on, level = part
    goods = reading.goods(lot)
    prices, organic, seasonal = [Fraction(0), reading.agreed(fixed_on, level)], [], []
    found, by_fixation, season_by_fixation = [], False, False
    for scheme in reading.certified(lot, dates):
        terms = reading.terms[scheme]
        on = dates[terms["minimum_governed_by"]]
        beside = reading.seasonal(scheme, dates, goods)
        for minimum in reading.row(scheme, "minimum_prices", on, goods):
            less = beside[0] if beside else Fraction(0)
            prices.append(None if minimum is None or less is None else minimum - less)
        prices += reading.market(scheme, dates, goods)
        seasonal += beside
        if beside:
            rule = terms["seasonal_differential"]["governed_by"]
            season_by_fixation |= "fixation" in {rule, terms["minimum_governed_by"]}
        if lot.get("organic", reading.contract["organic"]):
            own = reading.row(scheme, "organic_differentials", on, goods)
            organic += own
            by_fixation |= bool(own) and terms["minimum_governed_by"] == "fixation"
        found += of_premium(reading, lot, part, whole_kg, dates, scheme)
    for duty, amounts, depends in (
        ("price", prices, True),
        ("seasonal differential", seasonal, season_by_fixation),
        ("organic differential", organic, by_fixation),
    ):
        is_open = depends and not fixed_on and not reading.outright
        if amounts:
            found.append(
                (to_seller(reading, dates, duty, is_open), highest(amounts, kg))
            )
    return found


def to_seller(
    reading: Reading,
    dates: dict[str, str],
    duty: str,
    is_open: bool,  # noqa: FBT001 - one of four plain values
) -> dict[str, Any]:
    """Return what a line to the seller is known by."""
    terms = [reading.terms[scheme] for scheme in reading.schemes]
    return {
        "duty": duty,
        "payee": reading.contract["seller"],
        "scheme": "",
        "due": min([after(one["price_due"], dates) for one in terms] or [""]),
        "standing": "provisional" if is_open else "final",
    }


def of_premium(
    reading: Reading,
    lot: Body,
    part: tuple[Fraction, str, Any],
    whole_kg: Fraction,
    dates: dict[str, str],
    scheme: str,
) -> list[tuple[dict[str, Any], Perhaps]]:
    """List one scheme's premium on a part of a lot, by payee."""
    terms, (kg, fixed_on, _) = reading.terms[scheme], part
    on = dates[terms["premium_governed_by"]]
    weighed = terms.get("premium_weight")
    if weighed:
        kg = Fraction(lot[f"net_{weighed}_kg"]) * kg / whole_kg
    is_open = not fixed_on and not reading.outright
    depends = is_open and terms["premium_governed_by"] == "fixation"
    found: list[tuple[dict[str, Any], Perhaps]] = []
    goods = reading.goods(lot)
    for amount in reading.row(scheme, "premiums", on, goods):
        rows = about(reading.version(scheme, on)["premiums"], "premiums", goods)
        row = latest(rows, goods.origin, on)
        payees = [{"payee": "seller", "share": "1"}]
        if row is not None and amount is not None:
            payees = row["payees"]
        for payee in payees:
            name = payee["payee"]
            share = Fraction(payee["share"])
            key = {
                "duty": "premium",
                "payee": reading.contract["seller"] if name == "seller" else name,
                "scheme": scheme,
                "due": after(terms["premium_due"], dates),
                "standing": "provisional" if depends else "final",
            }
            found.append((key, None if amount is None else amount * share * kg / 1000))
    return found


def set_off(
    lines: list[Line], payments: list[tuple[str, Body]]
) -> dict[tuple[str, str], int]:
    """Pay lines, and return the cents that are left over by duty and payee."""
    unused: dict[tuple[str, str], int] = {}
    ordered = sorted(
        payments, key=lambda p: (p[1]["towards"] != "advance", p[0], p[1]["payment"])
    )
    for on, body in ordered:
        cents = int(Fraction(body["money"]["amount"]) * 100)
        duty = "price" if body["towards"] == "advance" else body["towards"]
        own = [line for line in lines if of(line, (duty, body["payee"]))]
        own.sort(key=lambda line: line.age())
        named = [x for x in own if x.key["shipment"] == body.get("shipment")]
        for line in named + [x for x in own if x not in named]:
            part = min(cents, line.left())
            if part > 0:
                line.paid.append((part, on))
                cents -= part
        unused[duty, body["payee"]] = unused.get((duty, body["payee"]), 0) + cents
    return unused


def interest_of(reading: Reading, line: Line) -> list[Line]:
    """Return the interest on a line, the highest of those that schemes ask for."""
    due, found = line.key["due"], []
    if not due:
        return []
    late = [(cents, on) for cents, on in line.paid if on > due]
    if line.left() and reading.as_of > due:
        late.append((line.left(), reading.as_of))
    for scheme in reading.schemes:
        rows = [
            row
            for row in reading.version(scheme, due).get("late_interest", [])
            if row["valid_from"] <= due
        ]
        if not rows or line.key["scheme"] not in {"", scheme} or not late:
            continue
        row = max(rows, key=lambda row: str(row["valid_from"]))
        exact = Fraction(0)
        for cents, until in late:
            rate = Fraction(row["percent_per_year"]) / 100
            exact += cents * rate * years(due, until, row["day_count"])
        is_open = line.key["standing"] == "provisional" or bool(line.left())
        key = {
            **line.key,
            "duty": "interest",
            "scheme": scheme,
            "due": max(until for _, until in late),
            "standing": "provisional" if is_open else "final",
        }
        found.append(Line(key, ceil(exact)))
    found.sort(key=lambda one: -one.cents)
    return [one for one in found[:1] if one.cents]


def years(due: str, until: str, day_count: str) -> Fraction:
    """Return the time between two days as a part of a year, day by day."""
    start, end = date.fromisoformat(due), date.fromisoformat(until)
    if day_count == "30/360":
        first = min(start.day, 30)
        last = 30 if end.day == 31 and first == 30 else end.day
        months = 12 * (end.year - start.year) + end.month - start.month
        return Fraction(30 * months + last - first, 360)
    total = Fraction(0)
    while start < end:
        of_year = 366 if isleap(start.year) else 365
        fixed = {"actual/365": 365, "actual/360": 360}
        total += Fraction(1, fixed.get(day_count, of_year))
        start += timedelta(days=1)
    return total
