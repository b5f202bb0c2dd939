"""The arithmetic behind a share: ratios multiplied along each way, added up."""

from ledger.books.why_share import WELL_MIXED, WhyShare
from ledger.reports.figures import mass_text, percent_text
from ledger.reports.tables import Column, Table
from ledger.reports.workings import numbered


def explained_share(why: WhyShare) -> str:
    """Return how the share of a lot in some goods was reached, as text."""
    ways = "one way" if why.ways == 1 else f"{why.ways} ways"
    lines = [
        f"Share of lot {why.lot} in {why.asked}, {ways}",
        "A name in square brackets stands for the exact figure of its line.",
        f"{WELL_MIXED[:1].upper()}{WELL_MIXED[1:]}.",
        "",
        *numbered(why.workings),
        f"  shown in a trace as: {percent_text(why.share)} %, {mass_text(why.grams)} kg",
    ]
    return "\n".join(lines) + "\n"


def share_workings_table(why: WhyShare) -> Table:
    """Return the arithmetic behind a share, one line a row."""
    return Table(
        title=f"How the share of lot {why.lot} in {why.asked} was reached",
        columns=(
            Column("line", "Line", is_figure=True, width=5),
            Column("what", "What", width=40),
            Column("figure", "Figure", width=14),
            Column("reckoning", "Arithmetic", width=40),
            Column("entry", "Entry", is_figure=True, width=7),
        ),
        rows=[
            (
                str(number),
                working.text,
                working.figure,
                working.reckoning,
                "" if working.entry is None else str(working.entry),
            )
            for number, working in enumerate(why.workings, start=1)
        ],
        notes=[
            f"Shown in a trace as {percent_text(why.share)} %, {mass_text(why.grams)} kg.",
            f"{WELL_MIXED[:1].upper()}{WELL_MIXED[1:]}.",
        ],
    )
