"""ledger.books.volume: bought, used, sold with and without claim, in stock, by form."""

from dataclasses import asdict
from fractions import Fraction

from ledger.books.quarter import Quarter
from ledger.books.stock import grams_by_form, stock_on
from ledger.books.volume import QuarterVolumes, Volume, volumes_of
from ledger.reports.volume_table import (
    BEANS,
    WEIGHED,
    accounts_table,
    volume_sheet,
    volumes_table,
)
from ledger.trade.words import Form
from tests.books.buying_world import BuyingWorld, lot
from tests.books.selling_world import (
    CLAIM,
    close,
    grind,
    line,
    sell,
    stocked,
    take_back,
    void,
    withdraw,
)

Q1, Q2 = Quarter(2025, 1), Quarter(2025, 2)


def busy() -> BuyingWorld:
    """Return a quarter with purchases, a batch, sales of both sorts and a return."""
    world = stocked()
    grind(world, "1", "2025-02-01", "L-1", "400", "320")
    sell(
        world,
        "A",
        "2025-02-10",
        line("Q-1", "100", CLAIM),
        line("Q-1", "60"),
        line("L-2", "30"),
    )
    take_back(world, "A", "2025-03-01", "Q-1", "80")
    sell(world, "B", "2025-04-01", line("L-1", "10", CLAIM))
    return world


def volumes(world: BuyingWorld, quarter: Quarter = Q1) -> QuarterVolumes:
    [found] = volumes_of(world.shelf, quarter)
    return found


def of(found: QuarterVolumes, form: Form) -> Volume:
    [volume] = [one for one in found.volumes if one.form is form]
    return volume


def moved(flow: object) -> dict[str, int]:
    return {key: grams for key, grams in asdict(flow).items() if grams}  # type: ignore[call-overload]


def test_beans_are_bought_with_and_without_claim_and_used() -> None:
    beans = of(volumes(busy()), Form.BEAN)

    assert moved(beans.all) == {
        "bought_g": 2_000_000,
        "used_g": 320_000,
        "lost_g": 80_000,
        "sold_g": 30_000,
        "closing_g": 1_570_000,
    }
    assert moved(beans.claimed) == {"bought_g": 1_000_000}


def test_liquor_is_sold_with_and_without_claim_and_comes_back() -> None:
    """What went without a claim is taken to come back first."""
    liquor = of(volumes(busy()), Form.LIQUOR)

    assert moved(liquor.all) == {
        "made_g": 320_000,
        "sold_g": 160_000,
        "returned_g": 80_000,
        "closing_g": 240_000,
    }
    assert moved(liquor.claimed) == {"sold_g": 100_000, "returned_g": 20_000}


def test_bean_equivalent_is_by_the_factors_of_the_terms() -> None:
    """100 kg of liquor at 1.25 are 125 kg of beans.

    Source: International Cocoa Organization, conversion factor of cocoa paste, 1.25 (from
    memory).
    """
    found = volumes(busy())

    assert of(found, Form.LIQUOR).claimed_beans["sold_g"] == Fraction(125_000)
    assert found.whole.all_beans["sold_g"] == Fraction(30_000 + 200_000)
    assert found.whole.claimed_beans["bought_g"] == Fraction(1_000_000)


def test_the_next_quarter_opens_where_the_last_one_closed() -> None:
    world = busy()
    first, second = volumes(world, Q1), volumes(world, Q2)

    closing = {one.form: one.all.closing_g for one in first.volumes}
    opening = {one.form: one.all.opening_g for one in second.volumes}

    assert closing == opening
    assert of(second, Form.BEAN).claimed.sold_g == 10_000


def test_an_account_opens_a_quarter_where_it_closed_the_one_before() -> None:
    """1,000 kg of beans came, less 125 for liquor sold, and 25 of that came back."""
    world = busy()
    [first] = volumes(world, Q1).accounts
    [second] = volumes(world, Q2).accounts

    assert (first.opening_g, first.closing_g) == (0, 900_000)
    assert (second.opening_g, second.closing_g) == (900_000, 890_000)


def test_what_is_in_stock_is_what_the_stock_says() -> None:
    world = busy()

    in_stock = {one.form: one.all.closing_g for one in volumes(world).volumes}

    assert in_stock == grams_by_form(stock_on(world.shelf, Q1.last))


def test_all_forms_together_add_up() -> None:
    whole = volumes(busy()).whole.all

    assert whole.difference_g == 0
    assert whole.closing_g == 1_810_000


def test_sugar_is_no_cocoa_and_is_left_out() -> None:
    world = busy()
    world.record(
        "shipment.received",
        "2025-02-01",
        {
            "shipment": "S-9",
            "supplier": "trader",
            "lots": [
                {
                    "lot": "SUGAR",
                    "commodity": "sugar",
                    "form": "ingredient",
                    "net_shipped_kg": "50",
                    "net_landed_kg": "50",
                }
            ],
        },
    )

    assert {one.form for one in volumes(world).volumes} == {Form.BEAN, Form.LIQUOR}


def test_two_schemes_have_their_own_claims_on_the_same_masses() -> None:
    world = busy()
    world.terms(scheme="other")

    ours, theirs = volumes_of(world.shelf, Q1)

    assert (ours.scheme, theirs.scheme) == ("fair-harvest", "other")
    assert ours.whole.all == theirs.whole.all
    assert moved(theirs.whole.claimed) == {}
    assert theirs.without_factor == (Form.LIQUOR,)
    assert list(theirs.accounts) == []


def test_a_receipt_whose_claim_does_not_count_is_bought_without() -> None:
    world = busy()
    world.record(
        "certificate.suspended",
        "2025-04-01",
        {
            "certificate": "coop-alto/fair-harvest",
            "from_on": "2025-01-15",
            "reason": "x",
        },
    )

    assert of(volumes(world), Form.BEAN).claimed.bought_g == 0


def test_a_lot_that_was_rejected_and_a_claim_taken_back_move_no_volume() -> None:
    world = busy()
    before = volumes(world, Q2)
    bad = lot("L-9", "70", decision="rejected", rejected_because="mould")
    world.receive("S-8", "2025-04-03", [lot("L-8", "20"), bad])
    withdraw(world, "B", "2025-04-05", "L-1", "10")

    after = volumes(world, Q2)

    assert of(after, Form.BEAN).claimed.bought_g == 20_000
    assert of(after, Form.BEAN).claimed.sold_g == of(before, Form.BEAN).claimed.sold_g


def test_the_table_has_both_measures_and_parts_what_was_sold() -> None:
    table = volumes_table([volumes(busy())], (WEIGHED, BEANS))

    keys = [column.key for column in table.columns]
    rows = [dict(zip(keys, row, strict=True)) for row in table.rows]
    liquor = [row for row in rows if row["form"] == "liquor"]
    assert [row["measure"] for row in liquor] == ["as weighed", "bean equivalent"]
    assert [row["sold_with_claim_kg"] for row in liquor] == ["100.000", "125.000"]
    assert [row["sold_without_claim_kg"] for row in liquor] == ["60.000", "75.000"]
    assert [row["returned_without_claim_kg"] for row in liquor] == ["60.000", "75.000"]
    assert len(rows) == 6


def test_a_sheet_has_a_column_for_each_form() -> None:
    sheet = volume_sheet(volumes(busy()), WEIGHED)

    assert [column.heading for column in sheet.columns] == [
        "What",
        "Bean",
        "Liquor",
        "All",
    ]
    assert list(sheet.rows)[-1] == ("= In stock", "1570.000", "240.000", "1810.000")


def test_forms_without_a_factor_are_named() -> None:
    world = busy()
    world.terms(scheme="other")
    _, theirs = volumes_of(world.shelf, Q1)

    assert volume_sheet(theirs, BEANS).notes[-1] == (
        "The terms of other have no factor for liquor, which is left out of bean "
        "equivalent."
    )
    assert list(volume_sheet(theirs, WEIGHED).notes) == []


def test_the_accounts_of_the_scheme_stand_beside_the_volumes() -> None:
    table = accounts_table(volumes(busy()))

    [row] = table.rows
    assert "1000.000" in row
    assert "2025-01-01" in table.title


def test_a_closed_quarter_names_what_corrected_it_since() -> None:
    """The sale keeps its mass there, and claims nothing any more."""
    world = stocked()
    first = sell(world, "A", "2025-02-10", line("L-1", "100", CLAIM))
    second = sell(world, "B", "2025-02-11", line("L-1", "100", CLAIM))
    before = void(world, first, "2025-02-20")
    close(world, "2025-01-01", "2025-03-31", "2025-04-02")
    later = void(world, second, "2025-04-10")

    [found] = volumes_of(world.shelf, Q1)
    [other] = volumes_of(world.shelf, Q2)

    assert before < later
    assert (found.corrected, other.corrected) == ((later,), ())
    notes = volumes_table([found], (WEIGHED,)).notes
    assert f"by entries {later}: masses stand as they were signed off" in notes[0]
