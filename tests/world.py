"""A small factory in memory, valid from the first entry: each test changes one thing.

A maker with two sites buys cocoa from two cooperatives under two schemes, and sugar, and
sells to a shop. Everything is invented. Every entry is written as a body, read by its
model, written and read again, and judged on a copy of the shelf, so that a refusal leaves
the world as it was. The entries are kept as the dicts a file would hold, for a second
reading or for a store.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from typing import Any, Self

import pytest
from pydantic import BaseModel

from ledger.books.account import Account
from ledger.books.effect import Recorded, SubjectKind, Tally
from ledger.books.finding import EntryRefusedError, Finding
from ledger.books.judge import Judgement, judge
from ledger.books.memory import MemoryShelf
from ledger.books.opening import parse_body
from ledger.trade.control import Correction
from ledger.trade.record import Record, body_of
from tests.intake.reference import records_in

SCHEME = "fairfield"
"""The scheme that most tests use."""
OTHER_SCHEME = "longmeadow"
"""A second scheme, under which the same kilogram may also be certified."""
MAKER = "weirside"
RECORDED_AT = datetime(2031, 1, 1, 12, tzinfo=UTC)
FIRST = "2024-01-01"
"""Day of everything that a world starts with."""

Body = Mapping[str, Any]
Masses = Mapping[str, str]
"""Kilograms as text, by lot."""


@dataclass
class World:
    """A shelf, and the entries that filled it."""

    shelf: MemoryShelf = field(default_factory=MemoryShelf)
    raws: list[dict[str, Any]] = field(default_factory=list)
    judgements: list[Judgement] = field(default_factory=list)
    recorded_at: datetime = RECORDED_AT
    """When what comes next is recorded."""
    moments: list[datetime] = field(default_factory=list)
    """When each entry was recorded."""

    def record(self, kind: str, on: str = FIRST, /, **body: Any) -> int:  # noqa: ANN401
        """Record an entry; return its sequence number.

        A trailing underscore of a name is left out, so that words of Python can be used.
        """
        plain = {name.removesuffix("_"): value for name, value in body.items()}
        record = parse_body(kind, plain)
        written = body_of(record)
        assert parse_body(kind, written) == record
        assert body_of(parse_body(kind, written)) == written
        seq = len(self.raws)
        recorded = Recorded(
            seq, seq, date.fromisoformat(on), self.recorded_at, "clerk", record
        )
        copied = self.shelf.copy()
        try:
            judgement = judge(copied, recorded)
        except EntryRefusedError as error:
            assert_names_fields(record, error)
            raise
        self.shelf = copied
        self.judgements.append(judgement)
        self.moments.append(self.recorded_at)
        self.raws.append({"seq": seq, "kind": kind, "occurred_on": on, "body": written})
        return seq

    def replayed(self) -> MemoryShelf:
        """Return a new shelf filled from the entries alone."""
        shelf = MemoryShelf()
        for raw in self.raws:
            record = parse_body(raw["kind"], raw["body"])
            seq, on = raw["seq"], date.fromisoformat(raw["occurred_on"])
            judge(shelf, Recorded(seq, seq, on, self.moments[seq], "clerk", record))
        return shelf

    def rebuilt_alike(self) -> bool:
        """Tell whether the entries alone give the same effects in every place."""
        again = self.replayed()
        slots = range(len(self.raws))
        return all(again.effects(s) == self.shelf.effects(s) for s in slots)

    @property
    def warnings(self) -> tuple[Finding, ...]:
        """What the books said to the last entry."""
        return self.judgements[-1].warnings

    @property
    def rules(self) -> list[str]:
        """Rules of what the books said to the last entry."""
        return [finding.rule for finding in self.warnings]

    def stock(self, lot: str, on: str | None = None) -> int:
        """Return the grams of a lot when a day is over."""
        return self._closing(Tally.stock(lot), on)

    def account(
        self,
        on: str | None = None,
        *,
        scheme: str = SCHEME,
        commodity: str = "cocoa",
        site: str = "mill",
        production: str = "conventional",
        origin: str = "all",
        grade: str = "all",
        form: str = "all",
    ) -> int:
        """Return the grams of bean equivalent in an account when a day is over."""
        account = Account(scheme, commodity, site, production, origin, grade, form)
        return self._closing(account.tally, on)

    def _closing(self, tally: Tally, on: str | None) -> int:
        until = None if on is None else date.fromisoformat(on)
        return self.shelf.run(tally, until=until).closing_g

    def open(self) -> Self:
        """Open the ledger and register everybody."""
        sites = [
            {"site": site, "place": f"{site} lane", "country": "NL"}
            for site in ("mill", "annex")
        ]
        self.record(
            "ledger.opened",
            format_version=1,
            organisation=MAKER,
            organisation_name="Weirside Chocolate",
            sites=sites,
        )
        for party, role, country in (
            ("alder", "grower cooperative", "PE"),
            ("birch", "grower cooperative", "EC"),
            ("cane", "supplier", "BR"),
            ("shop", "customer", "NL"),
        ):
            self.record("party.registered", party=party, roles=[role], country=country)
        return self

    def terms(
        self, scheme: str = SCHEME, *, valid_from: str = "2023-01-01", **more: object
    ) -> int:
        """Publish terms: every form counts as ICCO's factors have it, unless told."""
        body = {
            "scheme": scheme,
            "version": f"from {valid_from}",
            "valid_from": valid_from,
            "source": "an invented standard",
            "custody": ["identity preserved", "segregated", "mass balance"],
            "conversions": conversions(),
            **more,
        }
        return self.record("terms.published", **body)

    def certify(self, holder: str, scheme: str = SCHEME, **more: object) -> int:
        """Record a certificate that covers everything for years, unless told."""
        body = {
            "certificate": f"{holder}/{scheme}",
            "holder": holder,
            "scheme": scheme,
            "number": "1",
            "issued_by": "certifier",
            "valid_from": "2023-01-01",
            "valid_until": "2030-12-31",
            "commodities": ["cocoa", "sugar"],
            "organic": True,
            **more,
        }
        return self.record("certificate.recorded", **body)

    def sign(
        self,
        contract: str,
        seller: str = "alder",
        *claims: dict[str, str],
        on: str = FIRST,
        **more: object,
    ) -> int:
        """Sign a contract for beans, with claims or without."""
        body = {
            "contract": contract,
            "seller": seller,
            "claims": list(claims),
            "origin": "PE" if seller == "alder" else "EC",
            "crop": "2024/25",
            "quantity_kg": "1000000",
            "price": {
                "basis": "fixed",
                "price": {"amount": "3000", "unit": "USD/t"},
            },
            "delivery_place": "a port",
            "weight_basis": "landed",
            **more,
        }
        return self.record("contract.signed", on, **body)

    def receive(
        self,
        lots: Masses | Iterable[Body],
        on: str = "2025-01-10",
        *,
        contract: str = "C",
        **more: object,
    ) -> int:
        """Receive lots of a contract, landed as shipped, in a shipment of their own."""
        parts = (
            [lot(*item) for item in lots.items()] if isinstance(lots, Mapping) else lots
        )
        body = {
            "shipment": f"S{len(self.raws)}",
            "contract": contract,
            "lots": list(parts),
            **more,
        }
        return self.record("shipment.received", on, **body)

    def make(
        self,
        inputs: Masses,
        outputs: Masses,
        on: str = "2025-01-20",
        *,
        losses: Masses | None = None,
        batch: str | None = None,
        **about: Any,  # noqa: ANN401
    ) -> int:
        """Make a batch; `about` says more of each output, losses are by reason."""
        return self.record(
            "batch.made",
            on,
            **batch_body(
                batch or f"B{len(self.raws)}", inputs, outputs, losses=losses, **about
            ),
        )

    def sell(
        self,
        sale: str,
        lines: Masses | Iterable[Body],
        on: str = "2025-02-01",
        *claims: dict[str, str],
        **more: object,
    ) -> int:
        """Sell lots to the shop, all lines with the same claims."""
        return self.record(
            "sale.dispatched", on, **sale_body(sale, lines, *claims, **more)
        )

    def take_back(
        self, return_: str, sale: str, lines: Masses | Iterable[Body], on: str
    ) -> int:
        """Take back a part of a sale."""
        parts = weighed(lines) if isinstance(lines, Mapping) else list(lines)
        return self.record(
            "sale.returned",
            on,
            return_=return_,
            sale=sale,
            document="credit note",
            reason="bloom",
            lines=parts,
        )

    def write_off(self, lot: str, mass_kg: str, on: str) -> int:
        """Write off a part of a lot."""
        return self.record(
            "lot.written_off", on, lot=lot, mass_kg=mass_kg, reason="spillage"
        )

    def stop(
        self, certificate: str, on: str, how: str = "suspended", **more: object
    ) -> int:
        """Suspend, withdraw or reinstate a certificate; from the same day unless told."""
        body = {"certificate": certificate, "from_on": on, "reason": "audit", **more}
        return self.record(f"certificate.{how}", on, **body)

    def close(self, start: str, end: str, on: str) -> int:
        """Sign off a period."""
        return self.record(
            "period.closed",
            on,
            period=f"until {end}".replace(" ", "-"),
            start=start,
            end=end,
            signed_off_by="officer",
        )

    def void(self, target: int, on: str = "2025-06-01", **more: object) -> int:
        """Make an entry void."""
        return self.record("correction", on, target=target, reason="mistyped", **more)

    def replace(
        self,
        target: int,
        on: str = "2025-06-01",
        *,
        was: int | None = None,
        day: str | None = None,
        accept_breach: bool = False,
        **changes: object,
    ) -> int:
        """Correct an entry: some members of its body, or its day.

        Args:
            target: The entry named as wrong.
            on: Day of the correction.
            was: The entry whose body is changed, where that is not the target.
            day: Day on which it happened; as recorded where left out.
            accept_breach: Whether an account may be left short.
            changes: Members that are different.
        """
        wrong = self.raws[target if was is None else was]
        replacement = {
            "entry_kind": wrong["kind"],
            "occurred_on": day or wrong["occurred_on"],
            "body": {**wrong["body"], **changes},
        }
        return self.void(
            target, on, replacement=replacement, accept_breach=accept_breach
        )


def reject(world: World, lot: str, on: str, from_on: str | None = None) -> int:
    """Reject a lot after it was taken; from the same day unless told."""
    body = {"lot": lot, "from_on": from_on or on, "hold": "H", "reason": "taint"}
    return world.record("lot.rejected", on, **body)


def opened() -> World:
    """Return a world with a maker, two cooperatives, a supplier and a shop."""
    return World().open()


def certified(
    *claims: dict[str, str],
    organic: bool = False,
    **terms: Any,  # noqa: ANN401
) -> World:
    """Return a world in which contract C with `alder` is certified under one scheme.

    Args:
        claims: Claims of the contract; mass balance where none is given.
        organic: Whether it is for organic beans.
        terms: What the terms say differently.
    """
    world = opened()
    world.terms(**terms)
    for holder in (MAKER, "alder", "birch"):
        world.certify(holder)
    world.sign("C", "alder", *(claims or (claim(),)), organic=organic)
    world.sign("PLAIN", "birch")
    return world


def claim(custody: str = "mass balance", scheme: str = SCHEME) -> dict[str, str]:
    """Return a claim."""
    blend = {"proportion": "1"} if custody == "controlled blending" else {}
    return {"scheme": scheme, "custody": custody, **blend}


def blended(proportion: str, scheme: str = SCHEME) -> dict[str, str]:
    """Return a claim for a controlled blend of which a known part is certified."""
    return {**claim("controlled blending", scheme), "proportion": proportion}


def conversions(**factors: str) -> list[dict[str, str]]:
    """Return factors to bean equivalent, valid for long."""
    published = {"bean": "1", "roasted bean": "1", "nib": "1.25", "liquor": "1.25"}
    published |= {"butter": "1.33", "cake": "1.18", "powder": "1.18"} | factors
    return [
        {
            "form": form,
            "factor": factor,
            "valid_from": "2023-01-01",
            "source": "a published table",
        }
        for form, factor in published.items()
    ]


def lot(
    name: str, shipped_kg: str, landed_kg: str | None = None, **more: object
) -> dict[str, object]:
    """Return a lot of a receipt, landed as shipped unless told."""
    landed_kg = landed_kg or shipped_kg
    return {
        "lot": name,
        "net_shipped_kg": shipped_kg,
        "net_landed_kg": landed_kg,
        **more,
    }


def weighed(masses: Masses) -> list[dict[str, str]]:
    """Return lots with their masses."""
    return [{"lot": name, "mass_kg": mass} for name, mass in masses.items()]


def batch_body(
    batch: str,
    inputs: Masses,
    outputs: Masses,
    *,
    step: str = "tank",
    losses: Masses | None = None,
    **about: object,
) -> dict[str, object]:
    """Return the body of a batch of liquor, unless told."""
    return {
        "batch": batch,
        "step": step,
        "inputs": weighed(inputs),
        "outputs": [{"form": "liquor", **part, **about} for part in weighed(outputs)],
        "losses": [
            {"reason": reason, "mass_kg": mass}
            for reason, mass in (losses or {}).items()
        ],
    }


def sale_body(
    sale: str, lines: Masses | Iterable[Body], *claims: dict[str, str], **more: object
) -> dict[str, object]:
    """Return the body of a sale to the shop."""
    parts: list[Body] = list(weighed(lines) if isinstance(lines, Mapping) else lines)
    return {
        "sale": sale,
        "document": f"invoice {sale}",
        "customer": "shop",
        "lines": [{"claims": list(claims), **part} for part in parts],
        **more,
    }


def assert_names_fields(record: Record, error: EntryRefusedError) -> None:
    """Check that a refusal says which field of the entry it is about, by its own name.

    A field may be missing from the body, but it is one that the kind has; where a name is
    taken, the field is the sort of thing that it names. What stands too low is the mass of
    a lot or the claims of an account. What a correction brings to light may lie in another
    entry.
    """
    if isinstance(record, Correction):
        return
    total = {"mass_kg", "claims"}
    known = {"", "occurred_on", *total, *SubjectKind, *fields_of(type(record))}
    for finding in error.findings:
        words = [word for word in finding.field.split(".") if not word.isdigit()]
        assert set(words) <= known, finding


def fields_of(model: type[BaseModel]) -> set[str]:
    """Return the names of all fields of a record, and of the records in it."""
    found: set[str] = set()
    for name, about in model.model_fields.items():
        found.add(about.alias or name)
        for inner in records_in(about.annotation):
            found |= fields_of(inner)
    return found


def refused(rule: str) -> pytest.RaisesExc[EntryRefusedError]:
    """Expect that the books refuse an entry by one rule."""
    return pytest.raises(
        EntryRefusedError,
        check=lambda error: [finding.rule for finding in error.findings] == [rule],
    )
