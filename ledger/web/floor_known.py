"""What the forms of the floor offer to choose from: lots on hand, places, machines."""

from collections.abc import Iterator
from datetime import date
from itertools import islice
from typing import Final

from ledger.books.holds import open_holds
from ledger.books.lookup import expect
from ledger.books.shelf import Shelf
from ledger.books.stock import OnHand, stock_on
from ledger.reports.figures import kg_text
from ledger.trade.batch import BatchMade
from ledger.trade.recipe import RecipePublished
from ledger.web.entry_fields import Choice

_LAST_BATCHES: Final = 200


def lots_on_hand(shelf: Shelf) -> Iterator[Choice]:
    """Yield every lot of which something is on hand, with form, mass, place and hold."""
    for held in stock_on(shelf, date.max):
        yield held.lot, " · ".join(told_of(held))


def told_of(held: OnHand) -> Iterator[str]:
    """Yield what somebody wants to know of a lot before using it."""
    if held.hold is not None:
        yield f"ON HOLD: {held.hold}"
    if held.form is not None:
        yield held.form
    yield f"{kg_text(held.grams)} kg"
    if held.place is not None:
        yield held.place


def places(shelf: Shelf) -> Iterator[Choice]:
    """Yield the places where something lies, by name."""
    found = {held.place for held in stock_on(shelf, date.max) if held.place}
    yield from ((place, place) for place in sorted(found))


def recipes(shelf: Shelf) -> Iterator[Choice]:
    """Yield every recipe, the youngest first."""
    for found in reversed(shelf.of_kind("recipe.published")):
        recipe = expect(found.record, RecipePublished)
        yield recipe.recipe, f"{recipe.recipe} · {recipe.product}"


def machines(shelf: Shelf) -> Iterator[Choice]:
    """Yield the machines and tanks of the last batches, by name."""
    last = islice(reversed(shelf.of_kind("batch.made")), _LAST_BATCHES)
    found = {expect(one.record, BatchMade).equipment for one in last} - {None}
    yield from ((name, name) for name in sorted(map(str, found)))


def holds(shelf: Shelf) -> Iterator[Choice]:
    """Yield the holds that are not released."""
    for held in open_holds(shelf, date.max):
        lots = ", ".join(lot for lot, _ in held.lots)
        yield held.hold, f"{held.hold} · {lots} · {held.reason}"
