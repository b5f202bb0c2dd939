"""Tables of a trace: its lots, where the mass came in, and where it left."""

from fractions import Fraction
from typing import Final

from ledger.books.source import MadeLot, SourceLot
from ledger.books.trace import Direction, Origin, Outcome, Trace, TracedLot, Way
from ledger.reports.figures import mass_text, percent_text
from ledger.reports.tables import Column, Table

SHOWN: Final = (
    "Masses are shown to the nearest gram and shares to 0.0001 per cent; they are exact "
    "in the books."
)
_MASS: Final = Column("mass_kg", "Mass", is_figure=True, unit="kg", width=12)
_SHARE: Final = Column("share_percent", "Share", is_figure=True, unit="%", width=11)


def trace_table(trace: Trace) -> Table:
    """Return a whole trace: where mass came in, every lot on the way, where it left."""
    return Table(
        title=trace_title(trace),
        columns=(
            Column("part", "Part", width=9),
            Column("lot", "Lot", width=16),
            Column("form", "Form", width=12),
            Column("on", "On", width=11),
            Column("entry", "Entry", is_figure=True, width=8),
            Column("through", "Through", width=20),
            Column("party", "Party", width=16),
            _MASS,
            _SHARE,
        ),
        rows=[
            *(_origin_row(trace, origin) for origin in trace.origins),
            *(_lot_row(trace, lot) for lot in trace.lots),
            *(_outcome_row(trace, outcome) for outcome in trace.outcomes),
        ],
        notes=[SHOWN],
    )


def trace_title(trace: Trace) -> str:
    """Return what a trace shows, in words."""
    asked, kg = trace.asked, mass_text(trace.grams)
    if trace.direction is Direction.BACK:
        return f"Trace of {asked} back to growers: {kg} kg"
    if trace.until is None:
        return f"Trace of {asked} forward: {kg} kg"
    return f"Trace of {asked} forward, up to {trace.until}: {kg} kg"


def _origin_row(trace: Trace, origin: Origin) -> tuple[str, ...]:
    source = origin.source
    return (
        "came in",
        origin.lot,
        "" if source is None else source.form,
        "" if source is None else source.receipt.occurred_on.isoformat(),
        "" if source is None else str(source.receipt.seq),
        "" if source is None else f"shipment {source.shipment}",
        "" if source is None else source.supplier,
        *_mass(trace, origin.grams),
    )


def _lot_row(trace: Trace, lot: TracedLot) -> tuple[str, ...]:
    return (
        "lot",
        lot.lot,
        lot.form,
        lot.recorded.occurred_on.isoformat(),
        str(lot.recorded.seq),
        given_by(lot.what),
        "",
        *_mass(trace, lot.grams),
    )


def _outcome_row(trace: Trace, outcome: Outcome) -> tuple[str, ...]:
    return (
        "left",
        outcome.lot,
        "",
        "",
        "",
        _left_by(outcome),
        outcome.customer,
        *_mass(trace, outcome.grams),
    )


def _left_by(outcome: Outcome) -> str:
    """Return how mass left, such as "sold S-2" or "lost in making R-12, dust"."""
    match outcome.way:
        case Way.SOLD:
            return f"sold {outcome.name}"
        case Way.LOST:
            return f"lost in making {outcome.name}, {outcome.reason}"
        case Way.WRITTEN_OFF:
            return f"written off, {outcome.reason}"
        case way:
            return way


def given_by(what: SourceLot | MadeLot) -> str:
    """Return what a lot came from, such as "batch R-12, roast"."""
    if isinstance(what, MadeLot):
        return f"batch {what.made.batch}, {what.made.step}"
    return f"shipment {what.shipment}"


def _mass(trace: Trace, grams: Fraction) -> tuple[str, str]:
    return mass_text(grams), percent_text(trace.share(grams))


def walk_lots_table(trace: Trace, *, most: int) -> Table:
    """Return the lots that goods came through, in the order of making.

    Args:
        trace: A trace back.
        most: How many lots to show; those that most of the goods came through.
    """
    by_mass = sorted(trace.lots, key=lambda lot: (-lot.grams, lot.lot))[:most]
    shown = {lot.lot for lot in by_mass}
    left_out = len(trace.lots) - len(shown)
    notes = []
    if left_out:
        notes.append(
            f"{left_out} further lots, through each of which less of it came, are left "
            "out here; the trace command lists them all."
        )
    return Table(
        title="Lots it came through, first to last",
        columns=(
            Column("lot", "Lot", width=18),
            Column("form", "Form", width=13),
            Column("given_by", "Given by", width=26),
            Column("on", "On", width=12),
            Column("entry", "Entry", is_figure=True, width=8),
            _MASS,
            _SHARE,
        ),
        rows=[
            (
                lot.lot,
                lot.form,
                given_by(lot.what),
                lot.recorded.occurred_on.isoformat(),
                str(lot.recorded.seq),
                *_mass(trace, lot.grams),
            )
            for lot in trace.lots
            if lot.lot in shown
        ],
        notes=notes,
    )


def walk_sources_table(trace: Trace) -> Table:
    """Return the purchases that goods came from, largest share first."""
    origins = sorted(trace.origins, key=lambda origin: (-origin.grams, origin.lot))
    return Table(
        title="Purchases it came from",
        columns=(
            Column("lot", "Lot", width=15),
            Column("shipment", "Shipment", width=12),
            Column("contract", "Contract", width=12),
            Column("supplier", "Supplier", width=18),
            Column("origin", "Origin", width=8),
            Column("goods", "Goods", width=24),
            _MASS,
            _SHARE,
        ),
        rows=[_source_row(trace, origin) for origin in origins],
        notes=[f"Together {mass_text(trace.grams)} kg, 100 per cent of what was sold."],
    )


def destinations_table(trace: Trace) -> Table:
    """Return where goods are now, as far as it is recorded: with whom, or how they left.

    Args:
        trace: A trace forward.
    """
    ways = {way: grams for way, grams in trace.ways.items() if way is not Way.SOLD}
    parts = [
        *((Way.SOLD, party, grams) for party, grams in trace.customers.items()),
        *((way, "", grams) for way, grams in ways.items()),
    ]
    return Table(
        title="Where it went",
        columns=(
            Column("way", "How", width=16),
            Column("party", "Party", width=18),
            _MASS,
            _SHARE,
        ),
        rows=[
            (way, party, *_mass(trace, grams)) for way, party, grams in parts if grams
        ],
        notes=[f"Together {mass_text(trace.grams)} kg, 100 per cent of what came in."],
    )


def _source_row(trace: Trace, origin: Origin) -> tuple[str, ...]:
    source = origin.source
    if source is None:
        return (origin.lot, "", "", "", "", "", *_mass(trace, origin.grams))
    return (
        origin.lot,
        source.shipment,
        source.contract or "none",
        source.supplier,
        source.origin or "",
        f"{source.commodity}, {'organic' if source.organic else 'conventional'}",
        *_mass(trace, origin.grams),
    )
