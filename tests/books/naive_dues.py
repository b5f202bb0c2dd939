"""A second reading of dues, written apart from the product and as plainly as possible.

It reads the bodies of entries as they are recorded: text, loops and fractions, nothing of
the product. It knows contracts under any number of schemes, fixations, quotes and rates
with holidays, franchise, rejected lots, certificates that end, and premiums that are
split; it gives one total in cents for each duty and payee. What is missing is None, and
None in a sum makes the sum None.
"""

from datetime import date, timedelta
from fractions import Fraction
from math import ceil
from typing import Any

Body = dict[str, Any]
Entry = tuple[str, str, Body]
Perhaps = Fraction | None
POUND_KG = Fraction(45359237, 100000000)


def tonne(price: dict[str, str]) -> tuple[Fraction, str]:
    """Return a price per tonne and its currency."""
    amount, unit = Fraction(price["amount"]), price["unit"]
    if unit == "USc/lb":
        return amount / 100 * 1000 / POUND_KG, "USD"
    if unit.endswith("/kg"):
        return amount * 1000, unit[:3]
    return amount, unit[:3]


def plus(first: Perhaps, second: Perhaps) -> Perhaps:
    """Add what is known."""
    return None if first is None or second is None else first + second


def days_back(on: str, days: int) -> list[str]:
    """List a day and the days before it."""
    return [
        str(date.fromisoformat(on) - timedelta(days=back)) for back in range(days + 1)
    ]


def latest(rows: list[Body], origin: str, on: str) -> Body | None:
    """Return the row for an origin: one that names it, else one that names none."""
    valid = [row for row in rows if row["valid_from"] <= on]
    valid.sort(key=lambda row: str(row["valid_from"]))
    named = [row for row in valid if origin in row.get("origins", [])]
    others = [row for row in valid if not row.get("origins")]
    if named:
        return named[-1]
    return others[-1] if others else None


class Reading:
    """One ledger with one contract, read up to a day."""

    def __init__(self, entries: list[Entry], as_of: str) -> None:
        self.entries = entries
        self.as_of = as_of
        [(self.signed, self.contract)] = self.of("contract.signed")
        self.price: Body = self.contract["price"]
        self.outright = self.price["basis"] == "fixed"
        self.currency = tonne(self.price.get("price") or self.price["differential"])[1]
        self.terms = {body["scheme"]: body for _, body in self.of("terms.published")}
        self.schemes = [claim["scheme"] for claim in self.contract.get("claims", [])]
        markets = [
            self.terms[s]["market"] for s in self.schemes if "market" in self.terms[s]
        ]
        self.days = min([market["fall_back_days"] for market in markets] or [5])
        self.left = [
            (Fraction(body["quantity_kg"]), on, body["level"])
            for on, body in self.of("price.fixed")
            if on <= as_of
        ]
        self.left.append((Fraction(10**12), "", None))

    def of(self, wanted: str) -> list[tuple[str, Body]]:
        """List day and body of the entries of a kind, by day."""
        found = [(on, body) for kind, on, body in self.entries if kind == wanted]
        return sorted(found, key=lambda item: item[0])

    def quote(self, market: str, on: str, days: int) -> dict[str, str] | None:
        """Read a market."""
        levels = {
            q["on"]: {"amount": q["level"], "unit": body["unit"]}
            for _, body in self.of("quote.recorded")
            if body["market"] == market
            for q in body["quotes"]
        }
        for day in days_back(on, days):
            if day in levels:
                return levels[day]
        return None

    def rate(self, base: str, on: str, days: int) -> Perhaps:
        """Return what one unit of a currency is in the contract's."""
        if base == self.currency:
            return Fraction(1)
        rates = {
            (body["base"], body["to"], r["on"]): Fraction(r["rate"])
            for _, body in self.of("rate.recorded")
            for r in body["rates"]
        }
        for day in days_back(on, days):
            if (base, self.currency, day) in rates:
                return rates[base, self.currency, day]
            if (self.currency, base, day) in rates:
                return 1 / rates[self.currency, base, day]
        return None

    def converted(self, price: dict[str, str] | None, on: str, days: int) -> Perhaps:
        """Return a price per tonne in the contract's currency."""
        if price is None:
            return None
        amount, currency = tonne(price)
        rate = self.rate(currency, on, days)
        return None if rate is None else amount * rate

    def with_differential(
        self, price: dict[str, str] | None, on: str, days: int
    ) -> Perhaps:
        """Return a market price with the differential, where the contract has one."""
        level = self.converted(price, on, days)
        if self.outright:
            return level
        return plus(level, self.converted(self.price["differential"], on, days))

    def agreed(self, fixed_on: str, level: dict[str, str] | None) -> Perhaps:
        """Return what the contract itself says."""
        if self.outright:
            return tonne(self.price["price"])[0]
        if not fixed_on:
            level = self.quote(self.price["market"], self.as_of, self.days)
        return self.with_differential(level, fixed_on or self.as_of, self.days)

    def row(self, scheme: str, table: str, on: str) -> list[Perhaps]:
        """Return the figure of a table on a day; nothing where there is no table."""
        rows = self.terms[scheme].get(table, [])
        if not rows:
            return []
        found = latest(rows, self.contract["origin"], on)
        days = self.terms[scheme].get("market", {}).get("fall_back_days", 5)
        return [self.converted(found and found["price"], on, days)]

    def market(self, scheme: str, dates: dict[str, str]) -> list[Perhaps]:
        """Return the market that a scheme reads; nothing where it reads none."""
        terms = self.terms[scheme]
        if "market" not in terms:
            return []
        on, days = dates[terms["market_governed_by"]], terms["market"]["fall_back_days"]
        level = self.quote(terms["market"]["market"], on, days)
        return [self.with_differential(level, on, days)]

    def certified(self, shipped_on: str) -> list[str]:
        """List the schemes under which the seller was certified on a day."""
        return [
            scheme
            for scheme in self.schemes
            for _, body in self.of("certificate.recorded")
            if body["scheme"] == scheme and shipped_on <= body["valid_until"]
        ]

    def paid_kg(self, lots: list[Body]) -> list[Fraction]:
        """Return the kilograms that are paid for, lot by lot."""
        shipped = [Fraction(lot["net_shipped_kg"]) for lot in lots]
        landed = [Fraction(lot["net_landed_kg"]) for lot in lots]
        is_landed = self.contract["weight_basis"] == "landed"
        if "franchise_percent" not in self.contract:
            return landed if is_landed else shipped
        allowed = sum(shipped) * Fraction(self.contract["franchise_percent"]) / 100
        lost = sum(shipped) - sum(landed)
        total = Fraction(sum(shipped))
        if lost > allowed:
            total = sum(landed) + allowed
        if lost < 0 and is_landed:
            total = Fraction(sum(landed))
        return [total * kg / sum(shipped) for kg in shipped]

    def parts(self, kg: Fraction) -> list[tuple[Fraction, str, Any]]:
        """Use fixations up by some kilograms; return kilograms, day and level of each."""
        taken = []
        while kg > 0:
            left, on, level = self.left[0]
            part = min(kg, left)
            taken.append((part, on, level))
            kg -= part
            self.left[0] = (left - part, on, level)
            if left == part:
                self.left.pop(0)
        return taken


def owe(sums: dict[Any, Perhaps], key: tuple[object, ...], amount: Perhaps) -> None:
    """Add to a sum."""
    sums[key] = plus(sums.get(key, Fraction(0)), amount)


def of_part(
    reading: Reading,
    sums: dict[Any, Perhaps],
    lot: Body,
    part: tuple[Fraction, str, Any],
    whole_kg: Fraction,
    dates: dict[str, str],
) -> None:
    """Add what a part of a lot is owed."""
    kg, fixed_on, level = part
    is_open = not fixed_on and not reading.outright
    seller = reading.contract["seller"]
    schemes = reading.certified(dates["shipment"])
    prices, organic = [Fraction(0), reading.agreed(fixed_on, level)], []
    depends = False
    for scheme in schemes:
        terms = reading.terms[scheme]
        on = dates[terms["minimum_governed_by"]]
        prices += reading.row(scheme, "minimum_prices", on)
        prices += reading.market(scheme, dates)
        if reading.contract["organic"]:
            found = reading.row(scheme, "organic_differentials", on)
            organic += found
            depends |= bool(found) and terms["minimum_governed_by"] == "fixation"
        of_premium(reading, sums, lot, part, whole_kg, dates, scheme)
    known = [price for price in prices if price is not None]
    owed = max(known) * kg / 1000 if len(known) == len(prices) else None
    owe(sums, ("price", seller, "", is_open), owed)
    if organic:
        known = [amount for amount in organic if amount is not None]
        owed = max(known) * kg / 1000 if len(known) == len(organic) else None
        owe(sums, ("organic differential", seller, "", is_open and depends), owed)


def of_premium(
    reading: Reading,
    sums: dict[Any, Perhaps],
    lot: Body,
    part: tuple[Fraction, str, Any],
    whole_kg: Fraction,
    dates: dict[str, str],
    scheme: str,
) -> None:
    """Add one scheme's premium on a part of a lot."""
    terms, (kg, fixed_on, _) = reading.terms[scheme], part
    on = dates[terms["premium_governed_by"]]
    weighed = terms.get("premium_weight")
    if weighed:
        kg = Fraction(lot[f"net_{weighed}_kg"]) * kg / whole_kg
    is_open = not fixed_on and not reading.outright
    depends = is_open and terms["premium_governed_by"] == "fixation"
    for amount in reading.row(scheme, "premiums", on):
        row = latest(terms["premiums"], reading.contract["origin"], on)
        payees = [{"payee": "seller", "share": "1"}]
        if row is not None and amount is not None:
            payees = row["payees"]
        for payee in payees:
            name = payee["payee"]
            if name == "seller":
                name = reading.contract["seller"]
            share = Fraction(payee["share"])
            owed = None if amount is None else amount * share * kg / 1000
            owe(sums, ("premium", name, scheme, depends), owed)


def naive_dues(entries: list[Entry], as_of: str) -> dict[tuple[str, str], int | None]:
    """Return cents owed under the only contract, by duty and payee; None if unknown."""
    reading = Reading(entries, as_of)
    totals: dict[tuple[str, str], int | None] = {}
    for received, receipt in reading.of("shipment.received"):
        if received > as_of:
            continue
        sums: dict[Any, Perhaps] = {}
        shipped = [
            on
            for on, body in reading.of("shipment.dispatched")
            if body["shipment"] == receipt["shipment"]
        ]
        lots = [lot for lot in receipt["lots"] if lot["decision"] == "accepted"]
        for lot, whole_kg in zip(lots, reading.paid_kg(lots), strict=True):
            for part in reading.parts(whole_kg):
                dates = {
                    "contract": reading.signed,
                    "fixation": reading.signed
                    if reading.outright
                    else part[1] or as_of,
                    "shipment": shipped[0] if shipped else received,
                    "delivery": received,
                }
                of_part(reading, sums, lot, part, whole_kg, dates)
        for (duty, payee, _, _), exact in sums.items():
            before = totals.get((duty, payee), 0)
            cents = None if exact is None else ceil(exact * 100)
            unknown = before is None or cents is None
            totals[duty, payee] = None if unknown else (before or 0) + (cents or 0)
    return totals
