"""ledger.books.opening: from a stored entry to the record that the books judge."""

from datetime import UTC, date, datetime
from typing import Any

import pytest

from ledger.books.effect import Recorded
from ledger.books.opening import open_entry, parse_body, replacement_in
from ledger.chain.entry import Entry
from ledger.chain.seal import seal
from ledger.errors import InputError
from ledger.trade.contract import ContractSigned
from ledger.trade.record import body_of
from ledger.trade.sentence import BodyError

NOW = datetime(2025, 3, 1, 12, tzinfo=UTC)
CONTRACT: dict[str, Any] = {
    "contract": "C",
    "seller": "alder",
    "origin": "PE",
    "crop": "2024/25",
    "quantity_kg": "1000.000",
    "price": {"basis": "fixed", "price": {"amount": "3000.00", "unit": "USD/t"}},
    "delivery_place": "a port",
    "weight_basis": "landed",
}


def stored(kind: str, body: dict[str, Any]) -> Entry:
    return Entry(7, "0" * 64, kind, date(2025, 2, 28), NOW, "buyer", body)


def test_a_sealed_value_is_put_back_by_its_disclosure_and_else_absent() -> None:
    """Source: RFC 9901, section 7.1, for the way a disclosure is put back."""
    sealed = seal(CONTRACT, ["price"], new_salt=lambda: b"s" * 16)
    entry = stored("contract.signed", dict(sealed.body))

    opened = open_entry(entry, sealed.disclosures.values())
    hidden = open_entry(entry, ())

    assert isinstance(opened.record, ContractSigned)
    assert isinstance(hidden.record, ContractSigned)
    assert opened.record.price is not None
    assert hidden.record.price is None
    assert (opened.seq, opened.slot, opened.occurred_on) == (7, 7, date(2025, 2, 28))
    assert (opened.recorded_at, opened.recorded_by) == (NOW, "buyer")


def test_a_value_that_must_be_given_is_missed_where_nothing_is_sealed() -> None:
    open_body = {name: value for name, value in CONTRACT.items() if name != "price"}

    with pytest.raises(BodyError, match="price"):
        open_entry(stored("contract.signed", open_body), ())
    with pytest.raises(BodyError):
        parse_body("contract.signed", open_body)
    hidden = parse_body("contract.signed", open_body, hidden=True)
    assert body_of(hidden).keys() >= open_body.keys()


def test_a_body_that_breaks_its_model_is_told_problem_by_problem() -> None:
    with pytest.raises(BodyError) as caught:
        parse_body(
            "contract.signed", {**CONTRACT, "origin": "pe", "quantity_kg": "1 t"}
        )

    assert len(caught.value.problems) == 2


def test_an_unknown_kind_is_no_entry() -> None:
    with pytest.raises(InputError, match="not one that a ledger records"):
        parse_body("contract.agreed", CONTRACT)


def correction(replacement: dict[str, Any] | None) -> Recorded:
    body: dict[str, Any] = {
        "target": 3,
        "reason": "mistyped",
        "replacement": replacement,
    }
    record = parse_body("correction", body)
    return Recorded(9, 9, date(2025, 2, 28), NOW, "clerk", record)


def test_a_replacement_stands_in_the_slot_of_what_it_replaces() -> None:
    day = "2025-01-05"
    body = {"entry_kind": "contract.signed", "occurred_on": day, "body": CONTRACT}

    found = replacement_in(correction(body), slot=3)

    assert found is not None
    assert (found.seq, found.slot, str(found.occurred_on)) == (9, 3, day)
    assert found.record == parse_body("contract.signed", CONTRACT)


def test_what_only_voids_replaces_nothing() -> None:
    record = parse_body("contract.signed", CONTRACT)
    other = Recorded(9, 9, date(2025, 2, 28), NOW, "clerk", record)

    assert replacement_in(correction(None), slot=3) is None
    assert replacement_in(other, slot=3) is None
