"""A small world of buying: one maker, one cooperative, one contract, and what came of it.

Every test starts from a valid world and changes what it is about. Figures are given as
text, dates as ISO text. Parties, schemes and markets are invented.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from typing import Any

from ledger.books.due_line import DueLine
from ledger.books.dues import ContractDues, dues_of
from ledger.books.effect import Recorded
from ledger.books.judge import judge
from ledger.books.memory import MemoryShelf
from ledger.trade.kinds import model_of
from ledger.trade.record import body_of
from ledger.trade.words import Duty

SCHEME = "fair-harvest"
"""An invented scheme."""
SELLER = "coop-alto"
CONTRACT = "C-1"
Body = Mapping[str, Any]
RECORDED_AT = datetime(2031, 1, 1, tzinfo=UTC)


def usd(amount: str, unit: str = "USD/t") -> dict[str, str]:
    """Return a price per unit of mass."""
    return {"amount": amount, "unit": unit}


def minimum(
    amount: str, valid_from: str = "2000-01-01", *, unit: str = "USD/t", **more: object
) -> dict[str, object]:
    """Return a row of a minimum price table."""
    row = {"valid_from": valid_from, "price": usd(amount, unit), "source": "table 1"}
    return {**row, **more}


def row(
    amount: str, valid_from: str = "2000-01-01", *, unit: str = "USD/t", **more: object
) -> dict[str, object]:
    """Return a row of premiums or organic differentials."""
    return minimum(amount, valid_from, unit=unit, **more)


def terms(
    scheme: str = SCHEME, version: str = "1", **more: object
) -> dict[str, object]:
    """Return terms of a scheme with neither minimum nor market nor premium."""
    body: dict[str, object] = {
        "scheme": scheme,
        "version": version,
        "valid_from": "2000-01-01",
        "source": "a published price table",
        "custody": ["segregated", "mass balance"],
        "conversions": [
            {
                "form": "bean",
                "factor": "1.00",
                "valid_from": "2000-01-01",
                "source": "a bean is a bean",
            }
        ],
        "market_governed_by": "contract",
    }
    return {**body, **more}


def lot(
    name: str, shipped_kg: str, landed_kg: str | None = None, **more: object
) -> dict[str, object]:
    """Return a lot of a receipt; landed as shipped unless said otherwise."""
    return {
        "lot": name,
        "net_shipped_kg": shipped_kg,
        "net_landed_kg": landed_kg or shipped_kg,
        **more,
    }


def fixed(amount: str, unit: str = "USD/t") -> dict[str, object]:
    """Return a price agreed outright."""
    return {"basis": "fixed", "price": usd(amount, unit)}


def claims_under(*schemes: str) -> list[dict[str, str]]:
    """Return claims of mass balance under some schemes."""
    return [{"scheme": scheme, "custody": "mass balance"} for scheme in schemes]


def to_be_fixed(
    differential: str, unit: str = "USD/t", market: str = "NY", **more: object
) -> dict[str, object]:
    """Return a price to be fixed."""
    return {
        "basis": "to be fixed",
        "market": market,
        "month": "2025-12",
        "differential": usd(differential, unit),
        "call": "seller",
        **more,
    }


@dataclass
class BuyingWorld:
    """A shelf that is filled by recording entries, each judged by the books."""

    shelf: MemoryShelf = field(default_factory=MemoryShelf)
    entries: int = 0
    bodies: list[tuple[str, str, dict[str, Any]]] = field(default_factory=list)
    """Kind, day and body of each entry, for a reading of its own."""

    def record(self, kind: str, on: str, body: Body) -> Recorded:
        """Record one entry of a kind on a day; the books may refuse it."""
        recorded = Recorded(
            seq=self.entries,
            slot=self.entries,
            occurred_on=date.fromisoformat(on),
            recorded_at=RECORDED_AT,
            recorded_by="buyer",
            record=model_of(kind).model_validate(body),
        )
        judge(self.shelf, recorded)
        self.entries += 1
        self.bodies.append((kind, on, body_of(recorded.record)))
        return recorded

    def terms(self, **more: object) -> None:
        """Publish terms."""
        body = terms(**more)  # type: ignore[arg-type]
        self.record("terms.published", "2000-01-01", body)

    def certificate(
        self,
        scheme: str = SCHEME,
        holder: str = SELLER,
        valid_until: str = "2030-12-31",
        *,
        organic: bool = True,
        commodities: Sequence[str] = ("cocoa",),
    ) -> None:
        """Record a certificate; it covers organic too unless told otherwise."""
        body = {
            "certificate": f"{holder}/{scheme}",
            "holder": holder,
            "scheme": scheme,
            "number": "17",
            "issued_by": "certifier",
            "valid_from": "2000-01-01",
            "valid_until": valid_until,
            "custody": ["segregated", "mass balance"],
            "organic": organic,
            "commodities": list(commodities),
        }
        self.record("certificate.recorded", "2000-01-01", body)

    def party(self, name: str, role: str = "grower cooperative") -> None:
        """Register a party."""
        body = {"party": name, "roles": [role], "country": "PE"}
        self.record("party.registered", "2000-01-01", body)

    def quotes(
        self,
        market: str,
        levels: Mapping[str, str],
        unit: str = "USD/t",
        month: str | None = None,
    ) -> None:
        """Record quotes of a market, or of one of its futures months, by day."""
        body = {
            "market": market,
            "month": month,
            "unit": unit,
            "source": "exchange page",
            "quotes": [{"on": on, "level": level} for on, level in levels.items()],
        }
        self.record("quote.recorded", "2000-01-01", body)

    def rates(
        self,
        base: str,
        to: str,
        rates: Mapping[str, str],
        forward_months: int | None = None,
    ) -> None:
        """Record exchange rates by day."""
        body = {
            "base": base,
            "to": to,
            "forward_months": forward_months,
            "source": "central bank",
            "rates": [{"on": on, "rate": rate} for on, rate in rates.items()],
        }
        self.record("rate.recorded", "2000-01-01", body)

    def contract(
        self, price: Body | None, *, on: str = "2025-01-10", **more: object
    ) -> None:
        """Sign the contract, under one scheme unless told otherwise."""
        body: dict[str, object] = {
            "contract": CONTRACT,
            "seller": SELLER,
            "claims": [{"scheme": SCHEME, "custody": "mass balance"}],
            "origin": "PE",
            "crop": "2024/25",
            "quantity_kg": "100000",
            "price": price,
            "delivery_place": "Callao",
            "weight_basis": "shipped",
            **more,
        }
        self.record("contract.signed", on, body)

    def ship(self, shipment: str, on: str, *, contract: str = CONTRACT) -> None:
        """Record that a shipment left."""
        body = {
            "shipment": shipment,
            "contract": contract,
            "carriage": {"bill_of_lading": f"BL-{shipment}"},
            "net_shipped_kg": "1000",
        }
        self.record("shipment.dispatched", on, body)

    def receive(
        self,
        shipment: str,
        on: str,
        lots: Sequence[Body],
        *,
        contract: str = CONTRACT,
    ) -> None:
        """Record that a shipment arrived."""
        body = {"shipment": shipment, "contract": contract, "lots": list(lots)}
        self.record("shipment.received", on, body)

    def fix(
        self, fixation: str, on: str, kg: str, level: str | None, unit: str = "USD/t"
    ) -> None:
        """Fix the price of a part of the contract."""
        body = {
            "fixation": fixation,
            "contract": CONTRACT,
            "quantity_kg": kg,
            "level": None if level is None else usd(level, unit),
        }
        self.record("price.fixed", on, body)

    def pay(
        self,
        payment: str,
        on: str,
        amount: str | None,
        towards: str = "price",
        *,
        currency: str = "USD",
        payee: str = SELLER,
        **more: object,
    ) -> None:
        """Pay; no amount where it is sealed from the reader."""
        body = {
            "payment": payment,
            "contract": CONTRACT,
            "payee": payee,
            "towards": towards,
            "money": amount and {"amount": amount, "currency": currency},
            "document": f"bank {payment}",
            **more,
        }
        self.record("payment.made", on, body)

    def dues(self, as_of: str = "2030-01-01") -> ContractDues:
        """Return what is owed under the contract."""
        return dues_of(self.shelf, CONTRACT, date.fromisoformat(as_of))

    def line(self, duty: Duty = Duty.PRICE, as_of: str = "2030-01-01") -> DueLine:
        """Return the only due line of a duty."""
        [found] = self.lines(duty, as_of)
        return found

    def lines(self, duty: Duty, as_of: str = "2030-01-01") -> list[DueLine]:
        """Return the due lines of a duty."""
        return [line for line in self.dues(as_of).lines if line.duty is duty]

    def amounts(self, as_of: str = "2030-01-01") -> dict[Duty, int | None]:
        """Return the only amount of each duty, in minor units."""
        lines = self.dues(as_of).lines
        amounts = {line.duty: line.amount_minor for line in lines}
        assert len(amounts) == len(lines), "several lines of one duty"
        return amounts


def opened() -> BuyingWorld:
    """Return a world with a maker and a cooperative, and nothing else."""
    world = BuyingWorld()
    world.record(
        "ledger.opened",
        "2000-01-01",
        {
            "format_version": 1,
            "organisation": "maker",
            "organisation_name": "A maker",
            "sites": [{"site": "works", "place": "Here", "country": "NL"}],
        },
    )
    world.party(SELLER)
    return world


def certified(**more: object) -> BuyingWorld:
    """Return a world with terms as given and a cooperative certified under them."""
    world = opened()
    world.terms(**more)
    world.certificate()
    return world


def bought(
    price: Body,
    *,
    on: str = "2025-01-10",
    kg: str = "1000",
    organic: bool = False,
    quotes: Mapping[str, str] | None = None,
    **more: object,
) -> BuyingWorld:
    """Return a world in which one lot was bought and received under terms as given."""
    world = certified(**more)
    if quotes:
        world.quotes("NY", quotes)
    world.contract(price, on=on, organic=organic)
    world.receive("S-1", on, [lot("L-1", kg)])
    return world
