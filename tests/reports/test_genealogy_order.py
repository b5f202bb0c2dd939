"""ledger.reports.genealogy_order: links cross little and mass runs level."""

from fractions import Fraction

from ledger.reports.genealogy_boxes import Box, Column, Link, Sort
from ledger.reports.genealogy_order import straighten, untangle


def columns_of(*names: str) -> tuple[list[Column], dict[str, Box]]:
    """Columns of boxes, one box a letter."""
    columns = []
    boxes: dict[str, Box] = {}
    for number, column in enumerate(names):
        own = [Box(Sort.LOT, name, Fraction(1), column=number) for name in column]
        boxes |= {box.name: box for box in own}
        columns.append(Column(("step",), own))
    return columns, boxes


def names(column: Column) -> str:
    return "".join(box.name for box in column.boxes)


def test_boxes_stand_beside_what_they_are_linked_to() -> None:
    columns, at = columns_of("ab", "yx", "qp")
    pairs = (("a", "x"), ("b", "y"), ("x", "p"), ("y", "q"))
    untangle(columns, [Link(at[s], at[t], Fraction(1)) for s, t in pairs])

    assert [names(column) for column in columns] in (
        ["ab", "xy", "pq"],
        ["ba", "yx", "qp"],
    )
    assert [box.row for column in columns for box in column.boxes] == [0, 1] * 3


def test_the_folded_box_stays_at_the_bottom() -> None:
    columns, at = columns_of("ab", "xy")
    at["x"].sort = Sort.REST
    untangle(columns, [Link(at["a"], at["x"], Fraction(1))])

    assert names(columns[1]) == "yx"


def test_links_within_a_step_and_back_do_not_move_boxes() -> None:
    columns, at = columns_of("ab", "xy")
    links = [Link(at["x"], at["y"], Fraction(1)), Link(at["y"], at["a"], Fraction(1))]
    untangle(columns, links)

    assert [names(column) for column in columns] == ["ab", "xy"]


def test_a_short_column_lies_where_most_of_its_mass_goes() -> None:
    columns, at = columns_of("a", "xyz")
    untangle(columns, [])
    straighten(columns, [Link(at["a"], at["z"], Fraction(1))])

    assert [column.top for column in columns] == [4, 0]


def test_a_column_without_links_lies_in_the_middle() -> None:
    columns, _ = columns_of("a", "xyz")
    straighten(columns, [])

    assert [column.top for column in columns] == [2, 0]
