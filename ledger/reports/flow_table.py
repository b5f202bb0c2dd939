"""Tables of the flow of mass: both sides of it, and every stream."""

from collections import defaultdict
from fractions import Fraction
from typing import Final

from ledger.books.mass_flow import MassFlow, Sort, Station
from ledger.books.source import exact_sum
from ledger.reports.figures import mass_text, mass_words, percent_text
from ledger.reports.tables import Column, Table

_NAMES: Final = {
    Sort.UNCLAIMED: "sold without a claim",
    Sort.IN_STOCK: "in stock",
    Sort.WRITTEN_OFF: "written off",
}
_MASS: Final = Column("mass_kg", "Mass", is_figure=True, unit="kg", width=14)
_SHARE: Final = Column("share_percent", "Share", is_figure=True, unit="%", width=12)


def flow_title(flow: MassFlow) -> str:
    """Return what a flow of mass shows, in words."""
    return f"Flow of mass up to {flow.until}: {mass_words(flow.came_in_g)} came in"


def station_name(station: Station) -> str:
    """Return what a station is called, such as "lost: shell"."""
    if station.sort is Sort.CLAIMED:
        # Two places in the phrase, so that the custody is said in the reader's language.
        scheme, _, custody = station.name.partition(", ")
        return f"claimed: {scheme}, {custody}"
    if station.sort is Sort.LOST:
        return f"lost: {station.name}"
    return _NAMES.get(station.sort, station.name)


def flow_sides_table(flow: MassFlow) -> Table:
    """Return what came in by supplier and what became of it; both sum to the same."""
    came: dict[Station, list[Fraction]] = defaultdict(list)
    for (source, _), grams in flow.grams.items():
        if source.sort is Sort.SUPPLIER:
            came[source].append(grams)
    suppliers = {source: exact_sum(parts) for source, parts in sorted(came.items())}
    went_g = sum(flow.ends.values(), Fraction(0))
    return Table(
        title=f"What came in up to {flow.until}, and what became of it",
        columns=(
            Column("side", "Side", width=12),
            Column("what", "What", width=40),
            _MASS,
            _SHARE,
        ),
        rows=[
            *(("came in", *_measured(flow, one, g)) for one, g in suppliers.items()),
            ("came in", "together", *_mass(flow, flow.came_in_g)),
            *(("went", *_measured(flow, one, g)) for one, g in flow.ends.items()),
            ("went", "together", *_mass(flow, went_g)),
        ]
        if flow.grams
        else [],
        notes=["Kilograms of goods as weighed, not of bean equivalent."],
    )


def _measured(flow: MassFlow, station: Station, grams: Fraction) -> tuple[str, ...]:
    return station_name(station), *_mass(flow, grams)


def _mass(flow: MassFlow, grams: Fraction) -> tuple[str, str]:
    return mass_text(grams), percent_text(grams / flow.came_in_g)


def flow_table(flow: MassFlow) -> Table:
    """Return every stream of a flow of mass, one a row."""
    return Table(
        title=flow_title(flow),
        columns=(
            Column("from", "From", width=20),
            Column("to", "To", width=30),
            _MASS,
            _SHARE,
        ),
        rows=[
            (station_name(source), *_measured(flow, target, grams))
            for (source, target), grams in flow.grams.items()
        ],
        notes=[
            "Kilograms of goods as weighed, to the nearest gram. Shares are of all goods."
        ],
    )
