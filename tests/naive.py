"""A second reading of entries, as plain as possible: dicts, text, fractions and loops.

It is written from what the books promise, not from how they are written, and imports
nothing of the product. After each entry it says what every lot and every account holds on
every date, and what each lot consists of. What rests on what it does not know: after
every entry that could matter it works out everything again.

What it promises to follow: what counts is what is recorded and neither void nor replaced;
a replacement keeps the place of what it replaces; what lies in a closed period stays, and
a difference lands on the day of the entry that brought it.
"""

from collections import defaultdict
from datetime import date, timedelta
from fractions import Fraction
from math import ceil, floor
from typing import NamedTuple

from tests.naive_trade import Body, Counting, Entry, Key, grams

MATTERS = (
    "correction",
    "certificate.recorded",
    "certificate.suspended",
    "certificate.withdrawn",
    "certificate.reinstated",
    "shipment.dispatched",
    "terms.published",
    "lot.rejected",
)
"""Kinds of entries after which earlier ones may count differently."""


class Post(NamedTuple):
    """Grams moved in one book on one day."""

    key: Key
    on: str
    grams: int
    cause: str


class Left:
    """What is left of a line of a sale: its goods, and its claims by scheme."""

    def __init__(self, body: Body) -> None:
        self.body = body
        self.lot = body["lot"]
        self.goods = self.whole = grams(body["mass_kg"])
        self.claimed = {claim["scheme"]: self.whole for claim in body.get("claims", [])}


class Naive(Counting):
    """Everything that follows from some entries, in the order recorded."""

    def __init__(self) -> None:
        super().__init__()
        self.posts: dict[int, list[Post]] = {}
        self.targets: dict[int, int] = {}
        self.closed = ""

    def read(self, raw: Body) -> None:
        """Take in one entry that the books let in."""
        entry = Entry(raw["seq"], raw["kind"], raw["occurred_on"], raw["body"])
        changed = entry.seq
        if entry.kind == "correction":
            changed = self._correct(entry)
        else:
            self.counts[entry.seq] = entry
        self._look_again()
        if entry.kind != "correction":
            self.posts[entry.seq] = self._truth(entry.seq)
        if entry.kind in MATTERS:
            for slot in sorted({*self.counts, changed} - {entry.seq}):
                self._again(slot, entry.on)
        if entry.kind == "period.closed":
            self.closed = max(self.closed, entry.body["end"])

    def _correct(self, entry: Entry) -> int:
        slot = entry.body["target"]
        while slot in self.targets:
            slot = self.targets[slot]
        self.targets[entry.seq] = entry.body["target"]
        assert self.counts[slot].seq == entry.body["target"]
        new = entry.body.get("replacement")
        del self.counts[slot]
        if new is not None:
            kind, on, body = new["entry_kind"], new["occurred_on"], new["body"]
            self.counts[slot] = Entry(entry.seq, kind, on, body)
        return int(slot)

    def _again(self, slot: int, on: str) -> None:
        """Let an earlier entry count as it does now."""
        counting = self.counts.get(slot)
        if counting is not None and counting.kind == "period.closed":
            return
        old, new = self.posts.get(slot, []), self._truth(slot)
        if all(post.on > self.closed for post in (*old, *new)):
            self.posts[slot] = new
            return
        left: dict[Key, int] = defaultdict(int)
        for post in new:
            left[post.key] += post.grams
        for post in old:
            left[post.key] -= post.grams
        self.posts[slot] = old + [
            Post(key, on, more, "corrected") for key, more in left.items() if more
        ]

    def by_day(self) -> dict[Key, dict[str, int]]:
        """Return grams moved by book and day, days on which nothing is left out."""
        found: dict[Key, dict[str, int]] = {}
        for posts in self.posts.values():
            for post in posts:
                days = found.setdefault(post.key, defaultdict(int))
                days[post.on] += post.grams
        return found

    def closing(self, key: Key, on: str = "9999") -> int:
        """Return what a book holds when a day is over."""
        days = self.by_day().get(key, {})
        return sum(moved for day, moved in days.items() if day <= on)

    def lowest(self, key: Key) -> dict[str, int]:
        """Return the lowest that a book stands at on each day on which it moves."""
        moves: dict[tuple[str, bool, int], int] = defaultdict(int)
        for slot, posts in self.posts.items():
            for post in posts:
                if post.key == key:
                    last = post.grams < 0 and self._receipts_first(key, post.on)
                    moves[post.on, last, slot] += post.grams
        found: dict[str, int] = {}
        total = 0
        for (on, _, _), moved in sorted(moves.items()):
            total += moved
            found[on] = min(total, found.get(on, total))
        return found

    def _receipts_first(self, key: Key, on: str) -> bool:
        if key[0] == "stock":
            return False
        terms = self._terms(key[1].split("|")[0], on) or {}
        return bool(terms.get("account", {}).get("within_day") == "receipts first")

    def _truth(self, slot: int) -> list[Post]:
        """Return what the entry in a place moves, given all that counts now."""
        entry = self.counts.get(slot)
        if entry is None:
            return []
        move = {
            "shipment.received": self._received,
            "batch.made": self._made,
            "sale.dispatched": self._sold,
            "lot.written_off": self._gone,
            "period.closed": self._lapsed,
        }.get(entry.kind)
        if entry.kind in {"sale.returned", "claim.withdrawn"}:
            return self._undone(slot, entry)
        return [] if move is None else [post for post in move(entry) if post.grams]

    def _received(self, entry: Entry) -> list[Post]:
        found = []
        for part in entry.body["lots"]:
            about = self._bought(part["lot"])
            if about.get("decision", "accepted") == "rejected":
                continue
            landed, shipped = (
                grams(part["net_landed_kg"]),
                grams(part["net_shipped_kg"]),
            )
            found.append(Post(("stock", part["lot"]), entry.on, landed, "received"))
            for claim in about["claims"]:
                if not self._counts(part["lot"], claim):
                    continue
                terms = self._in_force(claim["scheme"], entry.on)
                basis = terms.get("account", {}).get("credit_weight", "lesser")
                weight = {
                    "shipped": shipped,
                    "landed": landed,
                    "lesser": min(shipped, landed),
                }[basis]
                factor = self._factor(
                    terms, about["commodity"], about["form"], entry.on
                )
                key = self._account(
                    terms,
                    about["commodity"],
                    about["site"],
                    about["origin"],
                    organic=about["organic"],
                )
                found += self._credit(
                    part["lot"], key, entry.on, floor(factor * weight)
                )
        return found

    def _credit(self, lot: str, key: Key, on: str, credit: int) -> list[Post]:
        """Credit a lot until the day from which it is rejected."""
        rejected = self._rejected_from(lot)
        if rejected is None:
            return [Post(key, on, credit, "received")]
        if rejected <= on:
            return []
        return [
            Post(key, on, credit, "received"),
            Post(key, rejected, -credit, "written off"),
        ]

    @staticmethod
    def _made(entry: Entry) -> list[Post]:
        body = entry.body
        taken = sum(grams(part["mass_kg"]) for part in body["inputs"])
        given = sum(grams(part["mass_kg"]) for part in body["outputs"])
        lost = sum(grams(part["mass_kg"]) for part in body.get("losses", []))
        assert taken == given + lost
        return [
            Post(("stock", part["lot"]), entry.on, sign * grams(part["mass_kg"]), how)
            for side, sign, how in (("inputs", -1, "used"), ("outputs", 1, "made"))
            for part in body[side]
        ]

    def _claimed(self, line: Body, sale: Entry) -> dict[Key, Fraction]:
        """Return what the claims of a line stand for, by account."""
        found: dict[Key, Fraction] = defaultdict(Fraction)
        site = sale.body.get("site") or self._first_site()
        for claim in line.get("claims", []):
            terms = self._in_force(claim["scheme"], sale.on)
            for part in self._parts(line["lot"]):
                if part.commodity in terms.get("commodities", ["cocoa"]):
                    key = self._account(
                        terms, part.commodity, site, part.origin, organic=part.organic
                    )
                    factor = self._factor(terms, part.commodity, part.form, sale.on)
                    found[key] += grams(line["mass_kg"]) * part.share * factor
        return found

    def _sold(self, entry: Entry) -> list[Post]:
        found = []
        for line in entry.body["lines"]:
            mass = grams(line["mass_kg"])
            found.append(Post(("stock", line["lot"]), entry.on, -mass, "sold"))
            for key, beans in self._claimed(line, entry).items():
                found.append(Post(key, entry.on, -ceil(beans), "sold"))
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
        return [post for post in found if post.grams]

    def _back(self, entry: Entry, sale: Entry, left: list[Left]) -> list[Post]:
        """Take goods back: of lines with fewer claims first, unclaimed ones first."""
        found = []
        for part in entry.body["lines"]:
            mass = grams(part["mass_kg"])
            found.append(Post(("stock", part["lot"]), entry.on, mass, "returned"))
            for line in sorted(left, key=lambda one: len(one.claimed)):
                back = min(mass, line.goods) if line.lot == part["lot"] else 0
                mass -= back
                for scheme, claimed in line.claimed.items():
                    unclaimed = line.goods - claimed
                    claims_back = max(0, back - unclaimed)
                    found += self._freed(line, sale, entry.on, scheme, claims_back)
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
        if back:
            line.claimed[scheme] -= back
        return [
            Post(key, on, floor(beans * back / line.whole), "returned")
            for key, beans in self._claimed(line.body, sale).items()
            if key[1].split("|")[0] == scheme
        ]

    def _gone(self, entry: Entry) -> list[Post]:
        """Take a lot's certified content out of the accounts with it."""
        body = entry.body
        mass = grams(body["mass_kg"])
        shares, parts = self.shares(body["lot"]), self._parts(body["lot"])
        whole: dict[str, Fraction] = defaultdict(Fraction)
        for source, share in shares.items():
            whole[self._bought(source)["commodity"]] += share
        content: dict[Key, Fraction] = defaultdict(Fraction)
        for source, share in shares.items():
            about = self._bought(source)
            for claim in about["claims"]:
                if not self._counts(source, claim) or self._rejected_from(source):
                    continue
                terms = self._in_force(claim["scheme"], entry.on)
                commodity = about["commodity"]
                beans = sum(
                    part.share * self._factor(terms, commodity, part.form, entry.on)
                    for part in parts
                    if part.commodity == commodity
                )
                key = self._account(
                    terms,
                    commodity,
                    about["site"],
                    about["origin"],
                    organic=about["organic"],
                )
                content[key] += mass * beans * share / whole[commodity]
        return [
            Post(("stock", body["lot"]), entry.on, -mass, "written off"),
            *(Post(k, entry.on, -ceil(b), "written off") for k, b in content.items()),
        ]

    def _lapsed(self, entry: Entry) -> list[Post]:
        """Let what is older than the terms carry over lapse at each period end."""
        found: list[Post] = []
        for key, days in self.by_day().items():
            if key[0] != "account" or not days:
                continue
            gone = 0
            for end in _days(max(self.closed, min(days)), entry.body["end"]):
                terms = self._terms(key[1].split("|")[0], end)
                if terms is None or end <= self.closed or not _ends(terms, end):
                    continue
                since = _months_before(
                    end,
                    terms.get("reconciliation_months", 12)
                    * terms.get("carry_over_periods", 1),
                )
                recent = sum(
                    post.grams
                    for posts in self.posts.values()
                    if any(
                        p.cause == "received" and p.key == key and since <= p.on <= end
                        for p in posts
                    )
                    for post in posts
                    if post.key == key and since <= post.on <= end
                )
                old = self.closing(key, end) - gone - recent
                if old > 0:
                    gone += old
                    found.append(Post(key, end, -old, "lapsed"))
        return found


def _days(first: str, last: str) -> list[str]:
    day, found = date.fromisoformat(first), []
    while str(day) <= last:
        found.append(str(day))
        day += timedelta(days=1)
    return found


def _ends(terms: Body, day: str) -> bool:
    """Tell whether a reconciliation period is over with a day."""
    starts = terms.get("reconciliation_starts", 1)
    length = terms.get("reconciliation_months", 12)
    after = date.fromisoformat(day) + timedelta(days=1)
    first_months = {(starts - 1 + n) % 12 + 1 for n in range(0, 12, length)}
    return after.day == 1 and after.month in first_months


def _months_before(end: str, months: int) -> str:
    """Return the first of the month that lies some months before the day after `end`."""
    day = date.fromisoformat(end) + timedelta(days=1)
    for _ in range(months):
        day = (day - timedelta(days=1)).replace(day=1)
    return str(day)


def read_all(raws: list[Body]) -> Naive:
    """Return what follows from some entries."""
    naive = Naive()
    for raw in raws:
        naive.read(raw)
    return naive
