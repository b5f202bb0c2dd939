"""A factory floor in memory: receive, make, move, sell and correct, and ask the books.

Masses are whole grams, dates days counted from the first. Every entry is judged as a
recorded one is, so a world holds nothing that the books would refuse.
"""

from collections.abc import Iterable, Mapping
from datetime import UTC, date, datetime, timedelta
from functools import cache

from ledger.books.effect import Recorded, Subject, SubjectKind, Tally
from ledger.books.judge import judge
from ledger.books.memory import MemoryShelf
from ledger.books.opening import parse_body
from ledger.chain.canonical import JsonValue
from ledger.trade.grams import show_kg

FIRST_DAY = date(2024, 1, 1)
RECORDED_AT = datetime(2040, 1, 1, tzinfo=UTC)

Masses = Mapping[str, int]


def day(number: int) -> date:
    """Return a day, counted from the first."""
    return FIRST_DAY + timedelta(days=number)


def lot(name: str) -> Subject:
    """Return a lot as the subject of a question."""
    return Subject(SubjectKind.LOT, name)


class MakingWorld:
    """A shelf with a maker, two cooperatives under contract, and three customers."""

    def __init__(self) -> None:
        self.shelf = MemoryShelf()
        self.seq = 0
        self.batches = 0
        self.record(
            "ledger.opened",
            {
                "format_version": 1,
                "organisation": "maker",
                "organisation_name": "A maker",
                "sites": [
                    {"site": "works", "place": "Harbour 1", "country": "NL"},
                    {"site": "shop", "place": "Market 2", "country": "NL"},
                ],
            },
        )
        for party in ("north", "south"):
            self.register(party, "grower cooperative")
        for party in ("ann", "ben", "cy"):
            self.register(party, "customer")
        for seller in ("north", "south"):
            self._sign(f"C-{seller}", seller)
        self.record(
            "recipe.published",
            {
                "recipe": "dark",
                "product": "Dark bar",
                "valid_from": "2024-01-01",
                "ingredients": [{"commodity": "cocoa", "form": "liquor", "share": "1"}],
            },
        )

    def record(self, kind: str, body: dict[str, JsonValue], on: int = 0) -> int:
        """Let the books judge an entry; return its sequence number."""
        recorded = Recorded(
            seq=self.seq,
            slot=self.seq,
            occurred_on=day(on),
            recorded_at=RECORDED_AT,
            recorded_by="clerk",
            record=parse_body(kind, body),
        )
        judge(self.shelf, recorded)
        self.seq += 1
        return recorded.seq

    def register(self, party: str, role: str) -> None:
        """Register a party in one role."""
        body: dict[str, JsonValue] = {"party": party, "roles": [role], "country": "PE"}
        self.record("party.registered", body)

    def receive(
        self,
        lots: Masses,
        *,
        seller: str = "north",
        on: int = 0,
        rejected: bool = False,
    ) -> int:
        """Receive lots under the contract of a cooperative, in a shipment of their own."""
        shipment = f"SH-{self.seq}"
        self.dispatch(shipment, sum(lots.values()), seller=seller, on=on)
        decision: dict[str, JsonValue] = (
            {"decision": "rejected", "rejected_because": "mould"} if rejected else {}
        )
        return self.record(
            "shipment.received",
            {
                "shipment": shipment,
                "contract": f"C-{seller}",
                "lots": [
                    {
                        "lot": name,
                        "net_shipped_kg": show_kg(grams),
                        "net_landed_kg": show_kg(grams),
                        "place": "bean-store",
                        **decision,
                    }
                    for name, grams in lots.items()
                ],
            },
            on,
        )

    def dispatch(
        self, shipment: str, grams: int, *, seller: str = "north", on: int = 0
    ) -> int:
        """Hear that a shipment left a cooperative."""
        return self.record(
            "shipment.dispatched",
            {
                "shipment": shipment,
                "contract": f"C-{seller}",
                "carriage": {"bill_of_lading": f"BL {shipment}"},
                "net_shipped_kg": show_kg(grams),
            },
            on,
        )

    def buy_freely(self, lots: Masses, *, supplier: str, on: int = 0) -> int:
        """Receive ingredients that come without a contract."""
        return self.record(
            "shipment.received",
            {
                "shipment": f"SH-{self.seq}",
                "supplier": supplier,
                "lots": [
                    {
                        "lot": name,
                        "commodity": "sugar",
                        "form": "ingredient",
                        "net_shipped_kg": show_kg(grams),
                        "net_landed_kg": show_kg(grams),
                    }
                    for name, grams in lots.items()
                ],
            },
            on,
        )

    def make(
        self,
        inputs: Masses,
        outputs: Masses,
        *,
        on: int = 1,
        step: str = "tank",
        losses: Masses | None = None,
        about: Mapping[str, str | int] | None = None,
    ) -> int:
        """Make a batch; what is missing from outputs and losses is lost as waste.

        Args:
            inputs: Grams taken, by lot.
            outputs: Grams given, by lot.
            on: Day.
            step: Step of making.
            losses: Grams lost, by reason.
            about: What the outputs say beside lot and mass.
        """
        self.batches += 1
        body = batch_body(
            f"B-{self.batches}", inputs, outputs, step=step, losses=losses, about=about
        )
        return self.record("batch.made", body, on)

    def replace_batch(
        self, number: int, inputs: Masses, outputs: Masses, *, was: int, on: int = 4
    ) -> int:
        """Correct a batch of day 3, by its number and the entry that recorded it."""
        return self.record(
            "correction",
            {
                "target": was,
                "reason": "weighed again",
                "replacement": {
                    "entry_kind": "batch.made",
                    "occurred_on": str(day(3)),
                    "body": batch_body(f"B-{number}", inputs, outputs),
                },
            },
            on,
        )

    def close_period(self, first: int, last: int, *, on: int) -> int:
        """Sign off the books up to a day."""
        return self.record(
            "period.closed",
            {
                "period": f"P{last}",
                "start": str(day(first)),
                "end": str(day(last)),
                "signed_off_by": "officer",
            },
            on,
        )

    def sell(
        self,
        sale: str,
        lines: Masses,
        *,
        customer: str = "ann",
        on: int = 2,
        pieces: int | None = None,
    ) -> int:
        """Sell masses of lots without a claim."""
        counted: dict[str, JsonValue] = {} if pieces is None else {"pieces": pieces}
        return self.record(
            "sale.dispatched",
            {
                "sale": sale,
                "document": f"invoice {sale}",
                "customer": customer,
                "lines": [
                    {**_part(name, grams), **counted} for name, grams in lines.items()
                ],
            },
            on,
        )

    def take_back(
        self, sale: str, lines: Masses, *, on: int = 3, pieces: int | None = None
    ) -> int:
        """Take back a part of a sale."""
        counted: dict[str, JsonValue] = {} if pieces is None else {"pieces": pieces}
        return self.record(
            "sale.returned",
            {
                "return": f"RT-{self.seq}",
                "sale": sale,
                "document": "credit note",
                "reason": "bloom",
                "lines": [
                    {**_part(name, grams), **counted} for name, grams in lines.items()
                ],
            },
            on,
        )

    def write_off(self, name: str, grams: int, *, on: int = 3) -> int:
        """Write a part of a lot off as spilt."""
        return self.record(
            "lot.written_off", {**_part(name, grams), "reason": "spillage"}, on
        )

    def move(
        self, name: str, place: str, *, site: str | None = None, on: int = 3
    ) -> int:
        """Put a lot somewhere else."""
        return self.record(
            "lot.moved", {"lot": name, "to_place": place, "to_site": site}, on
        )

    def hold(self, name: str, lots: Iterable[str], *, on: int = 3) -> int:
        """Place a hold on lots."""
        return self.record(
            "hold.placed", {"hold": name, "lots": list(lots), "reason": "query"}, on
        )

    def void(self, target: int, *, on: int = 4) -> int:
        """Make an entry void."""
        return self.record("correction", {"target": target, "reason": "typing"}, on)

    def on_hand(self, name: str, on: int = 9999) -> int:
        """Return the grams of a lot on hand, as the stock book runs."""
        return self.shelf.run(Tally.stock(name), until=day(on)).closing_g

    def _sign(self, contract: str, seller: str) -> None:
        self.record(
            "contract.signed",
            {
                "contract": contract,
                "seller": seller,
                "origin": "PE",
                "crop": "2023/24",
                "quantity_kg": "1000000",
                "price": {
                    "basis": "fixed",
                    "price": {"amount": "3000", "unit": "USD/t"},
                },
                "delivery_place": "Callao",
                "weight_basis": "landed",
            },
        )


@cache
def deep_tank() -> MakingWorld:
    """A tank T0 to T3000 that is never cleaned: only ask it, never record in it.

    It starts with lot A; every fill takes from lot B and carries the heel over.
    """
    world = MakingWorld()
    world.receive({"A": 1_000, "B": 10_000_000})
    world.make({"A": 1_000}, {"T0": 1_000})
    for fill in range(1, 3_001):
        inputs = {f"T{fill - 1}": 1_000, "B": 1_000 + fill % 7}
        world.make(inputs, {f"T{fill}": sum(inputs.values())}, on=fill)
    return world


def batch_body(
    batch: str,
    inputs: Masses,
    outputs: Masses,
    *,
    step: str = "tank",
    losses: Masses | None = None,
    about: Mapping[str, str | int] | None = None,
) -> dict[str, JsonValue]:
    """Return the body of a batch; what is missing on the right is lost as waste."""
    lost = dict(losses or {})
    missing = sum(inputs.values()) - sum(outputs.values()) - sum(lost.values())
    if missing:
        lost["waste"] = missing
    return {
        "batch": batch,
        "step": step,
        "inputs": [_part(name, grams) for name, grams in inputs.items()],
        "outputs": [
            {"form": "liquor", **_part(name, grams), **(about or {})}
            for name, grams in outputs.items()
        ],
        "losses": [
            {"reason": reason, "mass_kg": show_kg(grams)}
            for reason, grams in lost.items()
        ],
    }


def _part(name: str, grams: int) -> dict[str, JsonValue]:
    return {"lot": name, "mass_kg": show_kg(grams)}
