"""Tables of a reconciliation: by form, as a whole, in bean equivalent, losses, counts."""

from collections.abc import Sequence
from dataclasses import fields
from fractions import Fraction
from typing import Final

from ledger.books.bean_flow import BeanFlow
from ledger.books.reconciliation import LOSSES_SHARED_OUT, Flow, Reconciliation
from ledger.reports.figures import kg_text, mass_text
from ledger.reports.tables import Column, Table

ALL_SITES: Final = "All sites together; goods moved between sites stay in the stock."
_HEADINGS: Final = {
    "opening_g": "Opening",
    "bought_g": "+ Bought",
    "made_g": "+ Made",
    "used_g": "- Used",
    "lost_g": "- Lost",
    "sold_g": "- Sold",
    "returned_g": "+ Returned",
    "written_off_g": "- Written off",
    "corrected_g": "+ Corrected",
    "closing_g": "= Closing",
}
"""Columns with the sign with which they count."""


def _kg(key: str, heading: str) -> Column:
    return Column(key, heading, is_figure=True, width=11)


def forms_table(found: Reconciliation) -> Table:
    """Return the period form by form, and all forms together."""
    return Table(
        title=f"Reconciliation from {found.since} to {found.until}, kg",
        columns=(
            Column("form", "Form", width=13),
            *(
                _kg(name.replace("_g", "_kg"), heading)
                for name, heading in _HEADINGS.items()
            ),
            _kg("difference_kg", "Difference"),
        ),
        rows=[
            *(
                _flow_row(form or "no longer recorded", flow)
                for form, flow in found.forms.items()
            ),
            _flow_row("all", found.whole),
        ],
        notes=[verdict(found), LOSSES_SHARED_OUT, ALL_SITES],
    )


def _flow_row(name: str, flow: Flow) -> tuple[str, ...]:
    moved = (kg_text(int(getattr(flow, part.name))) for part in fields(Flow))
    return (name, *moved, kg_text(flow.difference_g))


def verdict(found: Reconciliation) -> str:
    """Return in words whether the period adds up."""
    if found.adds_up:
        return (
            "It adds up to the gram: opening + bought + made - used - lost - sold + "
            "returned - written off = closing, in every form."
        )
    told = ", ".join(map(str, found.corrected))
    because = (
        f" Entries {told} were corrected after the books were closed; the closed stock "
        "stays as signed off, and the correction stands in the period in which it landed."
        if found.corrected
        else " No correction explains it; look at the entries of the form that differs."
    )
    return f"It does NOT add up: see the column of differences.{because}"


def inspection_table(found: Reconciliation) -> Table:
    """Return A + B - D = C, as an inspection works it through (7 CFR 205.403(d)(4))."""
    whole = found.whole
    rows = (
        ("A", "opening stock", whole.opening_g),
        ("B", "bought", whole.bought_g),
        ("", "corrections of earlier periods", whole.corrected_g),
        ("D", "closing stock", whole.closing_g),
        ("C", "gone out: sold - returned + lost + written off", found.outgoing_g),
        ("", "A + B - D - C", found.unexplained_g),
    )
    return Table(
        title="A + B - D = C (7 CFR 205.403(d)(4)), all goods as weighed",
        columns=(
            Column("letter", "Part", width=6),
            Column("what", "What", width=44),
            Column("mass_kg", "Mass", is_figure=True, unit="kg", width=14),
        ),
        rows=[(letter, what, kg_text(grams)) for letter, what, grams in rows],
        notes=["As weighed, shell and moisture lost in making are a part of C."],
    )


def losses_table(found: Reconciliation) -> Table:
    """Return what was lost in making and what was written off, by reason."""
    reasons = [*found.losses, *(r for r in found.written_off if r not in found.losses)]
    return Table(
        title="Losses by reason",
        columns=(
            Column("reason", "Reason", width=20),
            Column("lost_kg", "Lost in making", is_figure=True, unit="kg", width=14),
            Column(
                "written_off_kg", "Written off", is_figure=True, unit="kg", width=14
            ),
        ),
        rows=[
            (
                reason,
                kg_text(found.losses.get(reason, 0)),
                kg_text(found.written_off.get(reason, 0)),
            )
            for reason in reasons
        ],
    )


def beans_table(found: Sequence[BeanFlow]) -> Table:
    """Return the period in bean equivalent, one scheme a row."""
    shown = ("opening_g", "bought_g")
    after = ("sold_g", "returned_g", "written_off_g", "corrected_g", "closing_g")
    return Table(
        title="Cocoa in kg bean equivalent, under the terms of each scheme",
        columns=(
            Column("scheme", "Scheme", width=13),
            *(_kg(name.replace("_g", "_kg"), _HEADINGS[name]) for name in shown),
            _kg("in_making_kg", "- In making"),
            *(_kg(name.replace("_g", "_kg"), _HEADINGS[name]) for name in after),
            _kg("difference_kg", "Difference"),
        ),
        rows=[
            (
                one.scheme,
                *(mass_text(one.grams[name]) for name in shown),
                mass_text(one.converted_g),
                *(mass_text(one.grams[name]) for name in after),
                mass_text(one.difference_g),
            )
            for one in found
        ],
        notes=[_bean_note(one) for one in found],
    )


def _bean_note(one: BeanFlow) -> str:
    beyond = one.converted_g
    way = "more" if beyond >= 0 else "less"
    missing = (
        f" {', '.join(one.without_factor)} have no factor in these terms and are left out."
        if one.without_factor
        else ""
    )
    return (
        f"{one.scheme} ({one.terms}), factors of {one.on}: by them "
        f"{mass_text(Fraction(abs(beyond)))} kg {way} went into batches than came out. "
        "That is loss, and what the factors count otherwise than it happened."
        f"{missing} Masses are exact in the books and shown to the nearest gram."
    )


def counts_table(found: Reconciliation) -> Table:
    """Return the counts of the period beside the book."""
    return Table(
        title="Counts against the book",
        columns=(
            Column("entry", "Entry", is_figure=True, width=8),
            Column("on", "On", width=12),
            Column("lot", "Lot", width=16),
            Column("form", "Form", width=13),
            Column("book_kg", "Book", is_figure=True, unit="kg", width=12),
            Column("found_kg", "Found", is_figure=True, unit="kg", width=12),
            Column("difference_kg", "Difference", is_figure=True, unit="kg", width=12),
            Column("allowed_kg", "Allowed", is_figure=True, unit="kg", width=12),
            Column("verdict", "Verdict", width=12),
        ),
        rows=[
            (
                str(one.recorded.seq),
                one.recorded.occurred_on.isoformat(),
                one.lot,
                one.form,
                kg_text(one.book_g),
                kg_text(one.found_g),
                kg_text(one.difference_g),
                kg_text(int(one.allowed_g)),
                "within" if one.is_within else "DIFFERS",
            )
            for one in found.counts
        ],
        notes=[_count_note(found)],
    )


def _count_note(found: Reconciliation) -> str:
    if not found.counts:
        return "Nothing was counted, so the closing stock is the book's alone."
    total_g = sum(one.difference_g for one in found.counts)
    return (
        f"{len(found.counts)} counts differ by {kg_text(total_g)} kg together. A "
        "difference is not absorbed: write off what is missing (lot.written_off), or "
        "correct the entry that is wrong."
    )
