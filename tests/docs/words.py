"""The catalogue of phrases, kept up from the code that says them.

Run `make words` (`python -m tests.docs.words`) to add new phrases to each catalogue, empty,
and to take out what nobody says any more. A translator fills the empty ones in.
"""

import ast
from collections.abc import Iterable, Iterator
from enum import StrEnum
from io import BytesIO
from pathlib import Path
from typing import get_args

from babel.messages.catalog import Catalog
from babel.messages.extract import extract
from babel.messages.pofile import read_po, write_po

from ledger.books import drawing
from ledger.books.effect import Cause
from ledger.trade import inspection, role, words
from ledger.trade.inspection import FindingClosed

ROOT = Path(__file__).parents[2]
LEDGER = ROOT / "ledger"
LOCALES = LEDGER / "reports" / "locale"
LANGUAGES = ("es",)
_TEMPLATES = ("web/templates/**/*.html", "reports/*.html")
_PROSE = ("*_table.py", "statement*.py", "*_workings.py", "price_rule.py")
"""Modules of ledger/reports/ whose every sentence may be read on a page."""
_PROSE_OF_BOOKS = ("audit_point.py", "headroom.py")
"""Modules of ledger/books/ of which the same holds."""

_OF_FORMS = {
    "Field": (1, ("hint",)),
    "Group": (0, ()),
    "EntryForm": (None, ("title", "lead", "caution", "day")),
}
"""What describes a form: place of its label, and names of what else is read."""


def phrases() -> dict[str, set[str]]:
    """Return every phrase that pages and reports say, and where it stands."""
    found: dict[str, set[str]] = {}
    for phrase, where in (
        *_of_templates(),
        *_of_pages(),
        *_of_reports(),
        *_of_words(),
    ):
        found.setdefault(phrase, set()).add(where)
    return found


def _of_templates() -> Iterator[tuple[str, str]]:
    for path in _files(LEDGER, _TEMPLATES):
        with path.open("rb") as lines:
            for _, phrase, _, _ in extract(
                "jinja2.ext:babel_extract",
                lines,
                keywords={"_": None},
                options={"trim_blocks": "true", "lstrip_blocks": "true"},
            ):
                yield str(phrase), _where(path)


def _of_pages() -> Iterator[tuple[str, str]]:
    """Yield what `says(…)` is given, and what the menu calls a page."""
    for path in _files(LEDGER, ("web/**/*.py",)):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.Call):
                continue
            if isinstance(node.func, ast.Attribute) and node.func.attr == "says":
                yield from ((one, _where(path)) for one in _texts(node.args))
            menus = [one.value for one in node.keywords if one.arg == "menu"]
            yield from ((one, _where(path)) for one in _texts(menus))
            place, named = _OF_FORMS.get(_called(node), (None, ()))
            labels = [] if place is None else node.args[place : place + 1]
            labels += [one.value for one in node.keywords if one.arg in named]
            yield from ((one, _where(path)) for one in _texts(labels))


def _of_reports() -> Iterator[tuple[str, str]]:
    """Yield headings, and every sentence that a table may hold."""
    for path in _files(LEDGER / "reports", ("*.py",)):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        for node in ast.walk(tree):
            if isinstance(node, ast.Call) and _called(node) == "Column":
                yield from ((one, _where(path)) for one in _texts(node.args[1:2]))
    for path in (
        *_files(LEDGER / "reports", _PROSE),
        *_files(LEDGER / "books", _PROSE_OF_BOOKS),
    ):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        _drop_docstrings(tree)
        for one in _texts(ast.iter_child_nodes(tree)):
            if " " in one.strip() and any(map(str.isalpha, one)):
                yield one, _where(path)


def _of_words() -> Iterator[tuple[str, str]]:
    """Yield the words of the trade that stand in cells."""
    for module in (words, role, inspection, drawing):
        for found in vars(module).values():
            if isinstance(found, type) and issubclass(found, StrEnum):
                yield from ((one.value, found.__name__) for one in found)
    yield from ((one.value, "Cause") for one in Cause)
    outcomes = FindingClosed.model_fields["outcome"].annotation
    yield from ((one, "FindingClosed") for one in get_args(outcomes))


def _texts(nodes: Iterable[ast.AST]) -> Iterator[str]:
    """Yield the texts below some nodes; a figure inside a text becomes its place."""
    for node in nodes:
        if isinstance(node, ast.Constant):
            if isinstance(node.value, str) and node.value.strip():
                yield node.value
        elif isinstance(node, ast.JoinedStr):
            yield _with_places(node)
            inner = (
                one.value for one in node.values if isinstance(one, ast.FormattedValue)
            )
            yield from _texts(inner)
        else:
            yield from _texts(ast.iter_child_nodes(node))


def _with_places(node: ast.JoinedStr) -> str:
    parts, place = [], 0
    for part in node.values:
        if isinstance(part, ast.Constant):
            parts.append(str(part.value))
        else:
            place += 1
            parts.append(f"{{{place}}}")
    return "".join(parts)


def _drop_docstrings(tree: ast.AST) -> None:
    for node in ast.walk(tree):
        body = getattr(node, "body", None)
        if isinstance(body, list):
            node.body = [  # type: ignore[attr-defined]
                one
                for one in body
                if not (
                    isinstance(one, ast.Expr) and isinstance(one.value, ast.Constant)
                )
            ] or [ast.Pass()]


def _called(node: ast.Call) -> str:
    return node.func.id if isinstance(node.func, ast.Name) else ""


def _files(folder: Path, patterns: Iterable[str]) -> list[Path]:
    return sorted({path for pattern in patterns for path in folder.glob(pattern)})


def _where(path: Path) -> str:
    return path.relative_to(LEDGER).as_posix()


def read_catalogue(language: str) -> Catalog:
    """Return the catalogue of a language as it is kept; an empty one if there is none."""
    path = LOCALES / f"{language}.po"
    raw = path.read_bytes() if path.exists() else b""
    return read_po(BytesIO(raw), locale=language)


def catalogue_text(language: str) -> bytes:
    """Return the catalogue of a language with every phrase that is said, and no other."""
    kept = read_catalogue(language)
    made = Catalog(locale=language, header_comment="# Phrases of evenweight.")
    for phrase, where in sorted(phrases().items()):
        known = kept.get(phrase)
        made.add(
            phrase,
            known.string if known else "",
            auto_comments=[", ".join(sorted(where))],
        )
    written = BytesIO()
    write_po(written, made, width=88, omit_header=True, sort_output=True)
    header = f'msgid ""\nmsgstr ""\n"Language: {language}\\n"\n'
    return (
        header + '"Content-Type: text/plain; charset=utf-8\\n"\n\n'
    ).encode() + written.getvalue()


if __name__ == "__main__":
    LOCALES.mkdir(exist_ok=True)
    for one in LANGUAGES:
        raw = catalogue_text(one)
        (LOCALES / f"{one}.po").write_bytes(raw)
