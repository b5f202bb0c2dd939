"""A trace as a tree of text, for a terminal or a log."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Final

from ledger.books.source import exact_sum
from ledger.books.trace import (
    Direction,
    Flow,
    Origin,
    Outcome,
    Trace,
    TracedLot,
    Way,
)
from ledger.reports.figures import mass_words, share_words
from ledger.reports.trace_table import given_by, trace_title

_MOST_BRANCHES: Final = 12
_MOST_LEVELS: Final = 16
_MOST_SOURCES: Final = 40
_MOST_LOTS: Final = 200


@dataclass(frozen=True, slots=True)
class Branch:
    """A line of a tree, and the branches below it."""

    text: str
    branches: tuple["Branch", ...] = ()


def tree_lines(trace: Trace) -> list[str]:
    """Return a trace as lines of text: the lots, then the sums."""
    return [line for tree in trees_of(trace) for line in branch_lines(tree)]


def trees_of(trace: Trace) -> tuple[Branch, ...]:
    """Return a trace as two trees: lot by lot, and summed up.

    A lot that several others share is opened once, with all that came by it; where a
    branch carries only a part of that, its line says of how much. Where a tree would
    grow beyond what can be read, the rest is counted; the sums are always of everything.
    """
    lots = _LotTree(trace).grown()
    if trace.direction is Direction.BACK:
        return lots, _came_from(trace)
    return lots, _went_to(trace)


def branch_lines(tree: Branch) -> Iterator[str]:
    """Yield a tree line by line, with its branches drawn."""
    yield tree.text
    for place, branch in enumerate(tree.branches, start=1):
        is_last = place == len(tree.branches)
        first, *rest = branch_lines(branch)
        yield f"{'└─' if is_last else '├─'} {first}"
        for line in rest:
            yield f"{'   ' if is_last else '│  '}{line}"


@dataclass(slots=True)
class _LotTree:
    """Grows the tree of lots of a trace, opening each lot once."""

    trace: Trace
    lots: dict[str, TracedLot] = field(init=False)
    flows: dict[str, list[Flow]] = field(init=False)
    left: dict[str, list[Outcome]] = field(init=False)
    opened: set[str] = field(default_factory=set)

    def __post_init__(self) -> None:
        self.lots = {found.lot: found for found in self.trace.lots}
        self.flows = defaultdict(list)
        self.left = defaultdict(list)
        for flow in self.trace.flows:
            self.flows[flow.target if self._is_back else flow.source].append(flow)
        if not self._is_back:
            for outcome in self.trace.outcomes:
                self.left[outcome.lot].append(outcome)

    @property
    def _is_back(self) -> bool:
        return self.trace.direction is Direction.BACK

    def grown(self) -> Branch:
        """Return the whole tree."""
        branches = [
            self._branch(lot, grams, level=1) for lot, grams in self.trace.goods.items()
        ]
        return Branch(trace_title(self.trace), tuple(branches))

    def _branch(self, lot: str, grams: Fraction, *, level: int) -> Branch:
        found = self.lots[lot]
        whole = f" of {mass_words(found.grams)}" if grams != found.grams else ""
        text = (
            f"{lot} {found.form}, {_measure(self.trace, grams)}{whole}, "
            f"{given_by(found.what)}, {found.recorded.occurred_on}"
        )
        further = len(self.flows[lot]) + len(self.left[lot])
        if further and lot in self.opened:
            return Branch(f"{text}; opened above")
        is_far = level > _MOST_LEVELS or len(self.opened) >= _MOST_LOTS
        if further and (is_far or grams < 1):
            return Branch(f"{text}; not opened here")
        self.opened.add(lot)
        return Branch(text, tuple(self._below(lot, level)))

    def _below(self, lot: str, level: int) -> Iterator[Branch]:
        flows = sorted(self.flows[lot], key=lambda f: (-f.grams, f.source, f.target))
        for flow in flows[:_MOST_BRANCHES]:
            beyond = flow.source if self._is_back else flow.target
            yield self._branch(beyond, flow.grams, level=level + 1)
        yield from _counted(self.trace, flows[_MOST_BRANCHES:], "lots")
        left = sorted(self.left[lot], key=lambda found: -found.grams)
        for outcome in left[:_MOST_BRANCHES]:
            text = f"{_leaving(outcome)}, {_measure(self.trace, outcome.grams)}"
            yield Branch(text + _returned(outcome))
        rest = left[_MOST_BRANCHES:]
        yield from _counted(self.trace, rest, "sales, losses or remainders")


def _counted(
    trace: Trace, rest: Sequence[Flow | Outcome | Origin], nouns: str
) -> Iterator[Branch]:
    if rest:
        grams = exact_sum([part.grams for part in rest])
        yield Branch(f"and {len(rest)} more {nouns}, {_measure(trace, grams)}")


def _leaving(outcome: Outcome) -> str:
    if outcome.way is Way.SOLD:
        return f"sold to {outcome.customer}, sale {outcome.name}"
    if outcome.way is Way.LOST:
        return f"lost in batch {outcome.name}, {outcome.reason}"
    return f"{outcome.way}, {outcome.reason}" if outcome.reason else str(outcome.way)


def _returned(outcome: Outcome) -> str:
    back = outcome.returned_g
    return f"; {mass_words(back)} came back and counts as stock again" if back else ""


def _came_from(trace: Trace) -> Branch:
    origins: dict[str, list[Origin]] = defaultdict(list)
    for origin in sorted(trace.origins, key=lambda found: -found.grams):
        if origin.source is not None:
            origins[origin.source.supplier].append(origin)
    return Branch(
        "Came from",
        tuple(
            Branch(
                f"{name}, {_measure(trace, grams)}",
                tuple(_bought(trace, origins[name])),
            )
            for name, grams in trace.suppliers.items()
        ),
    )


def _bought(trace: Trace, origins: Sequence[Origin]) -> Iterator[Branch]:
    for origin in origins[:_MOST_SOURCES]:
        if origin.source is not None:
            contract = origin.source.contract
            yield Branch(
                f"{origin.lot}, {_measure(trace, origin.grams)}, "
                f"shipment {origin.source.shipment}, "
                f"{f'contract {contract}' if contract else 'without contract'}"
            )
    yield from _counted(trace, origins[_MOST_SOURCES:], "lots")


def _went_to(trace: Trace) -> Branch:
    customers = tuple(
        Branch(f"{name}, {_measure(trace, grams)}")
        for name, grams in trace.customers.items()
    )
    return Branch(
        "Went to",
        tuple(
            Branch(
                f"{way}, {_measure(trace, grams)}",
                customers if way is Way.SOLD else (),
            )
            for way, grams in trace.ways.items()
        ),
    )


def _measure(trace: Trace, grams: Fraction) -> str:
    return f"{mass_words(grams)} ({share_words(trace.share(grams))})"
