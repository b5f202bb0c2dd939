"""The description of the format says what the program does, and its hand commands work."""

import re
import subprocess
from html import unescape
from pathlib import Path

import pytest

from ledger.audit import layout
from ledger.audit.cheats import CHEATS
from ledger.audit.enclosed import page
from ledger.audit.figure import COMPUTED, Figure
from ledger.audit.readme import README_TEXT
from tests.audit.forging import files_of

DOCS = Path(__file__).parents[2] / "docs"
PAGE = DOCS / "reference/pack.md"
TEXT = PAGE.read_text(encoding="utf-8")
SHORT = {
    "Insert": "put in",
    "Reorder": "moved",
    "Rewrite": "written anew",
    "Restore": "two histories",
    "Steal": "stolen",
    "Not": "not recorded",
    "Weigh": "weighed wrong",
}
"""How the short form says what the page on trust begins with."""


@pytest.mark.parametrize("figure", COMPUTED, ids=lambda figure: figure.file)
def test_every_column_is_described_in_its_place(figure: Figure) -> None:
    [told] = re.findall(rf"(?ms)^\*\*{re.escape(figure.file)}\*\*(.*?)\n\n", TEXT)
    columns = [
        name
        for names in re.findall(r"`([a-z_, ]+)`", told)
        for name in names.split(", ")
        if name in figure.columns
    ]

    assert list(dict.fromkeys(columns)) == list(figure.columns)


@pytest.mark.parametrize(
    "limit", ["MAX_FILES", "MAX_PACK_BYTES", "MAX_LINE_BYTES", "MAX_WHOLE_BYTES"]
)
def test_every_limit_is_described(limit: str) -> None:
    assert f"| {getattr(layout, limit):,} | `{limit}` |" in TEXT


def test_every_file_is_described(small_pack: Path) -> None:
    [listed] = re.findall(r"(?s)```\n(bagit\.txt.*?)```", TEXT)
    named = {line.split()[0] for line in listed.splitlines()}

    for name in files_of(small_pack):
        assert name in named or name.startswith("data/reports/")


def test_the_commands_by_hand_work_as_printed(small_pack: Path) -> None:
    """RFC 8493 manifests are what `sha256sum -c` reads."""
    commands = re.findall(r"(?m)^    (sha256sum -c .*)$", README_TEXT)

    assert len(commands) == 2
    for command in commands:
        done = subprocess.run(
            command.split(), cwd=small_pack, capture_output=True, check=True, text=True
        )
        assert "FAILED" not in done.stdout
        assert done.stdout.count(": OK") >= 4


def test_the_readme_defers_and_says_what_it_cannot_prove() -> None:
    assert "WHAT NO PACK CAN PROVE" in README_TEXT
    assert "goes before" in README_TEXT
    assert max(map(len, README_TEXT.splitlines())) <= 79


def test_every_cheat_of_the_page_on_trust_stands_in_the_short_form() -> None:
    table = (DOCS / "explanation/trust.md").read_text(encoding="utf-8")
    told = re.findall(r"(?m)^\| \*\*(\w+)", table)
    short = " ".join(f"{one.tried} {one.found}" for one in CHEATS).casefold()

    assert len(told) > 10
    for word in told:
        assert SHORT.get(word, word).casefold() in short, word


def test_the_short_form_stands_in_the_text_and_on_the_page_of_every_pack() -> None:
    text, shown = " ".join(README_TEXT.split()), unescape(page().decode())

    for cheat in CHEATS:
        for said in (cheat.tried, cheat.found):
            assert said in text
            assert said in shown
