"""ledger.books.why_posting: what a transfer moved is what its entry states."""

import pytest

from ledger.books.effect import Cause
from tests.books.test_ageing import move
from tests.books.told import told
from tests.world import certified


@pytest.mark.parametrize("site", ["mill", "annex"])
def test_a_transfer_is_told_with_its_entry_on_both_sides(site: str) -> None:
    world = certified(account={"transfers": ["between sites"]})
    world.receive({"L": "100"})
    seq = move(world, "30", "2025-02-01", transfer="T")

    line = told(world, Cause.TRANSFERRED, site=site)["transfer T, bean equivalent"]

    assert (line.figure, line.entry) == ("30.000 kg", seq)
    assert line.rule == "fairfield from 2023-01-01: may be moved between sites"
