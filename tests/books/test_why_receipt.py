"""ledger.books.why_receipt: the certificate on which a receipt counts."""

from ledger.books.effect import Cause
from tests.books.told import told
from tests.world import MAKER, claim, opened


def test_the_certificate_named_is_one_that_covers_the_custody_claimed() -> None:
    """An earlier one of the same seller, for segregated goods alone, says nothing."""
    world = opened()
    world.terms()
    world.certify(MAKER)
    world.certify("alder", certificate="narrow", custody=["segregated"])
    wide = world.certify("alder", certificate="wide", custody=["mass balance"])
    world.sign("C", "alder", claim())
    world.receive({"L": "100"})

    [counts] = [
        line
        for text, line in told(world, Cause.RECEIVED).items()
        if text.startswith("the claim fairfield, mass balance counts: alder had a")
    ]

    assert (counts.figure, counts.entry) == ("counts", wide)
