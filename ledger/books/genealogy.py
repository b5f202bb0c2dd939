"""Which lots went into which: back to the growers, and forward to the customers.

Only the lots that a question touches are read, a generation at a time. networkx is
loaded when a trace is asked for, since most questions are about something else.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from datetime import date
from fractions import Fraction
from typing import TYPE_CHECKING

from ledger.books.asked import goods_of
from ledger.books.effect import Edge, Subject
from ledger.books.leaving import leaving
from ledger.books.shelf import Shelf
from ledger.books.source import (
    MadeLot,
    SourceLot,
    edges_upstream,
    exact_sum,
    lot_named,
    passing,
)
from ledger.books.trace import (
    Direction,
    Flow,
    Origin,
    Outcome,
    Trace,
    TracedLot,
    Way,
    recorded_of,
    whole_g,
)
from ledger.trade.sale import SaleDispatched

if TYPE_CHECKING:
    from networkx import DiGraph


def lots_upstream(shelf: Shelf, lots: Iterable[str]) -> DiGraph[str]:
    """Return the graph of some lots and every lot that went into them.

    An edge from source to target has in `grams` what the batch that gave the target took
    of the source; of a batch with several outputs each has the same. A node has in `what`
    what the lot is.
    """
    into = edges_upstream(shelf, lots)
    return _graph(shelf, into, (edge for edges in into.values() for edge in edges))


def lots_downstream(
    shelf: Shelf, lots: Iterable[str], *, until: date | None = None
) -> DiGraph[str]:
    """Return the graph of some lots and every lot they went into, up to a day."""
    wanted = set(lots)
    reached: set[str] = set()
    edges: list[Edge] = []
    while wanted:
        reached |= wanted
        found = [
            edge
            for edge in shelf.edges_out_of(wanted)
            if _is_made(shelf, edge.target, until)
        ]
        edges += found
        wanted = {edge.target for edge in found} - reached
    return _graph(shelf, reached, edges)


def _is_made(shelf: Shelf, lot: str, until: date | None) -> bool:
    return (
        until is None
        or recorded_of(lot_named(shelf, lot, field="lot")).occurred_on <= until
    )


def _graph(shelf: Shelf, lots: Iterable[str], edges: Iterable[Edge]) -> DiGraph[str]:
    from networkx import DiGraph  # noqa: PLC0415 - slow to load, and rarely wanted

    graph: DiGraph[str] = DiGraph()
    for lot in lots:
        graph.add_node(lot, what=lot_named(shelf, lot, field="lot"))
    for edge in edges:
        graph.add_edge(edge.source, edge.target, grams=edge.grams)
    return graph


def in_order_of_making(graph: DiGraph[str]) -> Iterator[str]:
    """Yield every lot after all lots that went into it, by date as far as that goes."""
    from networkx import lexicographical_topological_sort  # noqa: PLC0415 - as above

    def made(lot: str) -> tuple[date, int, str]:
        recorded = recorded_of(graph.nodes[lot]["what"])
        return recorded.occurred_on, recorded.slot, lot

    yield from lexicographical_topological_sort(graph, key=made)


def trace_back(shelf: Shelf, asked: Subject) -> Trace:
    """Return where goods came from: every lot in them, down to the received ones.

    Well mixed: each output of a batch has the composition of all that went in, and what
    was lost on the way had it too. So the masses say how much of the goods themselves
    came from a lot; what was lost in making them comes on top, and a trace forward from
    that lot shows it.

    Args:
        shelf: What is recorded.
        asked: A lot, batch, sale or shipment.

    Raises:
        NotFoundError: Nothing of that name is recorded, or the shipment has not arrived.
    """
    goods = {
        lot: Fraction(grams) for lot, grams in goods_of(shelf, asked).items() if grams
    }
    into = edges_upstream(shelf, goods)
    graph = _graph(shelf, into, (edge for edges in into.values() for edge in edges))
    through = dict(passing(into, goods))
    lots = [
        TracedLot(graph.nodes[lot]["what"], through[lot])
        for lot in in_order_of_making(graph)
    ]
    return Trace(
        direction=Direction.BACK,
        asked=asked,
        until=None,
        grams=exact_sum(goods.values()),
        lots=tuple(lots),
        flows=tuple(
            Flow(edge.source, edge.target, through[found.lot] * _part_of(edge, into))
            for found in lots
            for edge in into[found.lot]
        ),
        origins=tuple(
            Origin(found.lot, found.grams, found.what)
            for found in lots
            if isinstance(found.what, SourceLot)
        ),
        outcomes=tuple(_bought(shelf, asked, goods)),
    )


def _part_of(edge: Edge, into: dict[str, list[Edge]]) -> Fraction:
    return Fraction(edge.grams, sum(other.grams for other in into[edge.target]))


def _bought(
    shelf: Shelf, asked: Subject, goods: dict[str, Fraction]
) -> Iterator[Outcome]:
    found = shelf.introducer(asked)
    if found is not None and isinstance(found.record, SaleDispatched):
        for lot, grams in goods.items():
            yield Outcome(
                Way.SOLD, lot, grams, name=asked.name, customer=found.record.customer
            )


def trace_forward(shelf: Shelf, asked: Subject, *, until: date | None = None) -> Trace:
    """Return where lots went: what was made of them, who bought it, what is left.

    The whole of each lot is followed, also of a lot that was only partly sold with the
    sale asked about. A lot's mass is spread over the outputs and losses of a batch in
    proportion to their masses, so nothing is counted twice and nothing goes missing:
    origins and outcomes sum to the mass traced.

    Args:
        shelf: What is recorded.
        asked: A lot, batch, sale or shipment.
        until: Last day to look at, by trade date; what happened later is left out.

    Raises:
        NotFoundError: Nothing of that name is recorded, or the shipment has not arrived.
    """
    starts = [lot for lot, grams in goods_of(shelf, asked).items() if grams]
    graph = lots_downstream(shelf, starts, until=until)
    arriving: dict[str, list[Fraction]] = defaultdict(list)
    lots: list[TracedLot] = []
    flows: list[Flow] = []
    origins: list[Origin] = []
    outcomes: list[Outcome] = []
    for lot in in_order_of_making(graph):
        what: SourceLot | MadeLot = graph.nodes[lot]["what"]
        arrived = exact_sum(arriving.pop(lot, ()))
        if lot in starts:
            source = what if isinstance(what, SourceLot) else None
            origins.append(Origin(lot, whole_g(what) - arrived, source))
            arrived = Fraction(whole_g(what))
        traced = TracedLot(what, arrived)
        lots.append(traced)
        for gone in leaving(shelf, traced, until=until):
            if isinstance(gone, Flow):
                arriving[gone.target].append(gone.grams)
                flows.append(gone)
            else:
                outcomes.append(gone)
    return Trace(
        direction=Direction.FORWARD,
        asked=asked,
        until=until,
        grams=exact_sum([origin.grams for origin in origins]),
        lots=tuple(lots),
        flows=tuple(flows),
        origins=tuple(origins),
        outcomes=tuple(outcomes),
    )
