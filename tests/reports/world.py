"""A few months of an invented maker in memory: what a report is tested on.

Texts that anybody may type hold what would hurt a page, a spreadsheet or a drawing.
"""

from datetime import UTC, date, datetime
from functools import cache

from ledger.books.effect import Recorded
from ledger.books.judge import judge
from ledger.books.memory import MemoryShelf
from ledger.books.opening import parse_body
from ledger.chain.canonical import JsonValue
from ledger.desk.report import contents_of
from ledger.reports.audit_contents import AuditContents

HOSTILE_MAKER = "<script>alert(1)</script> & \"Söhne\" 'SA'"
HOSTILE_REASON = '=cmd|"/C calc"!A0 <img src="file:///etc/passwd">'
HOSTILE_SOURCE = "</style><b>Accord</b>, table 1"
AS_OF = date(2026, 6, 30)
MADE_AT = datetime(2026, 7, 1, 9, 30, tzinfo=UTC)
TREE_HEAD = bytes(range(32))
CLAIM: dict[str, JsonValue] = {"scheme": "meadow", "custody": "mass balance"}


class World:
    """A shelf that judges what it is given."""

    def __init__(self) -> None:
        self.shelf = MemoryShelf()
        self.seq = 0

    def record(self, kind: str, on: str, body: dict[str, JsonValue]) -> int:
        """Let the books judge an entry; return its number."""
        recorded = Recorded(
            seq=self.seq,
            slot=self.seq,
            occurred_on=date.fromisoformat(on),
            recorded_at=MADE_AT,
            recorded_by="clerk",
            record=parse_body(kind, body),
        )
        judge(self.shelf, recorded)
        self.seq += 1
        return recorded.seq

    def contents(self) -> AuditContents:
        """Return what an audit report of this world shows."""
        return contents_of(
            self.shelf,
            size=self.seq,
            tree_head=TREE_HEAD,
            as_of=AS_OF,
            made_at=MADE_AT,
            made_by="<i>officer</i>",
        )


def opened() -> World:
    """A ledger with parties, certificates, terms and limits, and nothing bought yet."""
    world = World()
    world.record(
        "ledger.opened",
        "2026-01-01",
        {
            "format_version": 1,
            "organisation": "maker",
            "organisation_name": HOSTILE_MAKER,
            "sites": [{"site": "works", "place": "Harbour <1>", "country": "NL"}],
        },
    )
    for party, role in (("coop", "grower cooperative"), ("shop", "customer")):
        body: dict[str, JsonValue] = {"party": party, "roles": [role], "country": "PE"}
        world.record("party.registered", "2026-01-01", body)
    world.record("terms.published", "2026-01-01", _terms())
    for holder in ("maker", "coop"):
        world.record("certificate.recorded", "2026-01-01", _certificate(holder))
    world.record(
        "limits.published",
        "2026-01-01",
        {
            "version": "usual",
            "valid_from": "2026-01-01",
            "limits": [
                {
                    "step": "roast",
                    "measure": "yield percent",
                    "lowest": "95",
                    "source": "<u>common practice</u>, no source",
                }
            ],
        },
    )
    return world


def _terms() -> dict[str, JsonValue]:
    price: dict[str, JsonValue] = {"amount": "4000", "unit": "USD/t"}
    premium: dict[str, JsonValue] = {"amount": "240", "unit": "USD/t"}
    return {
        "scheme": "meadow",
        "version": "1",
        "valid_from": "2020-01-01",
        "source": HOSTILE_SOURCE,
        "custody": ["mass balance"],
        "conversions": [
            {"form": form, "factor": factor, "valid_from": "2020-01-01", "source": "t"}
            for form, factor in (("bean", "1"), ("roasted bean", "1.05"))
        ],
        "minimum_prices": [
            {"valid_from": "2020-01-01", "price": price, "source": "table 1"}
        ],
        "premiums": [
            {"valid_from": "2020-01-01", "price": premium, "source": "table 2"}
        ],
    }


def _certificate(holder: str) -> dict[str, JsonValue]:
    return {
        "certificate": f"C-{holder}",
        "holder": holder,
        "scheme": "meadow",
        "number": "1",
        "issued_by": "a certifier",
        "valid_from": "2025-01-01",
        "valid_until": "2026-12-31",
    }


def buy(world: World, number: int, on: str, grams_kg: str) -> None:
    """Sign a contract, ship and receive under it."""
    contract = f"K-{number}"
    world.record(
        "contract.signed",
        on,
        {
            "contract": contract,
            "seller": "coop",
            "claims": [CLAIM],
            "origin": "PE",
            "crop": "2025/26",
            "quantity_kg": grams_kg,
            "price": {"basis": "fixed", "price": {"amount": "4100", "unit": "USD/t"}},
            "delivery_place": "Callao",
            "weight_basis": "landed",
        },
    )
    world.record(
        "shipment.dispatched",
        on,
        {
            "shipment": f"SH-{number}",
            "contract": contract,
            "carriage": {"bill_of_lading": f"BL {number}"},
            "net_shipped_kg": grams_kg,
        },
    )
    lot: dict[str, JsonValue] = {
        "lot": f"BN-{number}",
        "net_shipped_kg": grams_kg,
        "net_landed_kg": grams_kg,
    }
    world.record(
        "shipment.received",
        on,
        {"shipment": f"SH-{number}", "contract": contract, "lots": [lot]},
    )


def sell(world: World, sale: str, on: str, lot: str, mass_kg: str) -> int:
    """Sell a part of a lot under the claim."""
    return world.record(
        "sale.dispatched",
        on,
        {
            "sale": sale,
            "document": f"invoice {sale}",
            "customer": "shop",
            "lines": [{"lot": lot, "mass_kg": mass_kg, "claims": [CLAIM]}],
        },
    )


def traded() -> World:
    """Two purchases, two roasts, forty sales, a return, a payment, two corrections."""
    world = opened()
    buy(world, 1, "2026-01-10", "5000")
    buy(world, 2, "2026-03-02", "3000.500")
    for number, on, taken, given in (
        (1, "2026-01-20", "4000", "3840"),
        (2, "2026-03-20", "3000", "2700"),
    ):
        lost = str(int(taken) - int(given))
        world.record(
            "batch.made",
            on,
            {
                "batch": f"R-{number}",
                "step": "roast",
                "inputs": [{"lot": f"BN-{number}", "mass_kg": taken}],
                "outputs": [
                    {"lot": f"RB-{number}", "form": "roasted bean", "mass_kg": given}
                ],
                "losses": [{"reason": "moisture", "mass_kg": lost}],
            },
        )
    for number in range(40):
        lot, month = ("RB-1", 2) if number < 20 else ("RB-2", 4)
        day = 1 + number % 20
        sell(
            world, f"V-{number}", f"2026-{month:02}-{day:02}", lot, f"{100 + number}.25"
        )
    world.record(
        "sale.returned",
        "2026-04-25",
        {
            "return": "RT-1",
            "sale": "V-39",
            "document": "credit note",
            "reason": HOSTILE_REASON,
            "lines": [{"lot": "RB-2", "mass_kg": "10"}],
        },
    )
    world.record(
        "payment.made",
        "2026-03-01",
        {
            "payment": "P-1",
            "contract": "K-1",
            "payee": "coop",
            "towards": "price",
            "money": {"amount": "15000", "currency": "USD"},
            "document": "transfer 1",
        },
    )
    wrong = sell(world, "V-50", "2026-05-02", "RB-2", "5")
    reason: dict[str, JsonValue] = {"target": wrong, "reason": HOSTILE_REASON}
    world.record("correction", "2026-05-03", reason)
    return world


def breached() -> World:
    """The same, and the cooperative's certificate turns out to be suspended."""
    world = traded()
    world.record(
        "certificate.suspended",
        "2026-06-01",
        {"certificate": "C-coop", "from_on": "2026-03-01", "reason": HOSTILE_REASON},
    )
    return world


@cache
def contents() -> AuditContents:
    """What the report of the traded world shows."""
    return traded().contents()


@cache
def breached_contents() -> AuditContents:
    """What the report of the breached world shows."""
    return breached().contents()
