"""What the growers are due under the contracts and the terms, and what was paid when.

The price a tonne is the highest of the guaranteed minimum of the contract's date, the
market of the fixation's (or else the contract's) date with the differential, and the
price agreed; on top of it come the organic differential and the premium. Each amount is
rounded up to the cent. Goods that came without a valid certificate are owed the agreed
price alone. The books compute the same by themselves.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction

from sample_shipments.generator import scheme
from sample_shipments.generator.cast import FUND
from sample_shipments.generator.contract import (
    DIFFERENTIAL_GBP,
    Contract,
    contract_named,
)
from sample_shipments.generator.market import (
    gbp_per_tonne,
    last_trading_day,
    usd_per_gbp,
    usd_per_tonne,
)
from sample_shipments.generator.paper import File, Row, csv_file, money
from sample_shipments.generator.shipment import SHIPMENTS, Shipment
from sample_shipments.generator.workday import before, on_or_after

PAID_LATE = "SH-07"
"""Shipment whose price was paid late, while the accounts office was on holiday."""
PAID_LATE_BY_DAYS = 18
PAID_SHORT = "SH-11"
"""Shipment whose premium arrived short, because a bank took its charges out of it."""
SHORT_BY_CENTS = 6000
FRANCHISE = Fraction(5, 1000)
"""Natural loss that the maker bears, by every contract."""


@dataclass(frozen=True, slots=True)
class Due:
    """An amount due.

    Attributes:
        shipment: Shipment it is due for.
        contract: Contract it is due under.
        payee: Who is to get it.
        towards: What it is for.
        minor: Amount in cents or pence.
        currency: Its currency.
        by: Day by which it is due.
    """

    shipment: str
    contract: str
    payee: str
    towards: str
    minor: int
    currency: str
    by: date


def dues() -> list[Due]:
    """Return everything due, shipment by shipment."""
    return [due for shipment in SHIPMENTS for due in _dues_of(shipment)]


def _dues_of(shipment: Shipment) -> Iterator[Due]:
    contract = contract_named(shipment.contract)
    weight_g = _weight_g(shipment)
    currency = "USD" if contract.usd else "GBP"
    price_by = shipment.received + timedelta(days=scheme.PRICE_DUE_DAYS)
    premium_by = shipment.received + timedelta(days=scheme.PREMIUM_DUE_DAYS)

    def due(payee: str, towards: str, amount: Fraction, by: date) -> Due:
        minor = -(-amount.numerator * 100 // amount.denominator)
        return Due(shipment.name, contract.name, payee, towards, minor, currency, by)

    price = _price_amount(shipment, contract, weight_g)
    yield due(contract.seller, "price", price, price_by)
    if not shipment.certified:
        return
    tonnes = weight_g / 1_000_000
    if contract.organic:
        organic = scheme.in_force(scheme.ORGANIC_USD, str(contract.signed))
        yield due(contract.seller, "organic differential", organic * tonnes, price_by)
    premium = _premium(contract, shipment.received) * tonnes
    to_fund = scheme.in_force(scheme.TO_FUND_PERCENT, str(shipment.received))
    for payee, percent in ((contract.seller, 100 - to_fund), (FUND, to_fund)):
        yield due(payee, "premium", premium * percent / 100, premium_by)


def _weight_g(shipment: Shipment) -> Fraction:
    """Return what is paid for: as shipped, less the loss beyond the franchise."""
    taken = [lot for lot in shipment.lots if not lot.rejected]
    shipped_g = sum(lot.shipped_g for lot in taken)
    lost_g = shipped_g - sum(lot.landed_g for lot in taken)
    return shipped_g - max(Fraction(0), lost_g - shipped_g * FRANCHISE)


def _price_amount(
    shipment: Shipment, contract: Contract, weight_g: Fraction
) -> Fraction:
    """Return the price of a shipment; fixations are used up in their order."""
    if contract.usd:
        agreed = [contract.usd]
        if shipment.certified:
            agreed.append(scheme.in_force(scheme.MINIMUM_USD, str(contract.signed)))
            agreed.append(usd_per_tonne(last_trading_day(contract.signed)))
        return max(agreed) * weight_g / 1_000_000
    amount = Fraction(0)
    for fixation in contract.fixations:
        part_g = min(weight_g, Fraction(fixation.grams))
        weight_g -= part_g
        # The sterling market stands above the dollar market and the minimum here.
        price = gbp_per_tonne(fixation.on) + DIFFERENTIAL_GBP
        amount += price * part_g / 1_000_000
    return amount


def _premium(contract: Contract, received: date) -> Fraction:
    usd = Fraction(scheme.in_force(scheme.PREMIUM_USD, str(received)))
    if contract.usd:
        return usd
    return usd / Fraction(usd_per_gbp(last_trading_day(received)), 10000)


def files() -> list[File]:
    """Return one file of payments for each month in which something was paid."""
    rows = sorted(_rows(), key=lambda row: (row["on"], row["document"]))
    by_month: dict[str, list[Row]] = {}
    for number, row in enumerate(rows, start=1):
        named = {"on": row["on"], "payment": f"P-{number:03d}", **row}
        by_month.setdefault(row["on"][:7], []).append(named)
    return [
        csv_file(
            f"{month}/2-buying/payments-{month}.csv",
            paid,
            names=[row["payment"] for row in paid],
        )
        for month, paid in by_month.items()
    ]


def _rows() -> Iterator[Row]:
    for number, due in enumerate(dues(), start=1):
        late = due.shipment == PAID_LATE and due.towards == "price"
        short = due.shipment == PAID_SHORT and due.towards == "premium"
        short = short and due.payee != FUND
        on = before(due.by + timedelta(days=1), 2 + number % 4)
        if late:
            on = on_or_after(due.by + timedelta(days=PAID_LATE_BY_DAYS))
        minor = due.minor - SHORT_BY_CENTS if short else due.minor
        if due.currency == "GBP" and due.towards == "price":
            advance = minor * 60 // 100
            early = before(on, 12)
            yield _row(due, early, advance, f"TT-{number:03d}-1")
            yield _row(due, on, minor - advance, f"TT-{number:03d}-2")
        else:
            yield _row(due, on, minor, f"TT-{number:03d}")


def _row(due: Due, on: date, minor: int, document: str) -> Row:
    return {
        "on": str(on),
        "contract": due.contract,
        "payee": due.payee,
        "towards": due.towards,
        "amount": money(minor),
        "currency": due.currency,
        "document": document,
        "shipment": due.shipment,
    }
