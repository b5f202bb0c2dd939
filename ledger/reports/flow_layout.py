"""Where the streams of a drawn flow of mass lie: to scale, and never one on another.

Mass runs from left to right through columns. What skips a column passes it below the forms
that stand in it, in a lane that it shares with all that goes to the same end, so every
column is as high as all that came in. What goes back in as rework runs below everything.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Final

from ledger.books.mass_flow import MassFlow, Sort, Station
from ledger.books.source import exact_sum
from ledger.trade.words import Form

_MOST_SUPPLIERS: Final = 8
_LEAST_LOSS: Final = Fraction(1, 100)
_ORDER: Final = (
    Form.INGREDIENT,
    *(form for form in Form if form is not Form.INGREDIENT),
)


@dataclass(slots=True, eq=False)
class Node:
    """A station, or a place where a column is passed on the way to one.

    Attributes:
        station: The station.
        column: Number of its column, from the left.
        is_passing: Whether it is only passed here.
        came: Grams that come in from the left, by node.
        went: Grams that leave to the right, by node.
        back_in: Grams that come in as rework.
        back_out: Grams that leave as rework.
    """

    station: Station
    column: int
    is_passing: bool = False
    came: dict["Node", Fraction] = field(default_factory=dict)
    went: dict["Node", Fraction] = field(default_factory=dict)
    back_in: dict["Node", Fraction] = field(default_factory=dict)
    back_out: dict["Node", Fraction] = field(default_factory=dict)

    @property
    def grams(self) -> Fraction:
        """Grams that pass through it."""
        came = [*self.came.values(), *self.back_in.values()]
        return exact_sum(came or [*self.went.values(), Fraction(0)])


@dataclass(frozen=True, slots=True)
class FlowLayout:
    """A flow of mass laid out in columns, each from top to bottom."""

    columns: Sequence[Sequence[Node]]

    @property
    def nodes(self) -> list[Node]:
        """Every node, column by column."""
        return [node for column in self.columns for node in column]


def lay_out_flow(flow: MassFlow) -> FlowLayout:
    """Return the columns of a flow of mass."""
    grams = _folded(flow)
    columns = _columns(grams)
    nodes: dict[tuple[Station, int], Node] = {}
    for (source, target), moved in grams.items():
        first, last = columns[source], columns[target]
        if last <= first:
            start = _node(nodes, source, first, last=first)
            end = _node(nodes, target, last, last=last)
            _add(start.back_out, end, moved)
            _add(end.back_in, start, moved)
            continue
        before = _node(nodes, source, first, last=first)
        for column in range(first + 1, last + 1):
            node = _node(nodes, target, column, last=last)
            _add(before.went, node, moved)
            _add(node.came, before, moved)
            before = node
    ranks = _ranks(grams)
    placed = sorted(nodes.values(), key=lambda n: (n.is_passing, *ranks[n.station]))
    count = max(columns.values(), default=-1) + 1
    return FlowLayout([[n for n in placed if n.column == at] for at in range(count)])


_Grams = Mapping[tuple[Station, Station], Fraction]


def _folded(flow: MassFlow) -> _Grams:
    """Return a flow in which the smallest of many suppliers or losses stand together."""
    through = _through(flow.grams)
    by_size = sorted(through, key=lambda one: (-through[one], one))
    suppliers = [one for one in by_size if one.sort is Sort.SUPPLIER]
    suppliers = suppliers[_MOST_SUPPLIERS - 1 :]
    losses = [
        one
        for one in by_size
        if one.sort is Sort.LOST and through[one] < _LEAST_LOSS * flow.came_in_g
    ]
    told: dict[Station, Station] = {}
    for small, words in (
        (suppliers, f"{len(suppliers)} more suppliers"),
        (losses, f"{len(losses)} other reasons"),
    ):
        if len(small) > 1:
            rest = Station(small[0].sort, words)
            told |= dict.fromkeys(small, rest)
    found: dict[tuple[Station, Station], list[Fraction]] = defaultdict(list)
    for (source, target), moved in flow.grams.items():
        found[told.get(source, source), told.get(target, target)].append(moved)
    return {pair: exact_sum(parts) for pair, parts in found.items()}


def _through(grams: _Grams) -> dict[Station, Fraction]:
    """Return what passes through every station."""
    found: dict[Station, list[Fraction]] = defaultdict(list)
    for (source, target), moved in grams.items():
        found[target].append(moved)
        if source.sort is Sort.SUPPLIER:
            found[source].append(moved)
    return {station: exact_sum(parts) for station, parts in found.items()}


def _columns(pairs: Iterable[tuple[Station, Station]]) -> dict[Station, int]:
    """Return the column of every station: suppliers first, ends last.

    A form stands behind all forms before it that it was made from.
    """
    before: dict[Station, set[Station]] = defaultdict(set)
    stations: set[Station] = set()
    for source, target in pairs:
        stations |= {source, target}
        if source.sort is target.sort is Sort.FORM and _place(source) < _place(target):
            before[target].add(source)
    forms = sorted((s for s in stations if s.sort is Sort.FORM), key=_place)
    columns: dict[Station, int] = {}
    for form in forms:
        columns[form] = 1 + max((columns[one] for one in before[form]), default=0)
    end = 1 + max(columns.values(), default=0)
    for station in stations:
        if station.sort is not Sort.FORM:
            columns[station] = 0 if station.sort is Sort.SUPPLIER else end
    return columns


def _place(form: Station) -> int:
    return _ORDER.index(Form(form.name))


def _node(
    nodes: dict[tuple[Station, int], Node], station: Station, column: int, *, last: int
) -> Node:
    key = station, column
    if key not in nodes:
        nodes[key] = Node(station, column, is_passing=column < last)
    return nodes[key]


def _add(found: dict[Node, Fraction], node: Node, grams: Fraction) -> None:
    found[node] = found.get(node, Fraction(0)) + grams


def _ranks(grams: _Grams) -> dict[Station, tuple[Sort, Fraction, Fraction, str]]:
    """Return where stations stand in a column: forms on top, losses at the bottom.

    The largest stands on top; suppliers stand as what they mainly supply does.
    """
    through = _through(grams)
    supplied: dict[Station, list[tuple[Fraction, Fraction]]] = defaultdict(list)
    for (source, target), moved in grams.items():
        if source.sort is Sort.SUPPLIER:
            supplied[source].append((moved, through[target]))
    ranks = {}
    for station, passing in through.items():
        _, main = max(supplied[station], default=(passing, passing))
        ranks[station] = (station.sort, -main, -passing, station.name)
    return ranks
