"""Why so much of some goods came from one lot: ratios multiplied along each way, summed.

From the goods back to the lot, every lot on a way is one line: what of the goods came
through it is what came through each lot that was made from it, times the part that it was
of all that went in. Written out, that is the product of the ratios along each way from
the lot to the goods, added up over all ways; line by line it stays short where there are
thousands of ways, as in a tank that is never emptied.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction

from ledger.books.asked import goods_of
from ledger.books.effect import Edge, Subject
from ledger.books.paid_weight import kg
from ledger.books.rounding import shown
from ledger.books.shelf import Shelf
from ledger.books.source import edges_upstream, lot_named, passing
from ledger.books.trace import recorded_of
from ledger.books.working import Working
from ledger.errors import NotFoundError

WELL_MIXED = (
    "every batch is well mixed: each output has the composition of all that went in"
)
"""Rule of every line: what holds wherever mass passes a batch."""


@dataclass(frozen=True, slots=True)
class WhyShare:
    """How much of some goods came from one lot.

    Attributes:
        asked: The goods.
        lot: The lot.
        share: Part of the goods that came from it, or through it; 0 to 1.
        grams: The same in grams, exact.
        ways: Number of ways from the lot to the goods.
        workings: How the share and the mass were reached; the last two lines.
    """

    asked: Subject
    lot: str
    share: Fraction
    grams: Fraction
    ways: int
    workings: tuple[Working, ...]


def why_share(shelf: Shelf, asked: Subject, lot: str) -> WhyShare:
    """Return how much of some goods came from a lot, and why.

    Args:
        shelf: What is recorded.
        asked: A lot, batch, sale or shipment.
        lot: A lot that went into it, at any remove.

    Raises:
        NotFoundError: Nothing of a name is recorded, or the lot went into none of it.
    """
    goods = {name: grams for name, grams in goods_of(shelf, asked).items() if grams}
    into = edges_upstream(shelf, goods)
    if lot not in into:
        raise NotFoundError(
            f"lot {lot} did not go into {asked}; name one of the lots that "
            f"`evenweight trace {asked.name}` lists"
        )
    whole_g = sum(goods.values())
    parts = {name: Fraction(grams, whole_g) for name, grams in goods.items()}
    through = dict(passing(into, parts))
    out_of = _out_of(into)
    way = _towards(out_of, lot)
    ordered = [name for name in through if name in way]
    workings = [
        _working(shelf, name, goods, whole_g, out_of[name], into, through[name])
        for name in ordered
    ]
    share = through[lot]
    workings += [
        Working(
            f"part of {asked} that came from lot {lot}",
            shown(share),
            reckoning=f"[{lot}]",
        ),
        Working(
            f"mass of it, of {kg(whole_g)} kg",
            f"{shown(share * whole_g / 1000)} kg",
            reckoning=f"[{lot}] * {kg(whole_g)}",
        ),
    ]
    return WhyShare(
        asked=asked,
        lot=lot,
        share=share,
        grams=share * whole_g,
        ways=_ways(ordered, goods, out_of),
        workings=tuple(workings),
    )


def _out_of(into: Mapping[str, Iterable[Edge]]) -> dict[str, list[Edge]]:
    found: dict[str, list[Edge]] = defaultdict(list)
    for edges in into.values():
        for edge in edges:
            found[edge.source].append(edge)
    return found


def _towards(out_of: Mapping[str, Iterable[Edge]], lot: str) -> set[str]:
    """Return a lot and every lot on a way from it to the goods."""
    found, waiting = {lot}, [lot]
    while waiting:
        for edge in out_of.get(waiting.pop(), ()):
            if edge.target not in found:
                found.add(edge.target)
                waiting.append(edge.target)
    return found


def _working(
    shelf: Shelf,
    lot: str,
    goods: Mapping[str, int],
    whole_g: int,
    edges: Iterable[Edge],
    into: Mapping[str, Iterable[Edge]],
    through: Fraction,
) -> Working:
    """Return the line of one lot: which part of the goods came through it."""
    terms, batches = [], []
    if lot in goods:
        terms.append(f"{kg(goods[lot])} / {kg(whole_g)}")
    for edge in edges:
        total_g = sum(other.grams for other in into[edge.target])
        terms.append(f"[{edge.target}] * {kg(edge.grams)} / {kg(total_g)}")
        made = recorded_of(lot_named(shelf, edge.target, field="lot"))
        batches.append(f"{edge.target} (entry {made.seq})")
    went = f", went into {', '.join(batches)}" if batches else ""
    asked = ", asked about" if lot in goods else ""
    what = lot_named(shelf, lot, field="lot")
    return Working(
        f"[{lot}] {what.form}{asked}{went}",
        shown(through),
        "",
        recorded_of(what).seq,
        reckoning=" + ".join(terms),
    )


def _ways(
    ordered: Iterable[str],
    goods: Mapping[str, int],
    out_of: Mapping[str, Iterable[Edge]],
) -> int:
    """Return the number of ways from the last of some lots to the goods."""
    ways: dict[str, int] = {}
    last = ""
    for last in ordered:
        ways[last] = (last in goods) + sum(ways[e.target] for e in out_of.get(last, ()))
    return ways.get(last, 0)
