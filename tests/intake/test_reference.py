"""docs/reference/files.md: its examples are read, and it leaves no field out."""

import json
from pathlib import Path
from typing import Any

import pytest

from ledger.intake.draft import parse_draft
from ledger.intake.reading import read_file
from ledger.intake.text import LARGEST_FILE
from ledger.intake.yaml_file import DEEPEST
from ledger.trade.kinds import KINDS
from ledger.trade.record import body_of
from tests.intake import bad_files
from tests.intake.reference import (
    examples,
    examples_of_kinds,
    fields_of,
    page,
    sheet_lines,
)

GOLDEN = Path(__file__).with_name("golden.json")


def test_every_example_is_read() -> None:
    for name, raw in examples(page()):
        assert [parse_draft(draft).kind for draft in read_file(name, raw)] != []


def test_the_examples_give_the_entries_that_were_checked_by_hand() -> None:
    golden: list[dict[str, Any]] = json.loads(GOLDEN.read_text(encoding="utf-8"))
    read = [
        {
            "where": draft.where,
            "kind": draft.kind,
            "on": draft.occurred_on.isoformat(),
            "body": body_of(parse_draft(draft)),
        }
        for name, raw in examples_of_kinds()
        for draft in read_file(name, raw)
    ]

    assert read == golden


def test_every_kind_has_an_example_in_yaml() -> None:
    shown = {
        draft.kind
        for name, raw in examples_of_kinds()
        if name.endswith(".yaml")
        for draft in read_file(name, raw)
    }

    assert shown == set(KINDS)


@pytest.mark.parametrize("kind", KINDS)
def test_every_field_of_a_kind_is_listed_under_it(kind: str) -> None:
    _, _, section = page().partition(f"\n#### {kind}\n")
    listed = [
        line for line in section.partition("\n##")[0].splitlines() if "- `" in line
    ]

    assert listed == fields_of(kind)


def test_every_column_of_a_sheet_is_listed() -> None:
    assert [line for line in sheet_lines() if line not in page()] == []


def test_the_bounds_are_those_of_the_code() -> None:
    assert f"at most {LARGEST_FILE // 2**20} MiB ({LARGEST_FILE} bytes)" in page()
    assert f"more than {DEEPEST} lists and groups inside one another" in page()


def test_the_sentence_shown_for_a_refused_file_is_what_is_said() -> None:
    [said] = [
        bad.said
        for bad in bad_files.BAD_FILES
        if bad.about == "check digit of a trade item"
    ]
    shown = next(line for line in page().splitlines() if "ends in check digit" in line)

    assert said[1].partition(", ")[2].partition("; read")[0] in shown
