"""Where the lots of a trace lie on a drawing: columns from cooperatives to customers.

A column holds the lots that came out of one step of making in one form, so that mass
runs from left to right; what goes back in as rework runs against it. Small lots of a
long column are folded into one box, and what is left, lost or written off stands below
the column it left.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction
from typing import Final

from ledger.books.source import MadeLot, exact_sum
from ledger.books.trace import Direction, Trace, TracedLot, Way, totals
from ledger.reports.genealogy_boxes import Box, Column, Layout, Link, Sort
from ledger.reports.genealogy_order import straighten, untangle
from ledger.trade.words import Form, Step

_MOST_BOXES: Final = 8
"""Boxes of a column beside the one of what is folded."""
_LEAST_SHARE: Final = Fraction(1, 2000)

_Place = tuple[int, int]
"""Where a column belongs: by the form its lots are in, then by the step."""
_SUPPLIERS: Final[_Place] = (-2, 0)
_RECEIVED: Final[_Place] = (-1, 0)
_CUSTOMERS: Final[_Place] = (len(Form), 0)


_NOUNS: Final = {
    Sort.SUPPLIER: "suppliers",
    Sort.LOT: "lots",
    Sort.CUSTOMER: "customers",
}


def lay_out(trace: Trace, *, most_boxes: int = _MOST_BOXES) -> Layout:
    """Return where everything in a trace lies.

    Args:
        trace: The trace.
        most_boxes: Boxes that a column has beside the one of what is folded.
    """
    places = _places(trace)
    boxes = _boxes(trace, places, most_boxes)
    links = _links(trace, boxes)
    _weigh_folded_lots(trace, boxes, links)
    columns = _columns(trace, places, boxes)
    untangle(columns, links)
    straighten(columns, links)
    return Layout(columns, links)


def _places(trace: Trace) -> dict[str, _Place]:
    """Return the column of every lot; a split lot stays beside what it was split from."""
    parents: dict[str, list[str]] = defaultdict(list)
    for flow in trace.flows:
        parents[flow.target].append(flow.source)
    places: dict[str, _Place] = {}
    for found in trace.lots:
        if not isinstance(found.what, MadeLot):
            places[found.lot] = _RECEIVED
        elif found.what.made.step is Step.SPLIT and parents[found.lot]:
            places[found.lot] = max(places[parent] for parent in parents[found.lot])
        else:
            form, step = list(Form).index(found.form), list(Step).index(_step(found))
            places[found.lot] = (form, step)
    return places


def _step(found: TracedLot) -> Step:
    return found.what.made.step if isinstance(found.what, MadeLot) else Step.SPLIT


_Boxes = dict[tuple[_Place, str], Box]
"""The box of every supplier, lot and customer; those folded share one."""


def _boxes(trace: Trace, places: Mapping[str, _Place], most: int) -> _Boxes:
    asked = trace.goods
    by_place: dict[_Place, list[Box]] = defaultdict(list)
    for name, grams in trace.suppliers.items():
        by_place[_SUPPLIERS].append(Box(Sort.SUPPLIER, name, grams))
    for found in trace.lots:
        box = Box(Sort.LOT, found.lot, found.grams, is_asked=found.lot in asked)
        by_place[places[found.lot]].append(box)
    for name, grams in trace.customers.items():
        if grams:
            by_place[_CUSTOMERS].append(Box(Sort.CUSTOMER, name, grams))
    return {
        (place, name): box
        for place, boxes in by_place.items()
        for name, box in _folded(trace, boxes, most).items()
    }


def _folded(trace: Trace, boxes: Sequence[Box], most: int) -> dict[str, Box]:
    """Return the box of every name: its own, or for the smallest a common one.

    Lots of which next to nothing is traced are folded even where few are.
    """
    sort = boxes[0].sort
    by_size = sorted(boxes, key=lambda box: (not box.is_asked, -box.grams, box.name))
    worth = [
        box
        for box in by_size
        if box.is_asked
        or sort is not Sort.LOT
        or trace.share(box.grams) >= _LEAST_SHARE
    ]
    kept = min(len(worth), most)
    if len(boxes) - kept == 1:
        kept = len(boxes)
    folded = by_size[kept:]
    words = f"and {len(folded)} more {_NOUNS[sort]}"
    grams = [] if sort is Sort.LOT else [box.grams for box in folded]
    names = tuple(box.name for box in folded)
    rest = Box(Sort.REST, words, exact_sum(grams), folded=names)
    return {
        box.name: box if place < kept else rest for place, box in enumerate(by_size)
    }


def _links(trace: Trace, boxes: _Boxes) -> list[Link]:
    at = {name: box for (place, name), box in boxes.items() if _is_lot(place)}
    pairs = [
        (boxes[_SUPPLIERS, origin.source.supplier], at[origin.lot], origin.grams)
        for origin in trace.origins
        if origin.source is not None
    ]
    pairs += [(at[flow.source], at[flow.target], flow.grams) for flow in trace.flows]
    pairs += [
        (at[sold.lot], boxes[_CUSTOMERS, sold.customer], sold.grams)
        for sold in trace.outcomes
        if sold.way is Way.SOLD and sold.grams
    ]
    found: dict[tuple[int, int], Link] = {}
    for source, target, grams in pairs:
        if source is not target:
            key = id(source), id(target)
            before = found[key].grams if key in found else Fraction(0)
            found[key] = Link(source, target, before + grams)
    return list(found.values())


def _is_lot(place: _Place) -> bool:
    return place not in {_SUPPLIERS, _CUSTOMERS}


def _weigh_folded_lots(trace: Trace, boxes: _Boxes, links: Iterable[Link]) -> None:
    """Let a box of folded lots weigh what came into it from outside.

    Mass that passed through several of them is in it once.
    """
    folded = {
        name: box
        for (place, name), box in boxes.items()
        if _is_lot(place) and box.sort is Sort.REST
    }
    rests = {id(box) for box in folded.values()}
    for link in links:
        if id(link.target) in rests:
            link.target.grams += link.grams
    for origin in trace.origins:
        if origin.source is None and origin.lot in folded:
            folded[origin.lot].grams += origin.grams


def _columns(trace: Trace, places: Mapping[str, _Place], boxes: _Boxes) -> list[Column]:
    leaving = _leaving(trace, places)
    headings = {
        _SUPPLIERS: ("bought from",),
        _RECEIVED: ("received",),
        _CUSTOMERS: ("sold to",),
    }
    columns = []
    for number, place in enumerate(sorted({place for place, _ in boxes})):
        own = {id(box): box for (at, _), box in boxes.items() if at == place}
        for box in own.values():
            box.column = number
        heading = headings.get(place) or _heading(place)
        columns.append(Column(heading, list(own.values()), leaving.get(place, {})))
    return columns


def _heading(place: _Place) -> tuple[str, ...]:
    form, step = place
    return list(Step)[step].value, list(Form)[form].value


def _leaving(
    trace: Trace, places: Mapping[str, _Place]
) -> dict[_Place, dict[Way, Fraction]]:
    """Return what left by the column it left; a loss by the step that lost it."""
    if trace.direction is Direction.BACK:
        return {}
    made_in = {
        found.what.made.batch: places[found.lot]
        for found in trace.lots
        if isinstance(found.what, MadeLot)
    }
    found: dict[_Place, list[tuple[Way, Fraction]]] = defaultdict(list)
    for outcome in trace.outcomes:
        if outcome.way is Way.LOST:
            found[made_in[outcome.name]].append((outcome.way, outcome.grams))
        elif outcome.way is not Way.SOLD:
            found[places[outcome.lot]].append((outcome.way, outcome.grams))
    return {place: totals(parts) for place, parts in found.items()}
