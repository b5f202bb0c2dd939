"""A trace drawn so that one can walk it: every box leads somewhere and says what it is.

The drawing is the one on paper, without its title, and with a link around every box. The
marks on boxes and links tell a script which box lies beside which, and which links touch
it; the stops tell a reader the same in words.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import AbstractContextManager
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from ledger.books.trace import Trace, TracedLot, Way, totals
from ledger.reports.genealogy_boxes import Box, Layout, Link, Sort
from ledger.reports.genealogy_frame import Frame
from ledger.reports.genealogy_layout import lay_out
from ledger.reports.genealogy_svg import description_of, draw_flow, height_of
from ledger.reports.svg import Drawing, Sheet
from ledger.reports.trace_table import trace_title

MOST_BOXES: Final = 6
"""Boxes of a column beside the one of what is folded, so that a screen holds them."""
MOST_LINKS: Final = 200
"""Links that a drawing has; where there would be more, more lots are folded."""
MOST_LEGS: Final = 5
"""Neighbours that a stop names, the largest first."""
MOST_THROUGH: Final = 20
"""Shipments or sales that a stop names."""
MOST_FOLDED: Final = 60
"""Folded lots that a stop names; the table of the trace has them all."""
_TOP: Final = 480
"""Height that the title takes on paper; on a page it stands above the drawing."""


@dataclass(frozen=True, slots=True)
class Leg:
    """Mass that goes from one stop to the next.

    Attributes:
        number: Number of the other stop.
        name: What the other stop is called.
        grams: How much.
    """

    number: int
    name: str
    grams: Fraction


@dataclass(frozen=True, slots=True)
class Stop:
    """One box of a drawing, in words.

    Attributes:
        number: Its number, column by column from the left, each from the top.
        sort: What it stands for.
        name: What is written in it.
        column: What the boxes of its column have in common.
        grams: Traced mass that passes through it.
        lot: Of a lot, the lot.
        comes_from: Where the mass comes from, most of it first.
        goes_to: Where it goes, most of it first.
        leaves: Of a lot, what left it and went into no other, by how.
        through: Of a supplier the shipments that the mass came with, of a customer the
            sales that it went with, by name.
        folded: Of what was folded into it, the names.
        folds_lots: Whether these are lots, and not suppliers or customers.
    """

    number: int
    sort: Sort
    name: str
    column: tuple[str, ...]
    grams: Fraction
    lot: TracedLot | None
    comes_from: tuple[Leg, ...]
    goes_to: tuple[Leg, ...]
    leaves: Mapping[Way, Fraction]
    through: tuple[str, ...]
    folded: tuple[str, ...]
    folds_lots: bool


@dataclass(frozen=True, slots=True)
class Walk:
    """A trace to walk.

    Attributes:
        drawing: The drawing; every box in it is a link.
        stops: Its boxes in words, by number.
        start: Number of the stop to start from: what the trace was asked about.
    """

    drawing: Drawing
    stops: tuple[Stop, ...]
    start: int


def walk_of(
    trace: Trace,
    *,
    address_of: Callable[[Stop], str],
    told: Callable[[Stop], str],
    says: Callable[[str], str] = str,
) -> Walk | None:
    """Return a trace to walk, or None where there is nothing to trace.

    Args:
        trace: The trace.
        address_of: Where the box of a stop leads.
        told: What the box of a stop is called, for those who do not see it.
        says: Says words in the reader's language.
    """
    layout = _fitting(trace)
    stops = tuple(_stops(trace, layout))
    if not stops:
        return None
    asked = [number for number, box in enumerate(_boxes(layout)) if box.is_asked]
    start = max(asked, key=lambda number: stops[number].grams, default=0)
    frame = Frame(layout, range(len(layout.columns)), least_width=0)
    sheet = Sheet(
        frame.width,
        height_of(layout, frame),
        title=trace_title(trace),
        description=description_of(trace, says),
        top=_TOP,
    )
    numbers = _numbers(layout)

    def within(sheet: Sheet, part: Box | Link) -> AbstractContextManager[None]:
        if isinstance(part, Link):
            return sheet.group(_ends(part, numbers))
        stop = stops[numbers[id(part)]]
        return sheet.link(address_of(stop), says=told(stop), marks=_marks(stop, part))

    draw_flow(sheet, trace, layout, frame, within, says=says)
    return Walk(sheet.finished(), stops, start)


def _fitting(trace: Trace) -> Layout:
    """Return the largest layout that a page has room for."""
    boxes = MOST_BOXES
    layout = lay_out(trace, most_boxes=boxes)
    while len(layout.links) > MOST_LINKS and boxes > 1:
        boxes -= 1
        layout = lay_out(trace, most_boxes=boxes)
    return layout


def _boxes(layout: Layout) -> list[Box]:
    return [box for column in layout.columns for box in column.boxes]


def _numbers(layout: Layout) -> dict[int, int]:
    """Return the number of every box, by its identity."""
    return {id(box): number for number, box in enumerate(_boxes(layout))}


def _stops(trace: Trace, layout: Layout) -> Iterator[Stop]:
    numbers = _numbers(layout)
    lots = {found.lot: found for found in trace.lots}
    leaves: dict[str, list[tuple[Way, Fraction]]] = defaultdict(list)
    for outcome in trace.outcomes:
        leaves[outcome.lot].append((outcome.way, outcome.grams))
    into: dict[int, list[tuple[Link, Box]]] = defaultdict(list)
    out_of: dict[int, list[tuple[Link, Box]]] = defaultdict(list)
    for link in layout.links:
        into[id(link.target)].append((link, link.source))
        out_of[id(link.source)].append((link, link.target))
    for number, box in enumerate(_boxes(layout)):
        is_lot = box.sort is Sort.LOT
        yield Stop(
            number=number,
            sort=box.sort,
            name=box.name,
            column=layout.columns[box.column].heading,
            grams=box.grams,
            lot=lots[box.name] if is_lot else None,
            comes_from=tuple(_legs(into[id(box)], numbers)),
            goes_to=tuple(_legs(out_of[id(box)], numbers)),
            leaves=totals(leaves[box.name]) if is_lot else {},
            through=_through(trace, box),
            folded=box.folded,
            folds_lots=all(name in lots for name in box.folded),
        )


def _through(trace: Trace, box: Box) -> tuple[str, ...]:
    if box.sort is Sort.SUPPLIER:
        sources = [origin.source for origin in trace.origins if origin.source]
        names = {one.shipment for one in sources if one.supplier == box.name}
    elif box.sort is Sort.CUSTOMER:
        names = {
            outcome.name
            for outcome in trace.outcomes
            if outcome.customer == box.name and outcome.grams
        }
    else:
        names = set()
    return tuple(sorted(names))


def _legs(
    links: Iterable[tuple[Link, Box]], numbers: Mapping[int, int]
) -> Iterator[Leg]:
    """Yield legs along links: those with the stream first, and the largest of them."""

    def rank(one: tuple[Link, Box]) -> tuple[bool, Fraction, str]:
        link, other = one
        return link.span <= 0, -link.grams, other.name

    for link, other in sorted(links, key=rank):
        yield Leg(numbers[id(other)], other.name, link.grams)


def _marks(stop: Stop, box: Box) -> dict[str, str]:
    return {
        "data-stop": str(stop.number),
        "data-column": str(box.column),
        "data-from": " ".join(str(leg.number) for leg in stop.comes_from),
        "data-to": " ".join(str(leg.number) for leg in stop.goes_to),
    }


def _ends(link: Link, numbers: Mapping[int, int]) -> dict[str, str]:
    return {
        "data-leaves": str(numbers[id(link.source)]),
        "data-enters": str(numbers[id(link.target)]),
    }
