"""ledger.reports.entry_body and effects_table: a body and its effects, to be read."""

from datetime import date

from hypothesis import given
from hypothesis import strategies as st

from ledger.books.effect import Book, Cause, Effects, Posting, SubjectKind, Tally
from ledger.reports.effects_table import effects_tables
from ledger.reports.entry_body import Line, body_lines, label_of

VALUES = st.recursive(
    st.text(max_size=5) | st.booleans() | st.integers(),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.text("abc_", min_size=1, max_size=5), inner, max_size=3)
    ),
    max_leaves=12,
)


def texts(lines: tuple[Line, ...]) -> list[str]:
    found = []
    for line in lines:
        found += [line.text] if not line.groups else []
        for group in line.groups:
            found += texts(group)
    return found


def leaves(value: object) -> int:
    if isinstance(value, dict):
        return sum(leaves(one) for one in value.values())
    if isinstance(value, list):
        if value and isinstance(value[0], dict):
            return sum(leaves(one) for one in value if isinstance(one, dict))
        return len(value)
    return 1


@given(st.dictionaries(st.text("abc_", min_size=1, max_size=5), VALUES, max_size=4))
def test_every_value_of_a_body_is_told_once(body: dict[str, object]) -> None:
    assert len(texts(body_lines(body))) == leaves(body)  # type: ignore[arg-type]


def test_units_stand_apart_and_what_was_typed_behind() -> None:
    [mass, warm] = body_lines(
        {"found_kg": "12.500", "value_c": "52.8", "typed": {"value_c": "127 F"}}
    )

    assert (mass.label, mass.unit, mass.is_figure, mass.typed) == (
        "Found",
        "kg",
        True,
        "",
    )
    assert (warm.unit, warm.typed) == ("°C", "127 F")
    assert label_of("moisture_percent") == ("Moisture", "%")
    assert label_of("return_") == ("Return", "")


def test_a_list_of_plain_objects_makes_a_table_with_every_column() -> None:
    [line] = body_lines(
        {"outputs": [{"lot": "A", "mass_kg": "1"}, {"lot": "B", "pieces": 3}]}
    )

    assert [column.label for column in line.columns] == ["Lot", "Mass", "Pieces"]
    cells = [
        [cell.text if cell else None for cell in line.cells(group)]
        for group in line.groups
    ]
    assert cells == [["A", "1", None], ["B", None, "3"]]
    assert line.groups[0][0].subject is SubjectKind.LOT


def test_what_holds_lists_itself_makes_no_table() -> None:
    [line] = body_lines({"lines": [{"lot": "A", "claims": [{"scheme": "s"}]}]})

    assert line.columns == ()


def test_money_and_prices_are_one_figure_with_their_unit() -> None:
    lines = body_lines(
        {
            "value": {"amount": "61.75", "currency": "USD"},
            "price": {"amount": "2400.00", "unit": "USD/t"},
        }
    )

    assert [(one.text, one.unit) for one in lines] == [
        ("61.75", "USD"),
        ("2400.00", "USD/t"),
    ]


def test_effects_are_told_by_book_and_an_entry_without_any_by_no_table() -> None:
    day = date(2026, 1, 2)
    effects = Effects(
        postings=(
            Posting(Tally.stock("L"), day, -1500, Cause.SOLD),
            Posting(
                Tally(Book.ACCOUNT, "s|cocoa|all|organic|PE"), day, -900, Cause.SOLD
            ),
            Posting(Tally(Book.OUTPUT, "s|cocoa|all|organic|PE"), day, 1, Cause.SOLD),
        )
    )

    stock, accounts = effects_tables(effects)

    assert list(stock.rows) == [("L", "2026-01-02", "-1.500", "sold")]
    assert list(accounts.rows) == [
        ("s, cocoa, all sites, organic, origin PE", "2026-01-02", "-0.900", "sold")
    ]
    assert effects_tables(Effects()) == ()


def test_numbers_that_gs1_calls_by_letters_are_called_so() -> None:
    [gtin, sscc] = body_lines({"gtin": "9521234000709", "sscc": ["095212340000000012"]})

    assert (gtin.label, sscc.label) == ("GTIN", "SSCC")
