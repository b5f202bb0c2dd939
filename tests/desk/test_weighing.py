"""Weights as a note gives them: net from gross and tare, in whatever unit."""

from typing import Any

import pytest

from ledger.desk.weighing import converted, weighed, with_net
from ledger.errors import InputError

LOT: dict[str, Any] = {"lot": "L-1", "net_shipped_kg": "100.000"}


@pytest.mark.parametrize(
    ("given", "net"),
    [
        ({"gross_kg": "102.500", "tare_kg": "2.500"}, "100.000"),
        ({"gross_kg": "102.5", "tare_kg": "2"}, "100.500"),
        ({"gross": "2 bags of 51 kg", "tare_kg": "2"}, "100.000"),
        # 225 lb and 5 lb at 0.453 592 37 kg (NIST SP 811, appendix B.9).
        ({"gross": "225 lb", "tare": "5 lb"}, "99.790"),
    ],
)
def test_net_is_gross_less_tare_where_it_is_left_out(
    given: dict[str, Any], net: str
) -> None:
    body: dict[str, Any] = {"shipment": "S-1", "lots": [LOT | given]}

    filled = with_net(body, "net_landed", at="lots")

    assert filled["lots"] == [LOT | given | {"net_landed_kg": net}]
    assert body["lots"] == [LOT | given]


@pytest.mark.parametrize(
    "given",
    [
        {"gross_kg": "102.500", "tare_kg": "2.500", "net_landed_kg": "99.000"},
        {"gross_kg": "102.500", "tare_kg": "2.500", "net_landed": "99 kg"},
        {"gross_kg": "102.500"},
        {"tare_kg": "2.500"},
        {},
    ],
)
def test_a_net_weight_that_is_given_or_cannot_be_known_is_left_alone(
    given: dict[str, Any],
) -> None:
    assert with_net(given, "net_landed") == given


def test_a_mass_that_is_none_is_refused() -> None:
    with pytest.raises(InputError, match="is not a mass"):
        with_net({"gross": "heavy", "tare_kg": "1"}, "net_landed")


def test_what_was_typed_in_a_unit_of_its_own_is_told_in_kilograms() -> None:
    body: dict[str, Any] = {
        "shipment": "S-1",
        "contract": "K-1",
        "lots": [{"lot": "L-1", "net_shipped": "10 qq46", "net_landed": "455 kg"}],
    }

    # A quintal of 46 kg: common practice in the coffee and cocoa trade.
    assert list(converted("shipment.received", body)) == [
        ("10 qq46", "460.000"),
        ("455 kg", "455.000"),
    ]
    assert not list(converted("shipment.received", {"shipment": "S-1"}))


def test_lots_weigh_together_what_was_accepted() -> None:
    lots: list[Any] = [
        {"lot": "L-1", "bags": 4, "net_shipped_kg": "400", "net_landed_kg": "390"},
        {"lot": "L-2", "bags": 1, "net_shipped_kg": "100", "net_landed_kg": "100"},
        {
            "lot": "L-3",
            "net_shipped_kg": "50",
            "net_landed_kg": "50",
            "decision": "rejected",
            "rejected_because": "mould",
        },
    ]
    found = weighed({"shipment": "S-1", "contract": "K-1", "lots": lots})

    assert found is not None
    assert (found.shipped_g, found.landed_g, found.bags) == (500_000, 490_000, 5)
    assert found.lost * 100 == 2
    assert weighed({"shipment": "S-1"}) is None
    assert weighed({"shipment": "S", "contract": "K", "lots": lots[2:]}) is None
