"""What lapses after a correction of closed months: the program and the page agree."""

from pathlib import Path
from typing import Final

import pytest

from ledger.audit.check import check_pack
from tests.audit.browser import looked_at_each
from tests.desk.signed_ledger import SignedLedger
from tests.desk.small_ledger import BOUGHT, CERTIFICATES, COOPERATIVE, TERMS, Step

MONTHLY: Final[Step] = (
    *TERMS[:2],
    {**TERMS[2], "reconciliation_months": 1, "carry_over_periods": 2},
)
SIGNED, *_ = BOUGHT


def received(shipment: str, on: str, kg: str) -> Step:
    lot = {"lot": f"L-{shipment}", "net_shipped_kg": kg, "net_landed_kg": kg}
    return (
        "shipment.received",
        on,
        {"shipment": shipment, "contract": "C-1", "lots": [lot]},
    )


def closed(start: str, end: str, on: str) -> Step:
    body = {"period": end, "start": start, "end": end, "signed_off_by": "officer"}
    return "period.closed", on, body


def corrected(target: int, on: str, step: Step) -> Step:
    kind, day, body = step
    replacement = {"entry_kind": kind, "occurred_on": day, "body": body}
    return (
        "correction",
        on,
        {"target": target, "reason": "misread", "replacement": replacement},
    )


@pytest.fixture(scope="module")
def pack(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """At the end of May what March received lapses, and April's receipt was less."""
    ledger = SignedLedger(tmp_path_factory.mktemp("lapses"))
    steps = [
        COOPERATIVE,
        MONTHLY,
        *CERTIFICATES,
        SIGNED,
        received("SH-1", "2026-03-10", "500.000"),
        received("SH-2", "2026-04-10", "300.000"),
        closed("2026-01-01", "2026-04-30", "2026-05-02"),
    ]
    april = steps.index(received("SH-2", "2026-04-10", "300.000")) + 1
    ledger.open(
        [
            *steps,
            corrected(april, "2026-05-10", received("SH-2", "2026-04-10", "100.000")),
            closed("2026-05-01", "2026-05-31", "2026-06-02"),
        ]
    )
    return ledger.pack()


def test_what_was_corrected_is_as_old_as_its_receipt(
    pack: Path, tmp_path: Path
) -> None:
    balances = (pack / "data/figures/balances.csv").read_text("utf-8")
    [page] = looked_at_each(tmp_path, pack)

    assert ",-500.000,-200.000,100.000," in balances
    assert check_pack(pack).holds
    assert (page["leftOut"], page["failing"]) == ([], [])
