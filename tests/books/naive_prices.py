"""A second reading of what a tonne is owed, written apart from the product.

It reads the bodies of entries as they are recorded: text, loops and fractions, nothing of
the product. What is missing is None, and None in a sum makes the sum None.
"""

from datetime import date, timedelta
from fractions import Fraction
from typing import Any, NamedTuple

Body = dict[str, Any]
Entry = tuple[str, str, Body]
"""Kind, day and body."""
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


class Goods(NamedTuple):
    """What a row of a table is asked for."""

    commodity: str
    form: str
    origin: str


def about(rows: list[Body], table: str, goods: Goods) -> list[Body]:
    """Return the rows that are for some goods, of any origin."""
    return [
        row
        for row in rows
        if row.get("commodity", "cocoa") == goods.commodity
        and (table != "minimum_prices" or row.get("form", "bean") == goods.form)
    ]


class Reading:
    """One contract of a ledger, read up to a day."""

    def __init__(self, entries: list[Entry], as_of: str, contract: str) -> None:
        self.entries = entries
        self.as_of = as_of
        [(self.signed, self.contract)] = [
            (on, body)
            for on, body in self.of("contract.signed")
            if body["contract"] == contract
        ]
        self.price: Body = self.contract["price"]
        self.outright = self.price["basis"] == "fixed"
        self.currency = tonne(self.price.get("price") or self.price["differential"])[1]
        self.schemes = [claim["scheme"] for claim in self.contract.get("claims", [])]
        self.terms = {
            scheme: self.version(scheme, self.signed) for scheme in self.schemes
        }
        markets = [
            self.terms[s]["market"] for s in self.schemes if "market" in self.terms[s]
        ]
        self.days = min([market["fall_back_days"] for market in markets] or [5])
        self.left = [
            (Fraction(body["quantity_kg"]), on, body["level"])
            for on, body in self.under("price.fixed")
        ]
        self.left.append((Fraction(10**12), "", None))

    def of(self, wanted: str) -> list[tuple[str, Body]]:
        """List day and body of the entries of a kind, by day."""
        found = [(on, body) for kind, on, body in self.entries if kind == wanted]
        return sorted(found, key=lambda item: item[0])

    def under(self, wanted: str) -> list[tuple[str, Body]]:
        """List what was recorded under the contract, up to the day of the reading."""
        return [
            (on, body)
            for on, body in self.of(wanted)
            if body.get("contract") == self.contract["contract"] and on <= self.as_of
        ]

    def version(self, scheme: str, on: str) -> Body:
        """Return the terms of a scheme that govern on a day."""
        found = [
            body
            for _, body in self.of("terms.published")
            if body["scheme"] == scheme and body["valid_from"] <= on
        ]
        return max(found, key=lambda body: str(body["valid_from"]))

    def levels(self, market: str, month: str | None) -> dict[str, dict[str, str]]:
        """Return the quotes of a market, or of one of its months, by day."""
        return {
            q["on"]: {"amount": q["level"], "unit": body["unit"]}
            for _, body in self.of("quote.recorded")
            if body["market"] == market and body.get("month") == month
            for q in body["quotes"]
        }

    def quote(
        self, market: str, on: str, days: int, month: str | None = None
    ) -> dict[str, str] | None:
        """Read a market: of the month where it is quoted, else the plain series."""
        plain, of_month = self.levels(market, None), self.levels(market, month)
        for day in days_back(on, days):
            if day in of_month:
                return of_month[day]
            if day in plain:
                return plain[day]
        return None

    def rate(
        self, base: str, to: str, on: str, days: int, ahead: int | None = None
    ) -> Perhaps:
        """Return what one unit of a currency is in another."""
        if base == to:
            return Fraction(1)
        rates = {
            (body["base"], body["to"], r["on"]): Fraction(r["rate"])
            for _, body in self.of("rate.recorded")
            if body.get("forward_months") == ahead
            for r in body["rates"]
        }
        for day in days_back(on, days):
            if (base, to, day) in rates:
                return rates[base, to, day]
            if (to, base, day) in rates:
                return 1 / rates[to, base, day]
        return None

    def converted(self, price: dict[str, str] | None, on: str, days: int) -> Perhaps:
        """Return a price per tonne in the contract's currency."""
        if price is None:
            return None
        amount, currency = tonne(price)
        rate = self.rate(currency, self.currency, on, days)
        return None if rate is None else amount * rate

    def average(self, market: Body, on: str) -> Perhaps:
        """Return the average of the nearest months, in the contract's currency."""
        made, days = market["average"], market["fall_back_days"]
        found = [self.of_months(part, made, on, days) for part in made["markets"]]
        known = [amount for amount in found if amount is not None]
        if len(known) < len(found):
            return None
        rate = self.rate(made["currency"], self.currency, on, days)
        return None if rate is None else sum(known, Fraction(0)) / len(known) * rate

    def of_months(self, part: Body, made: Body, on: str, days: int) -> Perhaps:
        """Return what the nearest months of one market come to, in the average's."""
        for day in days_back(on, days):
            months = []
            here = date.fromisoformat(day)
            for number in range(300):
                year, month = here.year + number // 12, number % 12 + 1
                leaves = date(year, month, 1) - timedelta(days=part["leaves_days"])
                if month in part["months"] and here < leaves:
                    months.append(f"{year}-{month:02}")
            nearest = months[: made["nearest"]]
            quotes = [self.levels(part["market"], m).get(day) for m in nearest]
            if not any(quotes):
                continue
            prices = [tonne(quote) for quote in quotes if quote]
            if len(prices) < len(quotes) or len({unit for _, unit in prices}) > 1:
                return None
            mean = sum((amount for amount, _ in prices), Fraction(0)) / len(prices)
            ahead = made.get("forward_months")
            rate = self.rate(prices[0][1], made["currency"], day, days, ahead)
            return None if rate is None else mean * rate
        return None

    def with_differential(self, level: Perhaps, on: str, days: int) -> Perhaps:
        """Return a market price with the differential, where the contract has one."""
        if self.outright:
            return level
        return plus(level, self.converted(self.price["differential"], on, days))

    def agreed(self, fixed_on: str, level: dict[str, str] | None) -> Perhaps:
        """Return what the contract itself says."""
        if self.outright:
            return tonne(self.price["price"])[0]
        on = fixed_on or self.as_of
        if not fixed_on:
            level = self.quote(
                self.price["market"], self.as_of, self.days, self.price["month"]
            )
        return self.with_differential(
            self.converted(level, on, self.days), on, self.days
        )

    def fall_back(self, scheme: str) -> int:
        """Return how many days a figure of a scheme may be old."""
        return int(self.terms[scheme].get("market", {}).get("fall_back_days", 5))

    def goods(self, lot: Body) -> Goods:
        """Return what a lot is, as the contract says where the lot does not."""
        usual = {"commodity": "cocoa", "form": "bean", **self.contract}
        return Goods(*(lot.get(name) or usual[name] for name in Goods._fields))

    def row(self, scheme: str, table: str, on: str, goods: Goods) -> list[Perhaps]:
        """Return the figure of a table on a day; nothing where there is no table."""
        rows = about(self.version(scheme, on).get(table, []), table, goods)
        if not rows:
            return []
        if table == "minimum_prices":
            wanted = self.contract.get("delivery", "FOB")
            rows = [row for row in rows if row.get("delivery", "FOB") == wanted]
        found = latest(rows, goods.origin, on)
        price = found and found["price"]
        return [self.converted(price, on, self.fall_back(scheme))]

    def market(self, scheme: str, dates: dict[str, str], goods: Goods) -> list[Perhaps]:
        """Return the market that a scheme reads; nothing where it reads none of goods."""
        terms = self.terms[scheme]
        if "market" not in terms:
            return []
        market = terms["market"]
        if (market["commodity"], market["form"]) != (goods.commodity, goods.form):
            return []
        on, days = dates[terms["market_governed_by"]], market["fall_back_days"]
        if "average" in market:
            level = self.average(market, on)
        else:
            level = self.converted(self.quote(market["market"], on, days), on, days)
        return [self.with_differential(level, on, days)]

    def seasonal(
        self, scheme: str, dates: dict[str, str], goods: Goods
    ) -> list[Perhaps]:
        """Return what is paid beside the price in a season; nothing without seasons."""
        rule = self.terms[scheme].get("seasonal_differential")
        if rule is None:
            return []
        on = dates[rule["governed_by"]]
        rule = self.version(scheme, on).get("seasonal_differential", {"seasons": []})
        seasons = [
            season
            for season in rule["seasons"]
            if goods.origin in season["origins"]
            and season.get("commodity", "cocoa") == goods.commodity
            and season.get("form", "bean") == goods.form
        ]
        minimum = self.row(
            scheme,
            "minimum_prices",
            dates[self.terms[scheme]["minimum_governed_by"]],
            goods,
        )
        if not seasons or not minimum:
            return []
        for season in seasons:
            if season["season_from"] <= on <= season["season_until"]:
                reference = self.converted(
                    season["reference"], on, self.fall_back(scheme)
                )
                if reference is None or minimum[0] is None:
                    return [None]
                return [max(minimum[0] - reference, Fraction(0))]
        return [None]

    def certified(self, lot: Body, dates: dict[str, str]) -> list[str]:
        """List the schemes under which the seller was certified for a lot."""
        organic = lot.get("organic", self.contract["organic"])
        found, commodity = [], self.goods(lot).commodity
        for scheme in self.schemes:
            terms = self.version(scheme, dates["delivery"])
            on = dates[terms["certificate_governed_by"]]
            if commodity in terms.get("commodities", ["cocoa"]) and any(
                body["scheme"] == scheme
                and body["holder"] == self.contract["seller"]
                and body["valid_from"] <= on <= body["valid_until"]
                and (body["organic"] or not organic)
                and commodity in body.get("commodities", ["cocoa"])
                for _, body in self.of("certificate.recorded")
            ):
                found.append(scheme)
        return found

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
