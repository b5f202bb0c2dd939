"""ledger.books.tank and its picture: what is in a tank, exact, and drawn to be read."""

from datetime import date
from fractions import Fraction
from xml.etree import ElementTree as ET

from ledger.books.stock import grams_by_form_and_place, stock_on
from ledger.books.tank import Tank, tanks_in
from ledger.reports.stock_table import stock_by_place_table
from ledger.reports.tank_picture import WIDTH, tank_picture
from ledger.trade.words import Form
from tests.world import World, certified


def filled(lots: int = 2) -> World:
    """Lots of 10, 20, 30 … kg of beans, ground and put into one tank, one on another."""
    made = certified()
    heel = ""
    for number in range(1, lots + 1):
        mass = str(10 * number)
        bean, liquor, tank = f"B{number}", f"L{number}", f"T{number}"
        made.receive({bean: mass}, "2025-02-10")
        made.record(
            "batch.made",
            "2025-03-01",
            batch=f"grind-{number}",
            step="grind",
            inputs=[{"lot": bean, "mass_kg": mass}],
            outputs=[{"lot": liquor, "form": "liquor", "mass_kg": mass}],
        )
        inputs = [{"lot": liquor, "mass_kg": mass}]
        total = sum(10 * one for one in range(1, number + 1))
        if heel:
            before = total - 10 * number
            inputs.append({"lot": heel, "mass_kg": str(before)})
        made.record(
            "batch.made",
            "2025-03-02",
            batch=f"fill-{number}",
            step="tank",
            inputs=inputs,
            outputs=[
                {"lot": tank, "form": "liquor", "mass_kg": str(total), "place": "north"}
            ],
        )
        heel = tank
    return made


def tank(made: World) -> Tank:
    day = date(2025, 3, 3)
    [found] = tanks_in(made.shelf, stock_on(made.shelf, day))
    return found


def test_a_tank_holds_shares_of_what_was_bought() -> None:
    found = tank(filled())

    assert (found.place, found.grams, [lot.lot for lot in found.lots]) == (
        "north",
        30_000,
        ["T2"],
    )
    assert [(p.source.lot, p.share, p.grams) for p in found.portions] == [
        ("B2", Fraction(2, 3), Fraction(20_000)),
        ("B1", Fraction(1, 3), Fraction(10_000)),
    ]
    assert found.hold is None


def test_a_place_where_nothing_was_tanked_is_no_tank() -> None:
    made = certified()
    made.receive({"B": "10"}, "2025-02-10")
    made.record("lot.moved", "2025-02-11", lot="B", to_place="store")

    assert tanks_in(made.shelf, stock_on(made.shelf, date(2025, 3, 3))) == ()


def test_a_hold_shows_on_the_tank_and_in_its_picture() -> None:
    made = filled()
    made.record("hold.placed", "2025-03-03", hold="H7", lots=["T2"], reason="odour")
    found = tank(made)

    drawing = tank_picture(found)

    assert found.hold == "H7"
    assert "ON HOLD: H7" in drawing.svg
    assert "On hold: H7." in drawing.description


def test_the_picture_tells_every_layer_in_words_and_stays_on_its_sheet() -> None:
    for lots in (1, 2, 7, 8, 12):
        drawing = tank_picture(tank(filled(lots)))
        root = ET.fromstring(drawing.svg)
        words = [one.text or "" for one in root.iter() if one.tag.endswith("text")]
        down = int(root.attrib["viewBox"].split()[3])

        assert any(word.startswith(f"B{lots}  ") for word in words)
        assert any("more lots" in word for word in words) == (lots > 7)
        for one in root.iter():
            assert int(one.attrib.get("y", 0)) <= down
            assert int(one.attrib.get("x", 0)) < WIDTH
        assert drawing == tank_picture(tank(filled(lots)))


def test_what_is_too_little_to_be_seen_is_drawn_as_one_layer() -> None:
    made = filled()
    made.receive({"DROP": "0.001"}, "2025-02-10")
    made.record(
        "batch.made",
        "2025-03-03",
        batch="drop",
        step="tank",
        inputs=[{"lot": "T2", "mass_kg": "30"}, {"lot": "DROP", "mass_kg": "0.001"}],
        outputs=[
            {"lot": "T3", "form": "liquor", "mass_kg": "30.001", "place": "north"}
        ],
    )

    drawing = tank_picture(tank(made))

    assert "1 more lot, under 0.1 %, 0.001 kg" in drawing.description
    assert "DROP" not in drawing.svg.partition("</desc>")[2]


def test_stock_by_form_and_place_adds_up_to_the_stock() -> None:
    made = filled()
    made.receive({"X": "5", "Y": "6"}, "2025-02-11")
    made.record("lot.moved", "2025-02-12", lot="Y", to_place="store")
    stock = stock_on(made.shelf, date(2025, 3, 3))

    found = grams_by_form_and_place(stock)

    assert found == {
        (Form.BEAN, ""): (5_000, 1),
        (Form.BEAN, "store"): (6_000, 1),
        (Form.LIQUOR, "north"): (30_000, 1),
    }
    assert sum(grams for grams, _ in found.values()) == sum(s.grams for s in stock)
    assert stock_by_place_table(found).rows[1] == ("bean", "store", "6.000", "1")
