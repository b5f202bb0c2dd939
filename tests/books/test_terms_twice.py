"""A year under each of the three invented terms files, read a second time entry by entry.

What random ledgers reach by luck happens here for certain: claims that move and keep
their age until they lapse, butter and powder of one liquor, a balance below zero that is
settled, yields measured and corrected, percentages, blends, and corrections of what is
closed.
"""

from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

import pytest

from tests.agreement import assert_agree, assert_limits_agree, lows
from tests.books.random_terms import published
from tests.naive import Naive
from tests.world import MAKER, World, blended, certified, claim, lot

LABEL = {"label": "Supports Lantern growers"}


@dataclass
class Twice(World):
    """A world whose every entry is read a second time when it is recorded."""

    naive: Naive = field(default_factory=Naive)
    """The second reading."""

    def record(self, kind: str, on: str = "2025-01-01", /, **body: Any) -> int:  # noqa: ANN401
        day = datetime.fromisoformat(f"{on}T12:00:00").replace(tzinfo=UTC)
        self.recorded_at = max(day, self.moments[-1]) if self.moments else day
        seq = super().record(kind, on, **body)
        self.naive.read(self.raws[-1])
        assert_agree(self.shelf, self.naive)
        assert_limits_agree(self.shelf, self.naive)
        return seq


def under(*files: str) -> Twice:
    """Return a world under some terms files, with everybody certified."""
    world = Twice()
    world.open()
    for body in map(published, files):
        world.record("terms.published", "2025-01-02", **body)
        for holder in (MAKER, "alder", "birch"):
            kinds = ["cocoa", "sugar", "vanilla"]
            world.certify(holder, body["scheme"], commodities=kinds)
    return world


def move(world: World, kg: str, on: str, to: dict[str, Any]) -> int:
    """Move beans of PE from the mill's first grade."""
    return world.record(
        "claim.transferred",
        on,
        transfer=f"T{len(world.raws)}",
        scheme="lantern",
        origin="PE",
        beans_kg=kg,
        from_={"grade": "grade-1"},
        to=to,
        reason="sold from there",
    )


def test_lantern_moved_parted_below_zero_and_lapsed() -> None:
    world = under("lantern.yaml")
    mine = {**claim(scheme="lantern"), **LABEL}
    world.sign("C", "alder", claim(scheme="lantern"), on="2025-01-03", grade="grade-1")
    world.sign(
        "B", "birch", blended("0.4", "lantern"), on="2025-01-03", grade="grade-2"
    )
    world.sign("P", "alder", on="2025-01-03", grade="grade-1")
    world.receive({"L1": "900.007"}, "2025-01-10", contract="C")
    world.receive([lot("BLEND", "300", "299.999")], "2025-01-11", contract="B")
    world.receive({"PLAIN": "5000"}, "2025-01-12", contract="P")
    move(world, "100.001", "2025-02-01", {"site": "annex", "grade": "grade-1"})
    for form in ("butter", "powder"):
        world.make({"PLAIN": "300"}, {form: "300"}, "2025-02-02", form=form)
    sold = world.sell("X1", {"butter": "70.003"}, "2025-02-03", mine)
    world.sell("X2", {"powder": "33.335", "butter": "1"}, "2025-02-04", mine)
    world.sell("X3", {"PLAIN": "700"}, "2025-02-20", mine)
    assert world.account(scheme="lantern", origin="PE", grade="grade-1") < 0

    world.receive({"L2": "1000"}, "2025-03-10", contract="C")
    world.take_back("R", "X1", {"butter": "5.001"}, "2025-03-11")
    move(world, "400", "2025-03-12", {"site": "annex", "grade": "grade-2"})
    world.write_off("L2", "3.333", "2025-03-20")
    world.close("2025-01-01", "2025-03-31", on="2025-04-02")
    world.replace(sold, on="2025-04-03", lines=[{**sold_line("71"), "claims": [mine]}])
    world.receive({"L3": "50"}, "2025-06-10", contract="C")
    world.close("2025-04-01", "2025-09-30", on="2025-10-02")
    world.close("2025-10-01", "2025-12-31", on="2026-01-02")

    lapsed = [p for posts in world.naive.posts.values() for p in posts]
    assert {p.cause for p in lapsed} >= {"lapsed", "converted", "transferred"}


def sold_line(kg: str) -> dict[str, Any]:
    """Return a line of butter."""
    return {"lot": "butter", "mass_kg": kg}


def test_saltmarsh_measured_and_averaged() -> None:
    world = under("saltmarsh.yaml")
    mine = claim(scheme="saltmarsh")
    world.sign("C", "alder", mine, on="2025-01-03")
    world.sign("P", "birch", on="2025-01-03")
    world.receive([lot("L", "1000", "990.5")], "2025-01-10", contract="C")
    world.receive({"P": "1000"}, "2025-01-11", contract="P", site="annex")
    lost = {"moisture": "30.003"}
    made = world.make(
        {"P": "100"}, {"N": "69.997"}, "2025-01-12", losses=lost, form="nib"
    )
    world.make({"N": "69.997"}, {"Q": "69.997"}, "2025-01-13", form="liquor")
    world.sell("W", {"P": "300"}, "2025-01-20", site="annex")
    world.sell("X", {"Q": "8.2"}, "2025-01-31", mine)
    world.sell("Y", {"Q": "7.001"}, "2025-02-01", mine)
    world.take_back("R", "X", {"Q": "1.003"}, "2025-02-10")
    world.replace(
        made,
        on="2025-02-11",
        outputs=[{"lot": "N", "mass_kg": "75", "form": "nib"}],
        losses=[{"reason": "moisture", "mass_kg": "25"}],
    )
    about = {"from_on": "2025-02-12", "hold": "H", "reason": "taint"}
    world.record("lot.rejected", "2025-02-13", lot="L", **about)
    world.stop("alder/saltmarsh", "2025-02-14", from_on="2025-01-05")
    world.close("2025-01-01", "2025-12-31", on="2026-01-02")

    forms = {p.key[0] for posts in world.naive.posts.values() for p in posts}
    assert forms == {"stock", "account", "input", "output"}


def test_tarnside_kept_apart() -> None:
    world = under("tarnside.yaml")
    mine = claim("segregated", "tarnside-organic")
    world.sign("C", "alder", mine, on="2025-01-03", organic=True)
    world.receive({"L": "100", "M": "40.001"}, "2025-01-10", contract="C")
    world.make(
        {"L": "100", "M": "20"}, {"Q": "96"}, "2025-01-20", losses={"shell": "24"}
    )
    world.sell("X", {"Q": "50.001"}, "2025-02-01", mine)
    world.record(
        "claim.withdrawn",
        "2025-02-02",
        withdrawal="W",
        sale="X",
        document="note",
        reason="by mistake",
        lines=[{"lot": "Q", "mass_kg": "10", "scheme": "tarnside-organic"}],
    )
    world.write_off("Q", "0.333", "2025-02-03")
    world.stop("alder/tarnside-organic", "2025-03-01", from_on="2025-01-05")

    assert world.rules == ["breach-opened"]


@pytest.mark.parametrize("gone", ["lapsed", "converted", "transferred"])
def test_a_reading_that_leaves_something_out_does_not_agree(gone: str) -> None:
    """The comparison can fail: without one cause of movements it does."""
    world = under("lantern.yaml")
    mine = {**claim(scheme="lantern"), **LABEL}
    world.sign("C", "alder", claim(scheme="lantern"), on="2025-01-03", grade="grade-1")
    world.receive({"L": "900"}, "2025-01-10", contract="C")
    move(world, "100", "2025-02-01", {"site": "annex", "grade": "grade-1"})
    world.make({"L": "30"}, {"butter": "30"}, "2025-02-02", form="butter")
    world.sell("X", {"butter": "7"}, "2025-02-03", mine)
    world.close("2025-01-01", "2025-12-31", on="2026-01-02")
    posts = world.naive.posts
    for slot, found in posts.items():
        posts[slot] = [post for post in found if post.cause != gone]

    with pytest.raises(AssertionError):
        assert_agree(world.shelf, world.naive)


def test_an_entry_that_rounds_to_nothing_touches_its_account_all_the_same() -> None:
    """A blend bought as 0.4 certified: one gram credits nothing whole, three credit one."""
    models = ["controlled blending", "mass balance"]
    world = certified(blended("0.4"), custody=models)
    world.receive({"A": "0.001"}, "2025-02-01")
    world.receive({"B": "0.003"}, "2025-02-01")
    naive = Naive()
    for raw in world.raws:
        naive.read(raw)

    assert_agree(world.shelf, naive)
    assert_limits_agree(world.shelf, naive)
    [of_days] = [
        days for (book, _), days in lows(world.shelf).items() if book == "account"
    ]
    assert of_days == {"2025-02-01": 0}
    assert world.account() == 1
