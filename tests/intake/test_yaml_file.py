"""ledger.intake.yaml_file: every value stays text, exactly as typed."""

from datetime import date

import pytest
import yaml

from ledger.chain.canonical import JsonValue
from ledger.errors import InputError
from ledger.intake import yaml_file
from ledger.intake.draft import Draft
from ledger.intake.reading import read_file
from tests.intake.bad_files import BAD_FILES

HEAD = "kind: lot.moved\non: 2025-03-02\n"


def drafts(text: str) -> tuple[Draft, ...]:
    return read_file("a.yaml", text.encode())


def body(text: str) -> dict[str, JsonValue]:
    [draft] = drafts(HEAD + text)
    return draft.body


FIGURES = ("0012", "1.10", "1e3", "0x1F", "1_000", "12:30:00", "2025-03-02", ".inf")
WORDS = ("no", "yes", "On", "true", "nan", "nil", "None", "<", "=", "a#b", "São Tomé")


@pytest.mark.parametrize("typed", [*FIGURES, *WORDS])
def test_a_value_is_the_text_that_was_typed(typed: str) -> None:
    assert body(f"note: {typed}") == {"note": typed}


@pytest.mark.parametrize(
    ("written", "text"),
    [
        ('"a: b # c"', "a: b # c"),
        ("'it''s'", "it's"),
        ('"null"', "null"),
        ("''", ""),
        ("one\n  two", "one two"),
        (">-\n  one\n  two", "one two"),
        ("a  # remark", "a"),
    ],
)
def test_quotes_folding_and_remarks_are_those_of_yaml(written: str, text: str) -> None:
    assert body(f"note: {written}") == {"note": text}


@pytest.mark.parametrize("nothing", ["", " null", " ~", " Null", " # remark only"])
def test_a_field_without_a_value_is_left_out(nothing: str) -> None:
    assert body(f"note:{nothing}\nlot: a") == {"lot": "a"}


def test_groups_and_lists_keep_their_shape_and_their_order() -> None:
    text = "b: [x, {c: d}]\na:\n  - - y\n  - e: {}\n    f: []\n"

    assert body(text) == {"b": ["x", {"c": "d"}], "a": [["y"], {"e": {}, "f": []}]}


ONE = Draft("lot.moved", date(2025, 3, 2), {"lot": "a"}, "a.yaml, line 1")
TWO = Draft("lot.moved", date(2025, 3, 3), {"lot": "b"}, "a.yaml, line 5")


@pytest.mark.parametrize(
    "text",
    [
        (
            "kind: lot.moved\non: 2025-03-02\nlot: a\n---\n"
            "kind: lot.moved\non: 2025-03-03\nlot: b\n"
        ),
        (
            "- {kind: lot.moved, on: 2025-03-02, lot: a}\n\n\n\n"
            "- kind: lot.moved\n  on: 2025-03-03\n  lot: b\n"
        ),
        (
            "{kind: lot.moved, on: 2025-03-02, lot: a}\n---\n---\n---\n"
            "- {kind: lot.moved, on: 2025-03-03, lot: b}\n...\n"
        ),
        (
            "kind: lot.moved\r\non: 2025-03-02\r\nlot: a\r\n---\r\n"
            "{on: 2025-03-03, lot: b, kind: lot.moved}\r\n"
        ),
    ],
)
def test_a_file_holds_one_entry_a_list_or_several_documents(text: str) -> None:
    assert drafts(text) == (ONE, TWO)


def test_every_part_of_an_entry_knows_its_line() -> None:
    [draft] = drafts(HEAD + "lots:\n  - lot: a\n    net: 1 t\n  -\n    lot: b\n")

    assert draft.locate("lots") == "a.yaml, line 3"
    assert draft.locate("lots.0") == "a.yaml, line 4"
    assert draft.locate("lots.0.net_kg") == "a.yaml, line 5"
    assert draft.locate("lots.1.lot") == "a.yaml, line 7"
    assert draft.locate("lots.1.form") == "a.yaml, line 7"
    assert draft.locate("occurred_on") == "a.yaml, line 2"
    assert draft.locate("elsewhere") == "a.yaml, line 1"


def test_depth_is_bounded() -> None:
    """The group of the entry itself is the first of the sixteen."""
    deepest = f"note: {'[' * 15}x{']' * 15}"

    assert list(body(deepest)) == ["note"]
    with pytest.raises(InputError, match="line 3: more than 16 lists and groups"):
        body(deepest.replace("x", "[x]"))


def test_depth_counts_what_is_open_at_once() -> None:
    many = "".join(f"f{n}: [[x]]\n" for n in range(40))

    assert len(body(many)) == 40


@pytest.mark.parametrize(
    "text",
    [
        *(
            bad.raw
            for bad in BAD_FILES
            if bad.name.endswith("yaml") and len(bad.raw) < 999
        ),
        *(HEAD.encode() + tail for tail in (b'a: "\\ud800"', b'a: "\\Uffffffff"')),
        b"%YAML 1.9999999\n---\n" + HEAD.encode(),
    ],
)
def test_the_reader_that_is_all_python_refuses_or_reads_as_well(
    text: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the library was built without its C part."""
    monkeypatch.setattr(yaml_file, "_LOADER", yaml.BaseLoader)
    try:
        read_file("a.yaml", text)
    except InputError as error:
        assert len(str(error).splitlines()) == 1  # noqa: PT017 - either way is right
