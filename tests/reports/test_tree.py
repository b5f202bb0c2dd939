"""ledger.reports.tree: a trace read from the top down, and its sums."""

from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st

from ledger.books.asked import find_asked
from ledger.books.genealogy import trace_back, trace_forward
from ledger.reports.figures import mass_words
from ledger.reports.tree import Branch, branch_lines, tree_lines, trees_of
from tests.books.making_world import MakingWorld, day, deep_tank, lot
from tests.books.random_making import Floor, floors
from tests.reports.sample_traces import busy_world


def back(world: MakingWorld, word: str) -> list[str]:
    return tree_lines(trace_back(world.shelf, find_asked(world.shelf, word)))


def forward(world: MakingWorld, word: str) -> list[str]:
    return tree_lines(trace_forward(world.shelf, find_asked(world.shelf, word)))


def blend() -> MakingWorld:
    world = MakingWorld()
    world.receive({"A": 1_000}, seller="north")
    world.receive({"B": 1_000}, seller="south")
    world.make({"A": 300, "B": 100}, {"T": 380}, losses={"dust": 20})
    world.make(
        {"T": 180},
        {"BAR": 180},
        on=2,
        step="mould",
        about={"form": "bar", "recipe": "dark"},
    )
    world.make({"BAR": 20, "T": 200}, {"U": 220}, on=3)
    world.sell("S", {"BAR": 100, "U": 200}, customer="ben", on=4)
    return world


def test_a_trace_back_is_told_lot_by_lot() -> None:
    assert back(blend(), "S") == [
        "Trace of sale S back to growers: 0.300 kg",
        "├─ BAR bar, 0.100 kg (33.3 %) of 0.118 kg, batch B-2, mould, 2024-01-03",
        "│  └─ T liquor, 0.118 kg (39.4 %) of 0.300 kg, batch B-1, tank, 2024-01-02",
        "│     ├─ A bean, 0.225 kg (75.0 %), shipment SH-9, 2024-01-01",
        "│     └─ B bean, 0.075 kg (25.0 %), shipment SH-11, 2024-01-01",
        "└─ U liquor, 0.200 kg (66.7 %), batch B-3, tank, 2024-01-04",
        (
            "   ├─ T liquor, 0.182 kg (60.6 %) of 0.300 kg, batch B-1, tank, 2024-01-02; "
            "opened above"
        ),
        (
            "   └─ BAR bar, 0.018 kg (6.1 %) of 0.118 kg, batch B-2, mould, 2024-01-03; "
            "opened above"
        ),
        "Came from",
        "├─ north, 0.225 kg (75.0 %)",
        "│  └─ A, 0.225 kg (75.0 %), shipment SH-9, contract C-north",
        "└─ south, 0.075 kg (25.0 %)",
        "   └─ B, 0.075 kg (25.0 %), shipment SH-11, contract C-south",
    ]


def test_a_trace_forward_tells_every_way_mass_left() -> None:
    world = blend()
    world.take_back("S", {"U": 110}, on=5)
    world.write_off("B", 400, on=5)

    assert forward(world, "B") == [
        "Trace of lot B forward: 1.000 kg",
        "└─ B bean, 1.000 kg (100.0 %), shipment SH-11, 2024-01-01",
        "   ├─ T liquor, 0.095 kg (9.5 %), batch B-1, tank, 2024-01-02",
        "   │  ├─ U liquor, 0.050 kg (5.0 %) of 0.055 kg, batch B-3, tank, 2024-01-04",
        "   │  │  ├─ in stock, 0.032 kg (3.2 %)",
        (
            "   │  │  └─ sold to ben, sale S, 0.022 kg (2.2 %); 0.028 kg came back"
            " and counts as stock again"
        ),
        "   │  └─ BAR bar, 0.045 kg (4.5 %), batch B-2, mould, 2024-01-03",
        (
            "   │     ├─ U liquor, 0.005 kg (0.5 %) of 0.055 kg, batch B-3, tank, "
            "2024-01-04; opened above"
        ),
        "   │     ├─ sold to ben, sale S, 0.025 kg (2.5 %)",
        "   │     └─ in stock, 0.015 kg (1.5 %)",
        "   ├─ in stock, 0.500 kg (50.0 %)",
        "   ├─ written off, spillage, 0.400 kg (40.0 %)",
        "   └─ lost in batch B-1, dust, 0.005 kg (0.5 %)",
        "Went to",
        "├─ sold, 0.048 kg (4.8 %)",
        "│  └─ ben, 0.048 kg (4.8 %)",
        "├─ in stock, 0.548 kg (54.8 %)",
        "├─ lost in making, 0.005 kg (0.5 %)",
        "└─ written off, 0.400 kg (40.0 %)",
    ]


def test_the_last_day_looked_at_stands_in_the_title() -> None:
    trace = trace_forward(blend().shelf, lot("A"), until=day(3))

    assert tree_lines(trace)[0] == "Trace of lot A forward, up to 2024-01-04: 1.000 kg"


def test_what_was_bought_without_a_contract_says_so() -> None:
    world = MakingWorld()
    world.buy_freely({"SUGAR": 500}, supplier="south")

    assert back(world, "SUGAR")[-1].endswith("shipment SH-9, without contract")


def test_a_branch_is_drawn_with_what_hangs_from_it() -> None:
    tree = Branch("a", (Branch("b", (Branch("c"),)), Branch("d", (Branch("e"),))))

    assert list(branch_lines(tree)) == ["a", "├─ b", "│  └─ c", "└─ d", "   └─ e"]


def test_a_deep_tank_is_cut_off_where_less_than_a_gram_came_through() -> None:
    lines = back(busy_world(), "S-60")

    assert len(lines) < 40
    assert sum(line.endswith("; not opened here") for line in lines) == 1


def test_three_thousand_fills_make_a_tree_that_can_be_read() -> None:
    lines = forward(deep_tank(), "B")

    assert len(lines) < 400
    assert any("and 2988 more lots, " in line for line in lines)
    assert lines[-5:] == [
        "Went to",
        "├─ sold, 0.000 kg (0.0 %)",
        f"├─ in stock, {mass_words(Fraction(10_000_000))} (100.0 %)",
        "├─ lost in making, 0.000 kg (0.0 %)",
        "└─ written off, 0.000 kg (0.0 %)",
    ]


def test_many_sales_of_one_lot_are_counted_but_every_customer_is_named() -> None:
    world = MakingWorld()
    world.receive({"A": 10_000})
    for number in range(40):
        customer = f"shop-{number:02}"
        world.register(customer, "customer")
        world.sell(f"S-{number}", {"A": 100 + number}, customer=customer)

    lines = forward(world, "A")

    # The remainder in stock and the eleven largest sales stand by themselves.
    rest = sum(range(100, 129))
    words = f"and 29 more sales, losses or remainders, {mass_words(Fraction(rest))}"
    assert any(words in line for line in lines)
    assert all(any(f" shop-{n:02}, " in line for line in lines) for n in range(40))


def test_many_purchases_of_one_supplier_are_counted() -> None:
    world = MakingWorld()
    for number in range(45):
        world.receive({f"L-{number}": 100 + number})
    world.make({f"L-{number}": 100 for number in range(45)}, {"T": 4_500})

    lines = back(world, "T")

    assert "   └─ and 5 more lots, 0.500 kg (11.1 %)" in lines
    assert "   └─ and 33 more lots, 3.300 kg (73.3 %)" in lines


@settings(deadline=None)
@given(floors(), st.data())
def test_the_sums_name_every_supplier_and_customer(
    floor: Floor, data: st.DataObject
) -> None:
    name = data.draw(st.sampled_from(floor.lots))
    back, forward = (
        trace_back(floor.world.shelf, lot(name)),
        trace_forward(floor.world.shelf, lot(name)),
    )
    came, went = trees_of(back)[1], trees_of(forward)[1]

    assert [branch.text.partition(",")[0] for branch in came.branches] == list(
        back.suppliers
    )
    assert [branch.text.partition(",")[0] for branch in went.branches[0].branches] == (
        list(forward.customers)
    )
