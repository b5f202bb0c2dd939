"""The docs say what is so: commands, modules, links and the tutorial."""

import re
import shlex
from pathlib import Path

import pytest

from tests.docs.api_page import api_page
from tests.docs.generated import (
    API,
    COMMANDS,
    DEVELOPERS,
    ROOT,
    commands_page,
    developers_page,
)
from tests.journeys.conftest import Run, run  # noqa: F401 - a fixture

LINK = re.compile(r"\]\((?!https?:)([^)#\s]+)(?:#[^)]*)?\)")
BLOCK = re.compile(r"^```(\w+) ?(\S*)\n(.*?)^```$", re.DOTALL | re.MULTILINE)
PAGES = [ROOT / "README.md", DEVELOPERS, *sorted((ROOT / "docs").rglob("*.md"))]


def test_the_page_on_commands_is_current() -> None:
    assert COMMANDS.read_text(encoding="utf-8") == commands_page()


def test_the_page_on_the_api_is_current() -> None:
    assert API.read_text(encoding="utf-8") == api_page()


def test_the_map_of_modules_is_current() -> None:
    assert DEVELOPERS.read_text(encoding="utf-8") == developers_page()


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_links_lead_somewhere(page: Path) -> None:
    for target in LINK.findall(page.read_text(encoding="utf-8")):
        assert (page.parent / target).exists(), f"{page.name}: {target}"


def test_the_tutorial_works_as_printed(
    run: Run,  # noqa: F811
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(tmp_path)
    tutorial = (ROOT / "docs" / "tutorial" / "first-shipment.md").read_text()
    printed = []

    for language, name, content in BLOCK.findall(tutorial):
        if language == "yaml":
            Path(name).write_text(content)
        for line in content.splitlines() if language == "console" else ():
            ran = run(*shlex.split(line)[1:])
            assert ran.status == 0, f"{line}\n{ran.err}"
            printed.append(ran.out)

    whole = "\n".join(printed)
    # 2204.6 lb x 0.45359237 kg/lb (NIST SP 811, B.8) = 999.990 kg, at 3,500 USD/t,
    # rounded up to the cent; and 995 - 300 x 1.25 = 620 kg left to claim.
    assert "3499.97" in whole
    assert "620.000" in whole
