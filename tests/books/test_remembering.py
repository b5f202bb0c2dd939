"""What was worked out before is remembered for a while, and forgotten on a change."""

from itertools import count

from ledger.books.certified import sources_of
from ledger.books.remembering import Remembered
from tests.world import certified, claim


def test_it_is_worked_out_once() -> None:
    remembered, numbers = Remembered(), count()

    assert [remembered.get("lot", lambda: next(numbers)) for _ in range(3)] == [0, 0, 0]


def test_it_is_worked_out_again_once_forgotten() -> None:
    remembered = Remembered()
    remembered.get("lot", lambda: 7)
    remembered.forget()

    assert remembered.get("lot", lambda: 8) == 8


def test_what_was_asked_for_longest_ago_is_forgotten_first() -> None:
    remembered = Remembered()
    for number in range(600):
        remembered.get(number, lambda: 0)
        remembered.get("always", lambda: 1)

    assert remembered.get("always", lambda: 2) == 1
    assert remembered.get(599, lambda: 2) == 0
    assert remembered.get(0, lambda: 2) == 2


def test_a_corrected_batch_changes_what_a_lot_is_made_of() -> None:
    world = certified(claim())
    world.receive({"L1": "100", "L2": "100"})
    batch = world.make({"L1": "50"}, {"M": "50"})
    before = sources_of(world.shelf, "M", field="lot")
    world.replace(batch, inputs=[{"lot": "L2", "mass_kg": "50"}])
    after = sources_of(world.shelf, "M", field="lot")

    assert [source.lot for source, _ in before] == ["L1"]
    assert [source.lot for source, _ in after] == ["L2"]


def test_a_corrected_receipt_changes_what_a_lot_is_on_the_same_shelf() -> None:
    world = certified(claim())
    receipt = world.receive({"L1": "100"})
    world.make({"L1": "50"}, {"M": "50"})
    shelf = world.shelf
    [(before, _)] = sources_of(shelf, "M", field="lot")
    recorded, effects = shelf.take(receipt)
    shelf.put(recorded, effects)
    [(after, _)] = sources_of(shelf, "M", field="lot")

    assert before == after
    assert before is not after
