"""What plain entries mean: terms, certificates, lots and their parts, read naively.

The ground of the second reading in `tests.naive`; like it, it imports nothing of the
product.
"""

from collections import defaultdict
from fractions import Fraction
from typing import Any, NamedTuple

Body = dict[str, Any]
Shares = dict[str, Fraction]
Key = tuple[str, str]
"""Book (stock, account, input or output) and what it is kept by."""


class Entry(NamedTuple):
    """What counts in one place: who wrote it, and what."""

    seq: int
    kind: str
    on: str
    body: Body


class Part(NamedTuple):
    """A part of a lot that is counted by itself."""

    commodity: str
    form: str
    share: Fraction
    origin: str | None
    organic: bool
    grade: str | None


class Post(NamedTuple):
    """Grams moved in one book on one day."""

    key: Key
    on: str
    grams: int
    cause: str


def grams(text: str) -> int:
    """Return kilograms as text in grams."""
    whole = Fraction(text) * 1000
    assert whole.denominator == 1
    return int(whole)


def only(found: set[Any]) -> Any:  # noqa: ANN401
    """Return the one thing in a set, or None where there are several."""
    return next(iter(found)) if len(found) == 1 else None


class Counting:
    """The entries that count, by their place in the order of entries."""

    def __init__(self) -> None:
        self.counts: dict[int, Entry] = {}
        self._lots: dict[str, tuple[int, Body]] = {}
        self._shares: dict[str, Shares] = {}

    def _look_again(self) -> None:
        """Forget what was worked out before the entries changed."""
        self._lots, self._shares = {}, {}
        for slot, entry in self.counts.items():
            if entry.kind == "shipment.received":
                self._lots |= {p["lot"]: (slot, p) for p in entry.body["lots"]}
            if entry.kind == "batch.made":
                self._lots |= {p["lot"]: (slot, p) for p in entry.body["outputs"]}

    def lots(self) -> list[str]:
        """Return the lots that are recorded."""
        return sorted(self._lots)

    def _form(self, lot: str) -> str:
        """Return the form of a lot, received or made."""
        slot, part = self._lots[lot]
        made = self.counts[slot].kind == "batch.made"
        return str(part["form"] if made else self._bought(lot)["form"])

    def _of(self, kind: str) -> list[tuple[int, Entry]]:
        return [(s, e) for s, e in sorted(self.counts.items()) if e.kind == kind]

    def _terms(self, scheme: str, on: str) -> Body | None:
        found = None
        for _, entry in self._of("terms.published"):
            body = entry.body
            if body["scheme"] == scheme and body["valid_from"] <= on:
                later = found is None or body["valid_from"] > found["valid_from"]
                found = body if later else found
        return found

    def _in_force(self, scheme: str, on: str) -> Body:
        terms = self._terms(scheme, on)
        assert terms is not None
        return terms

    def _stopped(self, certificate: str, on: str) -> bool:
        events = []
        for how in ("suspended", "withdrawn", "reinstated"):
            for slot, entry in self._of(f"certificate.{how}"):
                if entry.body["certificate"] == certificate:
                    events.append((entry.body["from_on"], slot, how))
        past = [event for event in sorted(events) if event[0] <= on]
        if any(how == "withdrawn" for _, _, how in past):
            return True
        return bool(past) and past[-1][2] == "suspended"

    def _certified(
        self,
        holder: str,
        scheme: str,
        on: str,
        commodity: str,
        custody: str,
        *,
        organic: bool,
    ) -> bool:
        for _, entry in self._of("certificate.recorded"):
            body = entry.body
            if (
                (body["holder"], body["scheme"]) == (holder, scheme)
                and body["valid_from"] <= on <= body["valid_until"]
                and commodity in body.get("commodities", ["cocoa"])
                and (custody in body["custody"] if "custody" in body else True)
                and (body.get("organic", False) or not organic)
                and not self._stopped(body["certificate"], on)
            ):
                return True
        return False

    def _contract(self, name: str) -> Entry:
        [found] = [
            e for _, e in self._of("contract.signed") if e.body["contract"] == name
        ]
        return found

    def _bought(self, lot: str) -> Body:
        """Return a received lot with what its contract says filled in."""
        slot, part = self._lots[lot]
        receipt = self.counts[slot]
        about: Body = {"claims": [], "supplier": receipt.body.get("supplier")}
        about |= {"organic": False, "origin": None, "grade": None}
        if "contract" in receipt.body:
            signed = self._contract(receipt.body["contract"])
            about |= {"commodity": "cocoa", "form": "bean", "contracted": signed.on}
            about |= {"supplier": signed.body["seller"]} | signed.body
        about |= {k: v for k, v in part.items() if v is not None}
        about["shipment"] = receipt.body["shipment"]
        about["site"] = receipt.body.get("site") or self._first_site()
        about["received"] = receipt.on
        return about

    def _first_site(self) -> str:
        return str(self.counts[0].body["sites"][0]["site"])

    def _counts(self, lot: str, claim: Body) -> bool:
        about = self._bought(lot)
        if about.get("decision", "accepted") == "rejected":
            return False
        on = about["received"]
        terms = self._in_force(claim["scheme"], on)
        if about["commodity"] not in terms.get("commodities", ["cocoa"]):
            return False
        governing = terms.get("certificate_governed_by", "shipment")
        if governing == "contract" and "contracted" in about:
            on = about["contracted"]
        if governing == "shipment":
            for _, entry in self._of("shipment.dispatched"):
                if entry.body["shipment"] == about["shipment"]:
                    on = entry.on
        return self._certified(
            about["supplier"],
            claim["scheme"],
            on,
            about["commodity"],
            claim["custody"],
            organic=about["organic"],
        )

    def _rejected_from(self, lot: str) -> str | None:
        """Return the day from which a lot that was taken is rejected after all."""
        for _, entry in self._of("lot.rejected"):
            if entry.body["lot"] == lot:
                return str(entry.body["from_on"])
        return None

    def shares(self, lot: str) -> Shares:
        """Return what part of a lot came from each received lot."""
        if lot not in self._shares:
            slot, _ = self._lots[lot]
            entry = self.counts[slot]
            made = entry.kind == "batch.made"
            self._shares[lot] = self._mixed(entry) if made else {lot: Fraction(1)}
        return self._shares[lot]

    def _mixed(self, batch: Entry) -> Shares:
        found: Shares = defaultdict(Fraction)
        total = sum(grams(part["mass_kg"]) for part in batch.body["inputs"])
        for part in batch.body["inputs"]:
            for source, share in self.shares(part["lot"]).items():
                found[source] += share * grams(part["mass_kg"]) / total
        return dict(found)

    def _parts(self, lot: str) -> list[Part]:
        slot, part = self._lots[lot]
        if self.counts[slot].kind == "shipment.received":
            about = self._bought(lot)
            return [
                Part(
                    about["commodity"],
                    about["form"],
                    Fraction(1),
                    about["origin"],
                    about["organic"],
                    about["grade"],
                )
            ]
        if part.get("recipe"):
            [recipe] = [
                entry.body
                for _, entry in self._of("recipe.published")
                if entry.body["recipe"] == part["recipe"]
            ]
            return [
                Part(
                    one["commodity"],
                    one["form"],
                    Fraction(one["share"]),
                    one.get("origin"),
                    one.get("organic", False),
                    one.get("grade"),
                )
                for one in recipe["ingredients"]
            ]
        sources = [self._bought(source) for source in self.shares(lot)]
        [commodity] = {source["commodity"] for source in sources}
        origin, grade = (
            only({source[name] for source in sources}) for name in ("origin", "grade")
        )
        organic = all(source["organic"] for source in sources)
        return [Part(commodity, part["form"], Fraction(1), origin, organic, grade)]
