"""Tables of buying: contracts, how far they are, shipments, and a tonne's price today."""

from collections.abc import Iterable, Iterator, Mapping
from fractions import Fraction
from typing import Final

from ledger.books.effect import Recorded
from ledger.books.fulfilment import Consignment, Fulfilment
from ledger.books.lookup import expect
from ledger.books.market import PerTonne
from ledger.books.owing import Total
from ledger.books.price_today import PriceToday
from ledger.reports.figures import kg_text, money_text, price_text
from ledger.reports.tables import Column, Table
from ledger.trade.contract import PriceFixed
from ledger.trade.grams import to_grams
from ledger.trade.shipment import ShipmentReceived

_WHAT_COUNTS: Final = (
    "Shipped and received leave out what was rejected. A contract is fully shipped once "
    "the least that its tolerance allows is."
)


def contracts_table(
    found: Iterable[Fulfilment], totals: Mapping[str, Iterable[Total]]
) -> Table:
    """Return how far contracts are carried out, one a row.

    Args:
        found: The contracts.
        totals: What each adds up to in dues, by contract number.
    """
    return Table(
        title="Contracts",
        columns=(
            Column("contract", "Contract", width=12),
            Column("seller", "Seller", width=12),
            Column("late", "Late", width=24),
            Column("origin", "Origin", width=7),
            Column("crop", "Crop", width=9, is_detail=True),
            Column("signed_on", "Signed on", width=11, is_detail=True),
            Column("contracted_kg", "Contracted", is_figure=True, unit="kg", width=12),
            Column("fixed_kg", "Fixed", is_figure=True, unit="kg", width=12),
            Column(
                "to_fix_kg", "To be fixed", is_figure=True, unit="kg", is_detail=True
            ),
            Column("shipped_kg", "Shipped", is_figure=True, unit="kg", width=12),
            Column("to_ship_kg", "To be shipped", is_figure=True, unit="kg", width=12),
            Column(
                "on_the_way_kg", "On the way", is_figure=True, unit="kg", is_detail=True
            ),
            Column("received_kg", "Received", is_figure=True, unit="kg", width=12),
            Column("ship_until", "Ship until", width=11, is_detail=True),
            Column("overdue", "Overdue", is_figure=True, width=14),
            Column("currency", "Currency", width=9),
        ),
        rows=[
            _contract_row(one, totals.get(one.contract.contract, ())) for one in found
        ],
        notes=(_WHAT_COUNTS,),
    )


def _contract_row(one: Fulfilment, totals: Iterable[Total]) -> tuple[str, ...]:
    contract = one.contract
    overdue = [total for total in totals if total.overdue_minor and total.currency]
    return (
        contract.contract,
        contract.seller,
        "; ".join(late_words(one, is_overdue=bool(overdue))),
        contract.origin,
        contract.crop,
        one.signed_on.isoformat(),
        kg_text(one.contracted_g),
        kg_text(one.fixed_g),
        kg_text(one.to_fix_g),
        kg_text(one.shipped_g),
        kg_text(one.to_ship_g),
        kg_text(one.on_the_way_g),
        kg_text(one.received_g),
        "" if contract.ship_until is None else contract.ship_until.isoformat(),
        " + ".join(
            money_text(total.overdue_minor, total.currency or "") for total in overdue
        ),
        " + ".join(total.currency or "" for total in overdue),
    )


def late_words(one: Fulfilment, *, is_overdue: bool) -> Iterator[str]:
    """Yield what of a contract is late, in words."""
    if one.ship_late_days:
        yield f"to be shipped for {one.ship_late_days} days"
    if one.fix_late_days:
        yield f"to be fixed for {one.fix_late_days} days"
    if is_overdue:
        yield "payment overdue"


def prices_table(found: Iterable[tuple[str, PriceToday]]) -> Table:
    """Return what a tonne would be owed today, by contract number."""
    prices = tuple(found)
    on = f" on {prices[0][1].on}" if prices else ""
    return Table(
        title=f"What a tonne would be owed{on}",
        columns=(
            Column("contract", "Contract", width=12),
            Column("agreed", "Agreed", is_figure=True, width=12),
            Column("minimum", "Minimum", is_figure=True, width=12),
            Column("market", "Market", is_figure=True, width=12),
            Column("owed", "Owed", is_figure=True, width=12),
            Column("decided_by", "Which is the", width=18),
            Column("organic", "Organic", is_figure=True, width=12),
            Column("premium", "Premium on top", is_figure=True, width=14),
            Column("unit", "Per tonne in", width=10),
        ),
        rows=[
            (
                contract,
                _amount(price.agreed),
                _amount(price.minimum),
                _amount(price.market),
                _amount(price.owed),
                price.decided_by,
                _amount(price.organic),
                _sum(premium for _, premium in price.premiums),
                price.owed.currency if price.owed else "",
            )
            for contract, price in prices
        ],
        notes=tuple(
            dict.fromkeys(
                f"{sentence[:1].upper()}{sentence[1:]}."
                for _, price in prices
                for sentence in price.missing
            )
        ),
    )


def _amount(price: PerTonne | None) -> str:
    return "" if price is None else price_text(price.amount)


def _sum(prices: Iterable[PerTonne]) -> str:
    amounts = [price.amount for price in prices]
    return price_text(sum(amounts, Fraction(0))) if amounts else ""


def consignments_table(
    found: Iterable[tuple[str, Consignment]], title: str = "Shipments"
) -> Table:
    """Return shipments, one a row, with the contract of each."""
    return Table(
        title=title,
        columns=(
            Column("shipment", "Shipment", width=14),
            Column("contract", "Contract", width=12),
            Column("shipped_on", "Shipped on", width=11),
            Column("received_on", "Received on", width=11),
            Column("shipped_kg", "Shipped", is_figure=True, unit="kg", width=12),
            Column("received_kg", "Received", is_figure=True, unit="kg", width=12),
            Column("rejected_kg", "Rejected", is_figure=True, unit="kg", width=12),
            Column("lost_kg", "Lost", is_figure=True, unit="kg", width=10),
        ),
        rows=[_consignment_row(contract, one) for contract, one in found],
    )


def _consignment_row(contract: str, one: Consignment) -> tuple[str, ...]:
    lost_g = one.shipped_g - one.rejected_g - one.received_g
    return (
        one.shipment,
        contract,
        "" if one.shipped_on is None else one.shipped_on.isoformat(),
        "" if one.received_on is None else one.received_on.isoformat(),
        kg_text(one.shipped_g),
        kg_text(one.received_g) if one.received_on else "",
        kg_text(one.rejected_g) if one.rejected_g else "",
        kg_text(lost_g) if one.received_on else "",
    )


def fixations_table(found: Iterable[Recorded]) -> Table:
    """Return the fixations of a contract."""
    return Table(
        title="Fixations",
        columns=(
            Column("fixation", "Fixation", width=14),
            Column("entry", "Entry", is_figure=True, width=7),
            Column("fixed_on", "Fixed on", width=11),
            Column("quantity_kg", "Quantity", is_figure=True, unit="kg", width=12),
            Column("level", "Level of the market", is_figure=True, width=12),
            Column("unit", "Unit", width=9),
        ),
        rows=[_fixation_row(one) for one in found],
    )


def _fixation_row(recorded: Recorded) -> tuple[str, ...]:
    fixed = expect(recorded.record, PriceFixed)
    return (
        fixed.fixation,
        str(recorded.seq),
        recorded.occurred_on.isoformat(),
        kg_text(to_grams(fixed.quantity_kg)),
        "" if fixed.level is None else price_text(Fraction(fixed.level.amount)),
        "" if fixed.level is None else fixed.level.unit,
    )


def received_lots_table(received: ShipmentReceived) -> Table:
    """Return the lots of a receipt, as they were weighed and found."""
    return Table(
        title="Lots",
        columns=(
            Column("lot", "Lot", width=14),
            Column("bags", "Bags", is_figure=True, width=7),
            Column("gross_kg", "Gross", is_figure=True, unit="kg", width=12),
            Column("tare_kg", "Tare", is_figure=True, unit="kg", width=10),
            Column(
                "net_shipped_kg", "Net shipped", is_figure=True, unit="kg", width=12
            ),
            Column("net_landed_kg", "Net landed", is_figure=True, unit="kg", width=12),
            Column("moisture_percent", "Moisture", is_figure=True, unit="%", width=9),
            Column("bean_count", "Beans in 100 g", is_figure=True, width=9),
            Column("decision", "Decision", width=10),
            Column("because", "Because", width=16, is_detail=True),
            Column("place", "Place", width=12),
        ),
        rows=[
            (
                lot.lot,
                "" if lot.bags is None else str(lot.bags),
                "" if lot.gross_kg is None else f"{lot.gross_kg:f}",
                "" if lot.tare_kg is None else f"{lot.tare_kg:f}",
                f"{lot.net_shipped_kg:f}",
                f"{lot.net_landed_kg:f}",
                _percent(lot.quality and lot.quality.moisture_percent),
                ""
                if lot.quality is None or lot.quality.bean_count is None
                else str(lot.quality.bean_count),
                lot.decision,
                lot.rejected_because or "",
                lot.place or "",
            )
            for lot in received.lots
        ],
    )


def _percent(found: object) -> str:
    return "" if found is None else f"{found:.1f}"
