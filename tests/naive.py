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
from collections.abc import Callable, Iterator
from fractions import Fraction
from math import ceil, floor

from tests.naive_accounts import account_of_lot, family
from tests.naive_lapses import lapses
from tests.naive_sale import Sales, part_of
from tests.naive_trade import Body, Entry, Key, Post, grams

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


class Naive(Sales):
    """Everything that follows from some entries, in the order recorded."""

    def __init__(self) -> None:
        super().__init__()
        self.kinds: dict[int, str] = {}
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
            self.kinds[entry.seq] = entry.kind
        self._look_again()
        if entry.kind != "correction":
            self.posts[entry.seq] = self._truth(entry.seq)
        if entry.kind in MATTERS or self._looks_around():
            for slot in sorted({*self.counts, changed}, key=self._age):
                self._again(slot, self._truth, entry.on, "corrected")
            lapsed = self._lapsed_with()
            for slot in lapsed:
                self._again(slot, lapsed.__getitem__, entry.on, "lapsed")
        if entry.kind == "period.closed":
            self.posts[entry.seq] = self._lapsed_with(entry.seq)[entry.seq]
            self.closed = max(self.closed, entry.body["end"])

    def _looks_around(self) -> bool:
        """Tell whether factors or left-overs may rest on entries that are not named."""
        return any(
            body.get("measured_yields") or body.get("joint_outputs")
            for body in (entry.body for _, entry in self._of("terms.published"))
        )

    def _age(self, slot: int) -> tuple[str, int]:
        entry = self.counts.get(slot)
        return ("" if entry is None else entry.on), slot

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

    def _again(
        self, slot: int, truth: Callable[[int], list[Post]], on: str, cause: str
    ) -> None:
        """Let an earlier entry count as it does now."""
        counting = self.counts.get(slot)
        closes = counting is not None and counting.kind == "period.closed"
        if closes is not (cause == "lapsed"):
            return
        old = self.posts.pop(slot, [])
        new = truth(slot)
        if all(post.on > self.closed for post in (*old, *new)):
            self.posts[slot] = new
            return
        left: dict[Key, int] = defaultdict(int)
        for post in new:
            left[post.key] += post.grams
        for post in old:
            left[post.key] -= post.grams
        self.posts[slot] = old + [
            Post(key, on, more, cause) for key, more in left.items() if more
        ]

    def by_day(self) -> dict[Key, dict[str, int]]:
        """Return grams moved by book and day, days on which nothing is left out."""
        found: dict[Key, dict[str, int]] = {}
        for posts in self.posts.values():
            for post in posts:
                days = found.setdefault(post.key, defaultdict(int))
                days[post.on] += post.grams
        return found

    def terms(self, scheme: str, on: str) -> Body | None:
        """Return the terms of a scheme that govern on a day, if any do."""
        return self._terms(scheme, on)

    def closing(self, key: Key, on: str = "9999") -> int:
        """Return what a book holds when a day is over."""
        days = self.by_day().get(key, {})
        return sum(moved for day, moved in days.items() if day <= on)

    def lowest(self, key: Key) -> dict[str, int]:
        """Return the lowest that a book stands at on each day on which it moves."""
        moves: dict[tuple[str, int, int], int] = defaultdict(int)
        for slot, posts in self.posts.items():
            for post in posts:
                if post.key == key:
                    moves[post.on, self._turn(key, post), slot] += post.grams
        found: dict[str, int] = {}
        total = 0
        for (on, _, _), moved in sorted(moves.items()):
            total += moved
            found[on] = min(total, found.get(on, total))
        return found

    def _turn(self, key: Key, post: Post) -> int:
        """Return which of a day's turns a movement has: what came back to life is first."""
        if post.grams > 0 and post.cause == "lapsed":
            return 0
        return 2 if post.grams < 0 and self._receipts_first(key, post.on) else 1

    def _receipts_first(self, key: Key, on: str) -> bool:
        if key[0] != "account":
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
            "claim.transferred": self._moved,
        }.get(entry.kind)
        if entry.kind in {"sale.returned", "claim.withdrawn"}:
            return self._undone(slot, entry)
        posts = [] if move is None else move(entry)
        if entry.kind in {"sale.dispatched", "lot.written_off"}:
            parted = self._parting(slot, entry, posts)
            posts += [post for post in parted if post.grams]
        return posts

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
                if self._counts(part["lot"], claim):
                    terms = self._in_force(claim["scheme"], entry.on)
                    key, beans = self._credited(terms, about, entry.on, shipped, landed)
                    credit = floor(part_of(claim) * beans)
                    found += self._credit(part["lot"], key, entry.on, credit)
            for terms in self._averaging(entry.on):
                if about["commodity"] in terms.get("commodities", ["cocoa"]):
                    key, beans = self._credited(terms, about, entry.on, shipped, landed)
                    name = "input", family(key[1])
                    found.append(Post(name, entry.on, floor(beans), "received"))
        return found

    def _credited(
        self, terms: Body, about: Body, on: str, shipped: int, landed: int
    ) -> tuple[Key, Fraction]:
        """Return the account of a received lot, and the beans it stands for."""
        basis = terms.get("account", {}).get("credit_weight", "lesser")
        weight = {
            "shipped": shipped,
            "landed": landed,
            "lesser": min(shipped, landed),
        }[basis]
        factor = self._factor(terms, about["commodity"], about["form"], on)
        return account_of_lot(terms, about, on, about["form"]), factor * weight

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

    def _gone(self, entry: Entry) -> list[Post]:
        """Take a lot's certified content out of the accounts with it."""
        lot, mass = entry.body["lot"], grams(entry.body["mass_kg"])
        content: dict[Key, Fraction] = defaultdict(Fraction)
        for about, claim, share in self._certified_sources(lot):
            terms = self._in_force(claim["scheme"], entry.on)
            goods = mass * part_of(claim) * share
            for part in self._parts(lot):
                if part.commodity == about["commodity"]:
                    factor = self._factor(terms, part.commodity, part.form, entry.on)
                    key = account_of_lot(terms, about, entry.on, part.form)
                    content[key] += goods * part.share * factor
        return [
            Post(("stock", lot), entry.on, -mass, "written off"),
            *(Post(k, entry.on, -ceil(b), "written off") for k, b in content.items()),
        ]

    def _certified_sources(self, lot: str) -> Iterator[tuple[Body, Body, Fraction]]:
        """Yield received lots in a lot, each claim of them, and their commodity's share."""
        shares = self.shares(lot)
        whole: dict[str, Fraction] = defaultdict(Fraction)
        for source, share in shares.items():
            whole[self._bought(source)["commodity"]] += share
        for source, share in shares.items():
            about = self._bought(source)
            for claim in about["claims"]:
                if self._counts(source, claim) and not self._rejected_from(source):
                    yield about, claim, share / whole[about["commodity"]]

    def _lapsed_with(self, *more: int) -> dict[int, list[Post]]:
        """Return what lapses with the periods that are closed, and with some more."""
        closes = sorted(
            slot
            for slot, entry in self.counts.items()
            if entry.kind == "period.closed" and (slot in self.posts or slot in more)
        )
        return lapses(self.posts, self.counts, closes, self._terms)


def read_all(raws: list[Body]) -> Naive:
    """Return what follows from some entries."""
    naive = Naive()
    for raw in raws:
        naive.read(raw)
    return naive
