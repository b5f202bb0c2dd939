"""The parts of the docs that are made from the code.

Run `make docs` (`python -m tests.docs.generated`) to write them again.
"""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import typer

from ledger.cli.__main__ import app
from tests.docs.api_page import api_page

ROOT = Path(__file__).parents[2]
COMMANDS = ROOT / "docs" / "reference" / "commands.md"
API = ROOT / "docs" / "reference" / "api.md"
DEVELOPERS = ROOT / "DEVELOPERS.md"
_MAP = re.compile(r"(<!-- map[^\n]*-->\n).*?(<!-- end of map -->)", re.DOTALL)
_FLOORS = (
    *(
        "cli",
        "web",
        "web/pages",
        "web/api",
        "web/api/calls",
        "",
        "desk",
        "intake",
        "reports",
        "audit",
        "store",
        "books",
        "trade",
    ),
    "chain",
)
_HEAD = """\
# Commands

Made from the commands themselves by `make docs`.

A command ends with 0 where all is well, 1 where the books refuse, 2 where the input
cannot be read or nothing of that name is there, and 3 where something does not hold.
Results go to standard output, everything else to standard error.
"""


def commands_page() -> str:
    """Return the page on commands as it should be."""
    group = typer.main.get_command(app)
    context = typer.Context(group, info_name="evenweight")
    parts = [_HEAD]
    for name in sorted(group.list_commands(context)):  # type: ignore[attr-defined]
        command = group.get_command(context, name)  # type: ignore[attr-defined]
        inner = typer.Context(command, info_name=f"evenweight {name}")
        inner.max_content_width = inner.terminal_width = 88
        parts.append(f"## {name}\n\n```\n{command.get_help(inner)}\n```\n")
    return "\n".join(parts)


def developers_page() -> str:
    """Return the contributor guide with the map of modules as it should be."""
    page = DEVELOPERS.read_text(encoding="utf-8")
    lines = "".join(f"{line}\n" for line in _map_lines())
    return _MAP.sub(lambda found: f"{found[1]}{lines}{found[2]}", page)


def _map_lines() -> Iterator[str]:
    for floor in _FLOORS:
        yield f"\n**{floor or 'ledger'}/**\n"
        for path in sorted((ROOT / "ledger" / floor).glob("*.py")):
            if path.name != "__init__.py":
                yield f"- `{path.name}`: {_first_line(path)}"
    yield ""


def _first_line(path: Path) -> str:
    told = ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))
    return "" if told is None else told.splitlines()[0]


if __name__ == "__main__":
    COMMANDS.write_text(commands_page(), encoding="utf-8")
    API.write_text(api_page(), encoding="utf-8")
    DEVELOPERS.write_text(developers_page(), encoding="utf-8")
