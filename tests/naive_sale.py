"""What sales draw, and what comes back of them, read naively.

Part of the second reading in `tests.naive`; like it, it imports nothing of the product.
"""

from collections import defaultdict
from fractions import Fraction
from math import ceil, floor

from tests.naive_accounts import Accounts, account_of, family
from tests.naive_trade import Body, Entry, Key, Part, Post, grams


class Left:
    """What is left of a line of a sale: its goods, and its claims by scheme."""

    def __init__(self, body: Body) -> None:
        self.body = body
        self.lot = body["lot"]
        self.goods = self.whole = grams(body["mass_kg"])
        self.claimed = {claim["scheme"]: self.whole for claim in body.get("claims", [])}


def part_of(claim: Body) -> Fraction:
    """Return the part of goods that carries a claim: all, but of a blend."""
    return Fraction(claim.get("proportion") or 1)


class Sales(Accounts):
    """Entries that count, with what sales, returns and credit notes move."""

    def _claimed(self, line: Body, sale: Entry) -> dict[Key, Fraction]:
        """Return what the claims of a line stand for, by account."""
        found: dict[Key, Fraction] = defaultdict(Fraction)
        for claim in line.get("claims", []):
            terms = self._in_force(claim["scheme"], sale.on)
            for key, beans in self._counted(terms, line, sale):
                found[key] += beans * part_of(claim)
        return found

    def _all_of(self, line: Body, sale: Entry) -> dict[Key, Fraction]:
        """Return what a line adds to all that is sold, where percentages are averaged.

        It is by the accounts that a claim on the whole line would draw on.
        """
        found: dict[Key, Fraction] = defaultdict(Fraction)
        for terms in self._averaging(sale.on):
            for key, beans in self._counted(terms, line, sale):
                found[key] += beans
        return found

    def _counted(
        self, terms: Body, line: Body, sale: Entry
    ) -> list[tuple[Key, Fraction]]:
        """List the accounts and beans of what is in a line and certified by a scheme."""
        site = sale.body.get("site") or self._first_site()
        return [
            (
                account_of(terms, sale.on, site, part),
                self._beans(terms, line, sale, part),
            )
            for part in self._parts(line["lot"])
            if part.commodity in terms.get("commodities", ["cocoa"])
        ]

    def _beans(self, terms: Body, line: Body, sale: Entry, part: Part) -> Fraction:
        factor = self._factor(terms, part.commodity, part.form, sale.on)
        return grams(line["mass_kg"]) * part.share * factor

    def _sold(self, entry: Entry) -> list[Post]:
        found = []
        for line in entry.body["lines"]:
            mass = grams(line["mass_kg"])
            found.append(Post(("stock", line["lot"]), entry.on, -mass, "sold"))
            for key, beans in self._claimed(line, entry).items():
                found.append(Post(key, entry.on, -ceil(beans), "sold"))
            for key, beans in self._all_of(line, entry).items():
                everything = "output", family(key[1])
                found.append(Post(everything, entry.on, ceil(beans), "sold"))
        return found

    def _undone(self, slot: int, entry: Entry) -> list[Post]:
        """Give back what a return or a credit note gives, after all those before it."""
        [sale] = [
            e
            for _, e in self._of("sale.dispatched")
            if e.body["sale"] == entry.body["sale"]
        ]
        left = [Left(line) for line in sale.body["lines"]]
        found: list[Post] = []
        before = [*self._of("sale.returned"), *self._of("claim.withdrawn")]
        for place, other in sorted(before):
            if place <= slot and other.body["sale"] == entry.body["sale"]:
                undo = self._back if other.kind == "sale.returned" else self._unclaimed
                found = undo(other, sale, left)
        return found

    def _back(self, entry: Entry, sale: Entry, left: list[Left]) -> list[Post]:
        """Take goods back: of lines with fewer claims first, unclaimed ones first."""
        found = []
        for part in entry.body["lines"]:
            mass = grams(part["mass_kg"])
            found.append(Post(("stock", part["lot"]), entry.on, mass, "returned"))
            for line in sorted(left, key=lambda one: len(one.claimed)):
                back = min(mass, line.goods) if line.lot == part["lot"] else 0
                if not back:
                    continue
                mass -= back
                for scheme, claimed in line.claimed.items():
                    unclaimed = line.goods - claimed
                    claims_back = max(0, back - unclaimed)
                    found += self._freed(line, sale, entry.on, scheme, claims_back)
                for key, beans in self._all_of(line.body, sale).items():
                    everything = "output", family(key[1])
                    unsold = floor(beans * back / line.whole)
                    found.append(Post(everything, entry.on, -unsold, "returned"))
                line.goods -= back
            assert not mass
        return found

    def _unclaimed(self, entry: Entry, sale: Entry, left: list[Left]) -> list[Post]:
        """Take claims back, of the first lines first; the goods stay sold."""
        found = []
        for part in entry.body["lines"]:
            mass, scheme = grams(part["mass_kg"]), part["scheme"]
            for line in left:
                if line.lot == part["lot"]:
                    back = min(mass, line.claimed.get(scheme, 0))
                    mass -= back
                    found += self._freed(line, sale, entry.on, scheme, back)
            assert not mass
        return found

    def _freed(
        self, line: Left, sale: Entry, on: str, scheme: str, back: int
    ) -> list[Post]:
        if not back:
            return []
        line.claimed[scheme] -= back
        return [
            Post(key, on, floor(beans * back / line.whole), "returned")
            for key, beans in self._claimed(line.body, sale).items()
            if key[1].split("|")[0] == scheme
        ]
