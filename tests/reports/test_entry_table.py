"""Tables of entries."""

from datetime import UTC, date, datetime

from ledger.books.effect import Recorded
from ledger.books.finding import warning
from ledger.books.opening import parse_body
from ledger.reports.entry_table import (
    _NAMED_BY,
    BreachEvent,
    Flagged,
    breach_events_table,
    corrections_table,
    decisions_table,
    entry_name,
    flagged_table,
)
from ledger.trade.kinds import KINDS


def recorded(kind: str, **body: object) -> Recorded:
    return Recorded(
        seq=12,
        slot=12,
        occurred_on=date(2026, 3, 2),
        recorded_at=datetime(2026, 3, 3, tzinfo=UTC),
        recorded_by="clerk",
        record=parse_body(kind, body),  # type: ignore[arg-type]
    )


def test_every_kind_of_entry_has_a_name_to_go_by() -> None:
    """An entry kind that is added must say by which of its fields it is called."""
    assert set(_NAMED_BY) == set(KINDS)
    for kind, field in _NAMED_BY.items():
        assert field in KINDS[kind].model_fields


def test_entry_goes_by_kind_and_name() -> None:
    moved = recorded("lot.moved", lot="L-1", to_place="shelf")

    assert entry_name(moved) == "lot.moved L-1"


def test_correction_that_voids_says_so() -> None:
    table = corrections_table([recorded("correction", target=4, reason="typed twice")])

    assert list(table.rows[0]) == [
        "12",
        "2026-03-02",
        "4",
        "made void",
        "typed twice",
        "clerk",
        "",
    ]


def test_correction_that_replaces_names_the_kind_who_approved_and_the_breach() -> None:
    replacement = {
        "entry_kind": "lot.moved",
        "occurred_on": "2026-03-01",
        "body": {"lot": "L-1", "to_place": "rack"},
    }

    [row] = corrections_table(
        [
            recorded(
                "correction",
                target=4,
                reason="wrong place",
                replacement=replacement,
                approved_by="officer",
                accept_breach=True,
            )
        ]
    ).rows

    assert row[3] == "replaced by another lot.moved, breach accepted"
    assert row[6] == "officer"


def test_decision_has_day_learnt_day_it_counts_from_and_reason() -> None:
    suspended = recorded(
        "certificate.suspended", certificate="C-1", from_on="2026-02-01", reason="audit"
    )
    withdrawn = recorded(
        "claim.withdrawn",
        withdrawal="W-1",
        sale="V-1",
        document="credit note",
        reason="sold short",
        lines=[{"lot": "L-1", "mass_kg": "1", "scheme": "meadow"}],
    )

    rows = decisions_table([suspended, withdrawn]).rows

    assert [list(row) for row in rows] == [
        ["12", "2026-03-02", "2026-02-01", "certificate.suspended C-1", "audit"],
        ["12", "2026-03-02", "2026-03-02", "claim.withdrawn W-1", "sold short"],
    ]


def test_breach_names_account_and_the_entry_that_opened_or_made_it_good() -> None:
    opened = recorded("correction", target=4, reason="typed twice")
    moved = recorded("lot.moved", lot="L-1", to_place="shelf")

    rows = breach_events_table(
        [
            BreachEvent(opened, "meadow, cocoa", is_opened=True),
            BreachEvent(moved, "meadow, cocoa", is_opened=False),
        ]
    ).rows

    assert [list(row[2:]) for row in rows] == [
        ["meadow, cocoa", "opened", "correction 4", "typed twice"],
        ["meadow, cocoa", "made good", "lot.moved L-1", ""],
    ]


def test_finding_stands_beside_its_entry() -> None:
    moved = recorded("lot.moved", lot="L-1", to_place="shelf")

    [row] = flagged_table(
        [Flagged(moved, warning("odd", "lot", "lot L-1 is odd"))], title="Odd"
    ).rows

    assert list(row) == ["12", "2026-03-02", "lot.moved L-1", "odd", "lot L-1 is odd"]
