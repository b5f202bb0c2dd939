"""What lapses after a correction of closed months: the program and the page agree."""

from pathlib import Path

import pytest

from ledger.audit.check import check_pack
from tests.audit.browser import looked_at_each
from tests.desk.signed_ledger import SignedLedger
from tests.desk.small_ledger import (
    BOUGHT,
    CERTIFICATES,
    COOPERATIVE,
    CUSTOMERS,
    TERMS,
    Step,
)


def terms(months: int, carry: int) -> Step:
    kind, on, body = TERMS
    periods = {"reconciliation_months": months, "carry_over_periods": carry}
    return kind, on, {**body, **periods}


SIGNED, *_ = BOUGHT


def received(shipment: str, on: str, kg: str) -> Step:
    lot = {"lot": f"L-{shipment}", "net_shipped_kg": kg, "net_landed_kg": kg}
    return (
        "shipment.received",
        on,
        {"shipment": shipment, "contract": "C-1", "lots": [lot]},
    )


def sold(sale: str, on: str, lot: str, kg: str) -> Step:
    claims = [{"scheme": "river", "custody": "mass balance"}]
    line = {"lot": lot, "mass_kg": kg, "claims": claims}
    body = {"sale": sale, "document": sale, "customer": "shop-0", "lines": [line]}
    return "sale.dispatched", on, body


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
        terms(1, 2),
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


@pytest.fixture(scope="module")
def rejected(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Of a lot that is rejected in May 10 kg were claimed, and 90 had lapsed."""
    ledger = SignedLedger(tmp_path_factory.mktemp("rejected"))
    ledger.open(
        [
            COOPERATIVE,
            CUSTOMERS[0],
            terms(3, 0),
            *CERTIFICATES,
            SIGNED,
            received("SH-1", "2026-01-10", "100.000"),
            sold("S-1", "2026-02-01", "L-SH-1", "10.000"),
            closed("2026-01-01", "2026-03-31", "2026-04-02"),
            received("SH-2", "2026-04-10", "100.000"),
            sold("S-2", "2026-04-20", "L-SH-2", "50.000"),
            (
                "lot.rejected",
                "2026-05-01",
                {
                    "lot": "L-SH-1",
                    "from_on": "2026-05-01",
                    "hold": "H",
                    "reason": "taint",
                },
            ),
        ]
    )
    return ledger.pack()


def test_what_had_lapsed_is_taken_off_once(rejected: Path, tmp_path: Path) -> None:
    balances = (rejected / "data/figures/balances.csv").read_text("utf-8")
    [page] = looked_at_each(tmp_path, rejected)

    # Received, sold, returned, written off, converted, transferred, lapsed, corrected.
    assert ",200.000,-60.000,0.000,0.000,0.000,0.000,0.000,-100.000,40.000," in balances
    assert check_pack(rejected).holds
    assert (page["leftOut"], page["failing"]) == ([], [])
