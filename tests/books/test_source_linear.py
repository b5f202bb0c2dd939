"""What lots consist of, against a linear solve by NumPy."""

import numpy as np
from hypothesis import given, settings

from ledger.books.source import composition
from tests.books.random_making import Floor, floors


@settings(max_examples=60, deadline=None)
@given(floor=floors())
def test_every_lot_consists_of_what_a_linear_solve_gives(floor: Floor) -> None:
    """With P the part of each lot that came from each other, X = P X + S holds."""
    lots = floor.lots
    place = {lot: number for number, lot in enumerate(lots)}
    came_from = np.zeros((len(lots), len(lots)))
    for lot in lots:
        inputs = floor.inputs_of(lot)
        for source, grams in inputs.items():
            came_from[place[lot], place[source]] = grams / sum(inputs.values())
    sources = list(floor.received)
    itself = np.zeros((len(lots), len(sources)))
    for column, source in enumerate(sources):
        itself[place[source], column] = 1.0

    solved = np.linalg.solve(np.eye(len(lots)) - came_from, itself)

    for lot in lots:
        shares = composition(floor.world.shelf, lot)
        exact = [float(shares.get(source, 0)) for source in sources]
        np.testing.assert_allclose(exact, solved[place[lot]], rtol=1e-9, atol=1e-12)
