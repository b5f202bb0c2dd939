"""ledger.books.why_parting: how liquor was parted is told scheme by scheme."""

from ledger.books.account import Account
from ledger.books.effect import Cause
from ledger.books.why_balance import WhyMovement, why_balance
from tests.books.told import told
from tests.world import MAKER, OTHER_SCHEME, SCHEME, World, claim, opened

SPLIT = {
    "of": "liquor",
    "outputs": [{"form": "butter", "share": "0.5"}, {"form": "powder", "share": "0.5"}],
    "valid_from": "2018-01-01",
    "source": "an invented standard",
}


def under_two_schemes() -> World:
    """Return a world in which butter was sold under two schemes, and January closed."""
    world = opened()
    both = (SCHEME, OTHER_SCHEME)
    for scheme in both:
        world.terms(scheme, joint_outputs=[SPLIT])
        for holder in (MAKER, "alder"):
            world.certify(holder, scheme)
    claims = [claim("mass balance", scheme) for scheme in both]
    world.sign("C", "alder", *claims)
    world.receive({"L": "1000"}, "2025-01-10")
    world.make({"L": "80"}, {"B": "80"}, "2025-01-11", form="butter")
    world.sell("X", {"B": "80"}, "2025-01-20", *claims)
    world.close("2025-01-01", "2025-01-31", on="2025-02-01")
    return world


def powder_left_over(world: World, scheme: str) -> list[WhyMovement]:
    account = Account(scheme, "cocoa", "mill", "conventional", "all", form="powder")
    return list(why_balance(world.shelf, account).movements)


def test_a_split_that_one_scheme_gave_up_is_still_told_for_the_other() -> None:
    """The sale was signed off with both splits; the first scheme's was a mistake."""
    world = under_two_schemes()
    [published, _] = [r["seq"] for r in world.raws if r["kind"] == "terms.published"]
    world.replace(published, "2025-02-10", joint_outputs=[])

    [sold, taken_off] = powder_left_over(world, SCHEME)
    assert sold.workings[-1].text.startswith("converted on 2025-01-20, as signed off")
    assert taken_off.line.standing_g == 0
    [kept] = powder_left_over(world, OTHER_SCHEME)
    assert [line.text for line in kept.workings][-2:] == [
        "liquor parted: as much as the scarcest form needs",
        "powder that comes out",
    ]


def test_as_much_is_parted_as_the_scarcest_form_needs() -> None:
    """80 kg of butter are 100 kg of beans at the factor of liquor, and half is butter."""
    lines = told(under_two_schemes(), Cause.CONVERTED, form="powder")

    parted = lines["liquor parted: as much as the scarcest form needs"]
    assert parted.figure == "200.000 kg"
    assert parted.reckoning == (
        "highest of ((100.00 - 0.00) / 0.50, (0.00 - 0.00) / 0.50)"
    )
