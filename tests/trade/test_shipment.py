"""ledger/trade/shipment.py."""

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ledger.trade.shipment import ShipmentDispatched, check_net

HUNDREDTHS = st.integers(min_value=1, max_value=10_000_000)


def in_pounds(hundredths: int) -> str:
    return f"{hundredths // 100}.{hundredths % 100:02d} lb"


@settings(deadline=None)  # the table of units is loaded on first use
@given(net=HUNDREDTHS, tare=HUNDREDTHS)
def test_weights_that_agree_in_pounds_are_accepted(net: int, tare: int) -> None:
    shipped = ShipmentDispatched.model_validate(
        {
            "shipment": "S-1",
            "contract": "K-1",
            "carriage": {"bill_of_lading": "B-1"},
            "gross": in_pounds(net + tare),
            "tare": in_pounds(tare),
            "net_shipped": in_pounds(net),
        }
    )

    assert set(shipped.typed) == {"gross_kg", "tare_kg", "net_shipped_kg"}


@pytest.mark.parametrize(
    ("net", "converted"),
    [("99.002", ("net_kg",)), ("98.999", ()), ("99.001", ("cut",))],
)
def test_a_net_weight_that_is_not_gross_less_tare_is_refused(
    net: str, converted: tuple[str, ...]
) -> None:
    with pytest.raises(ValueError, match=rf"net_kg is {net}, but gross 100.000 less"):
        check_net(
            Decimal("100.000"),
            Decimal("1.000"),
            Decimal(net),
            "net_kg",
            converted=converted,
        )


@pytest.mark.parametrize("net", ["98.999", "99.000", "99.001"])
def test_a_gram_is_allowed_where_a_weight_was_converted(net: str) -> None:
    check_net(
        Decimal("100.000"),
        Decimal("1.000"),
        Decimal(net),
        "net_kg",
        converted=("gross_kg",),
    )
