"""Tables of a recall: lots, what is on hand, whom to call, and how much was found again."""

from collections.abc import Iterator
from datetime import datetime
from fractions import Fraction
from typing import Final

from ledger.books.recall import (
    ACCEPTED_PERCENT,
    Recall,
    RecallCustomer,
    RecallLot,
    RecallSale,
)
from ledger.books.rounding import shown
from ledger.books.trace import Way
from ledger.reports.figures import kg_text, mass_text
from ledger.reports.tables import Column, Table
from ledger.reports.trace_table import given_by

LAW: Final = (
    "If food may be unsafe, do not wait for this list: stop selling, and tell the "
    "competent food authority at once. Where Regulation (EC) No 178/2002 holds, article "
    "19 asks a maker who has reason to think so to withdraw the food, to tell the "
    "authority, and to warn consumers it may have reached; article 18 asks to know and "
    "to name suppliers and business customers. Elsewhere local law says it. What the "
    "authority asks goes before anything printed here, and people who know the goods "
    "decide, not this program."
)
"""What the law asks, in plain words; it is the authority's to say what it means."""

COMPLETE: Final = (
    "The list holds what was recorded. Goods that a customer sold on are known to that "
    "customer; what was never recorded is not here."
)
WHOLE: Final = (
    "Goods in doubt are well mixed in their lots, and each lot is recalled whole. A "
    "mass of 0.000 in doubt is less than half a gram, not nothing: a tank that is never "
    "emptied passes a little of everything on. How little is harmless is for people who "
    "know the danger to say."
)
_ENTRY: Final = Column("entry", "Entry", is_figure=True, width=8)
_LOT: Final = Column("lot", "Lot", width=16)
_FORM: Final = Column("form", "Form", width=13)
_PLACE: Final = Column("place", "Place", width=14)


def recall_tables(recall: Recall, *, made_at: datetime) -> Iterator[Table]:
    """Yield everything that a recall prints, the most urgent first.

    Args:
        recall: The recall.
        made_at: The moment it was asked, in UTC.
    """
    yield on_hand_table(recall)
    yield phone_table(recall)
    yield lots_table(recall)
    yield cautions_table(recall)
    yield reconciled_table(recall, made_at=made_at)


def on_hand_table(recall: Recall) -> Table:
    """Return what is still in the house: lock it away."""
    return Table(
        title=f"On hand, of goods that hold some of {recall.asked}",
        columns=(
            _LOT,
            _FORM,
            Column("left_kg", "By the book", is_figure=True, unit="kg", width=12),
            Column("counted_kg", "Counted", is_figure=True, unit="kg", width=12),
            _PLACE,
            Column("site", "Site", width=12),
            Column("hold", "Hold", width=12),
        ),
        rows=[_on_hand_row(lot) for lot in recall.on_hand],
        notes=[_holds_note(recall)],
    )


def _on_hand_row(lot: RecallLot) -> tuple[str, ...]:
    left = lot.left
    return (
        lot.lot,
        lot.what.form,
        kg_text(lot.left_g),
        "" if lot.count is None else kg_text(lot.count.found_g),
        (left.place if left else None) or "",
        (left.site if left else None) or "",
        (left.hold if left else None) or "none",
    )


def _holds_note(recall: Recall) -> str:
    free = [lot.lot for lot in recall.on_hand if lot.left and lot.left.hold is None]
    if not recall.on_hand:
        return "Nothing of it is on hand."
    if not free:
        return "Every lot on hand is on hold."
    return (
        f"Not on hold: {', '.join(free)}. Place a hold on all of them before one moves."
    )


def phone_table(recall: Recall) -> Table:
    """Return whom to call, one sale line a row, customer by customer."""
    return Table(
        title=f"Whom to call about {recall.asked}",
        columns=(
            Column("customer", "Customer", width=14),
            Column("legal_name", "Name", width=20),
            Column("person", "Person", width=16),
            Column("phone", "Phone", width=16),
            Column("email", "E-mail", width=20),
            Column("sale", "Sale", width=12),
            Column("document", "Document", width=16),
            Column("on", "On", width=12),
            _LOT,
            Column("sold_kg", "Sold", is_figure=True, unit="kg", width=11),
            Column("with_customer_kg", "Not back", is_figure=True, unit="kg", width=11),
            Column("doubted_kg", "In doubt", is_figure=True, unit="kg", width=11),
            Column("pieces", "Pieces sold", is_figure=True, width=9, is_detail=True),
            _ENTRY,
        ),
        rows=[
            _phone_row(customer, sale)
            for customer in recall.customers
            for sale in customer.sales
            if sale.kept_g
        ],
        notes=list(_phone_notes(recall)),
    )


def _phone_row(customer: RecallCustomer, sale: RecallSale) -> tuple[str, ...]:
    contacts = customer.contacts
    return (
        customer.party,
        customer.legal_name or "",
        " / ".join(contact.person for contact in contacts if contact.person),
        " / ".join(contact.phone for contact in contacts if contact.phone),
        " / ".join(contact.email for contact in contacts if contact.email),
        sale.sale.sale,
        sale.sale.document,
        sale.recorded.occurred_on.isoformat(),
        sale.lot,
        kg_text(sale.sold_g),
        kg_text(sale.kept_g),
        mass_text(sale.doubted_g),
        "" if sale.pieces is None else str(sale.pieces),
        str(sale.recorded.seq),
    )


def _phone_notes(recall: Recall) -> Iterator[str]:
    total_g = sum(customer.kept_g for customer in recall.customers)
    yield f"Customers who hold whole lots: {len(recall.customers)}, {kg_text(total_g)} kg."
    yield WHOLE
    silent = [one for one in recall.customers if not one.contacts]
    if silent:
        told = ", ".join(f"{one.party} (entry {one.registered})" for one in silent)
        yield (
            f"No contact is recorded, or is disclosed here, for {told}; take it from "
            "your own papers."
        )


def lots_table(recall: Recall) -> Table:
    """Return every lot that holds the goods in doubt, in the order of making."""
    return Table(
        title=f"Lots that hold some of {recall.asked}",
        columns=(
            _LOT,
            _FORM,
            Column("given_by", "Given by", width=24),
            Column("on", "On", width=12),
            _ENTRY,
            Column("doubted_kg", "Goods in doubt", is_figure=True, unit="kg", width=14),
        ),
        rows=[
            (
                lot.lot,
                lot.what.form,
                given_by(lot.what),
                lot.recorded.occurred_on.isoformat(),
                str(lot.recorded.seq),
                mass_text(lot.doubted_g),
            )
            for lot in recall.lots
        ],
        notes=[WHOLE],
    )


def cautions_table(recall: Recall) -> Table:
    """Return what whoever decides should know, with the entry that says it."""
    return Table(
        title="Cautions",
        columns=(_ENTRY, Column("about", "About", width=20), Column("text", "What")),
        rows=[(str(one.entry), one.about, one.text) for one in recall.cautions],
        notes=[LAW],
    )


def reconciled_table(recall: Recall, *, made_at: datetime) -> Table:
    """Return how much of the goods in doubt was found again, in kilograms."""
    ways = recall.trace.ways
    on_hand_g = recall.found_g - ways[Way.SOLD] - ways[Way.LOST] - ways[Way.WRITTEN_OFF]
    rows = (
        ("in doubt, as received or made", recall.trace.grams),
        ("sold and not back", ways[Way.SOLD]),
        ("on hand, as counted or by the book", on_hand_g),
        ("lost in making", ways[Way.LOST]),
        ("written off", ways[Way.WRITTEN_OFF]),
        ("found again", recall.found_g),
    )
    return Table(
        title=f"Reconciled: {reconciled_percent(recall)} per cent",
        columns=(
            Column("what", "What", width=36),
            Column("mass_kg", "Mass", is_figure=True, unit="kg", width=14),
        ),
        rows=[(what, mass_text(Fraction(grams))) for what, grams in rows],
        notes=[
            _counted(recall),
            _accepted(recall),
            _time_basis(recall, made_at),
            COMPLETE,
        ],
    )


def _counted(recall: Recall) -> str:
    counted = sum(lot.count is not None for lot in recall.on_hand)
    return (
        f"Lots on hand: {len(recall.on_hand)}; counted after they last moved: {counted}. "
        "For the others the book stands in, which proves nothing about what is on the "
        "shelf. Count them (lot.counted) and ask again."
    )


def _time_basis(recall: Recall, made_at: datetime) -> str:
    return (
        f"Counts what happened up to {recall.as_of} and was recorded by "
        f"{made_at:%Y-%m-%d %H:%M} UTC."
    )


def reconciled_percent(recall: Recall) -> str:
    """Return the per cent reconciled with two decimals, cut towards zero."""
    hundredths = int(recall.percent_reconciled * 100)
    return f"{hundredths // 100}.{hundredths % 100:02d}"


def _accepted(recall: Recall) -> str:
    lowest, highest = (
        shown(bound).rstrip("0").rstrip(".") for bound in ACCEPTED_PERCENT
    )
    verdict = "This is within" if recall.is_accepted else "This is outside"
    return (
        f"No official tolerance exists; one published manual for mock recalls (quoted at "
        f"ifsqn.com) accepts {lowest} to {highest} per cent. {verdict} that."
    )


def flat_table(recall: Recall) -> Table:
    """Return everything in one table, for programs: one fact a row, told by its part."""
    return Table(
        title=f"Recall of {recall.asked}",
        columns=(
            Column("part", "Part"),
            _ENTRY,
            _LOT,
            _PLACE,
            Column("hold", "Hold"),
            Column("customer", "Customer"),
            Column("sale", "Sale"),
            Column("mass_kg", "Mass", is_figure=True, unit="kg"),
            Column("text", "Text"),
        ),
        rows=[
            *(
                ("lot", entry, lot, "", "", "", "", kg, f"{given}, {on}")
                for lot, _, given, on, entry, kg in lots_table(recall).rows
            ),
            *(
                (
                    "on hand",
                    "",
                    lot,
                    place,
                    hold,
                    "",
                    "",
                    kg,
                    f"counted {counted or '-'}",
                )
                for lot, _, kg, counted, place, _, hold in on_hand_table(recall).rows
            ),
            *(
                (
                    "with customer",
                    str(sale.recorded.seq),
                    sale.lot,
                    "",
                    "",
                    customer.party,
                    sale.sale.sale,
                    kg_text(sale.kept_g),
                    sale.sale.document,
                )
                for customer in recall.customers
                for sale in customer.sales
                if sale.kept_g
            ),
            *(
                ("caution", str(one.entry), "", "", "", "", "", "", one.text)
                for one in recall.cautions
            ),
            (
                "reconciled",
                *[""] * 6,
                mass_text(recall.found_g),
                f"{reconciled_percent(recall)} per cent of {mass_text(recall.trace.grams)}",
            ),
        ],
    )
