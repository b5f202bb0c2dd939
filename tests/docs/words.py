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
from ledger.books.due_line import Standing
from ledger.books.effect import Cause, SubjectKind
from ledger.books.trace import Way
from ledger.books.validity import State
from ledger.intake.columns import SHEETS
from ledger.reports.balance_table import UNIT
from ledger.reports.entry_body import label_of
from ledger.reports.label_sheet import Sheet
from ledger.trade import inspection, role, words
from ledger.trade.inspection import FindingClosed
from ledger.trade.kinds import KINDS, sealed_fields
from ledger.trade.terms import ProcessLimit
from ledger.trade.words import PartyRole
from ledger.web.pages.papers import TITLES

ROOT = Path(__file__).parents[2]
LEDGER = ROOT / "ledger"
LOCALES = LEDGER / "reports" / "locale"
LANGUAGES = ("es",)
_TEMPLATES = ("web/templates/**/*.html", "reports/*.html")
_PROSE = (
    "*_table.py",
    "*_workings.py",
    "*_chart.py",
    "flow_layout.py",
    "genealogy_*.py",
    "tank_picture.py",
    "figures.py",
    "price_rule.py",
    "statement*.py",
)
"""Modules of ledger/reports/ whose every sentence may be read on a page."""
_ALONE = (
    "DIFFERS",
    "advance",
    "any certifier",
    "bought",
    "came in",
    "correction",
    "farmers of the seller, in cash",
    "fixed",
    "guaranteed minimum",
    "hours",
    "left",
    "less",
    "market",
    "mean",
    "more",
    "no",
    "not computable",
    "price agreed",
    "together",
    "went",
    "within",
    "yes",
    "scheme {1}",
    "seed {1}",
    "to be fixed",
    "tree head {1}",
    "{1} at most",
    "{1}, the last quote before {2}",
    "{1}, the last quotes before {2}",
    "{1}, the last rate before {2}",
)
"""Words that stand alone in cells and choices, out of reach of a search of the code."""
_PROSE_OF_BOOKS = ("audit_point.py", "headroom.py")
_PROSE_OF_DESK = ("preview.py",)
"""Modules of ledger/books/ and ledger/desk/ of which the same holds."""

_NAMED = (
    SubjectKind.LOT,
    SubjectKind.BATCH,
    SubjectKind.SHIPMENT,
    SubjectKind.SALE,
    SubjectKind.RECIPE,
)
"""What stands with its name in titles and cautions of a trace and a recall."""

_SAID = {
    "Field": (1, ("hint",)),
    "Group": (0, ()),
    "EntryForm": (None, ("title", "lead", "caution", "day")),
    "Page": (None, ("menu",)),
    "Column": (1, ()),
    "Caution": (2, ()),
    "Report": (1, ("lead",)),
    "Working": (0, ("rule",)),
    "_percent": (1, ()),
    "published": (2, ()),
    "terms_rule": (1, ()),
    "text": (1, ()),
}
"""What is read of what a call is given: its place, and the names of what else."""
_NAMES_OF_LINES = (
    "text",
    "clause",
    "_HIGHEST",
    "ROUNDED_UP",
    "CREDITED",
    "DRAWN",
    "hold",
)
"""Variables that hold what a line of arithmetic is called, its rule, or a caution."""


def phrases() -> dict[str, set[str]]:
    """Return every phrase that pages and reports say, and where it stands."""
    found: dict[str, set[str]] = {}
    for phrase, where in (
        *_of_templates(),
        *_of_code(),
        *_of_prose(),
        *_of_bodies(),
        *_of_sealed(),
        *_of_words(),
    ):
        if any(map(str.isalpha, phrase)):
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


def _of_code() -> Iterator[tuple[str, str]]:
    """Yield what `says(…)` is given, menus, labels, headings and lines of arithmetic."""
    for path in _files(
        LEDGER,
        ("web/*.py", "web/pages/*.py", "reports/*.py", "books/*.py", "desk/preview.py"),
    ):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        for node in ast.walk(tree):
            if isinstance(node, ast.Call):
                yield from ((one, _where(path)) for one in _said_by(node))
        for one in _constants(tree):
            yield one, _where(path)


def _constants(tree: ast.Module) -> Iterator[str]:
    """Yield sentences that a module names, and what a line of arithmetic is called."""
    named = [one for one in tree.body if isinstance(one, ast.Assign | ast.AnnAssign)]
    values = [one.value for one in named if one.value is not None]
    yield from filter(_is_sentence, _texts(values))
    for node in ast.walk(tree):
        match node:
            case (
                ast.Assign(targets=[ast.Name(id=name)], value=value)
                | ast.AnnAssign(target=ast.Name(id=name), value=ast.expr() as value)
            ) if name in _NAMES_OF_LINES:
                yield from _texts([value])


def _is_sentence(text: str) -> bool:
    return text.endswith(".") and " " in text and "\\" not in text


def _said_by(call: ast.Call) -> Iterator[str]:
    called = _called(call)
    if called == "says":
        yield from _texts(call.args)
    place, named = _SAID.get(called, (None, ()))
    if place is not None:
        yield from _texts(call.args[place : place + 1])
    for keyword in call.keywords:
        if keyword.arg in named:
            yield from _texts([keyword.value])
        if keyword.arg == "title" and not isinstance(keyword.value, ast.Call):
            yield from filter(_is_title, _texts([keyword.value]))
        if called == "Field" and keyword.arg == "choices":
            yield from _second_texts(keyword.value)


def _is_title(text: str) -> bool:
    return text[:1].isupper()


def _second_texts(node: ast.AST) -> Iterator[str]:
    """Yield what a choice is called: the second text of each pair."""
    for pair in ast.walk(node):
        if isinstance(pair, ast.Tuple):
            yield from _texts(
                one for one in pair.elts[1:2] if isinstance(one, ast.Constant)
            )


def _of_prose() -> Iterator[tuple[str, str]]:
    """Yield every sentence of the modules that hold nothing else."""
    for path in (
        *_files(LEDGER / "reports", _PROSE),
        *_files(LEDGER / "books", _PROSE_OF_BOOKS),
        *_files(LEDGER / "desk", _PROSE_OF_DESK),
    ):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        _drop_docstrings(tree)
        for one in _texts(ast.iter_child_nodes(tree)):
            if " " in one.strip() and any(map(str.isalpha, one)):
                yield one, _where(path)


def _of_bodies() -> Iterator[tuple[str, str]]:
    """Yield what the members of entries are called, with all that stands in them."""
    for kind, model in KINDS.items():
        for name in _members(model.model_json_schema()):
            yield label_of(name)[0], kind


def _members(schema: object) -> Iterator[str]:
    if isinstance(schema, dict):
        for name in schema.get("properties", {}):
            yield str(name)
        for inner in schema.values():
            yield from _members(inner)
    elif isinstance(schema, list):
        for inner in schema:
            yield from _members(inner)


def _of_sealed() -> Iterator[tuple[str, str]]:
    """Yield what sealed values are called in the preview of a pack."""
    for kind in KINDS:
        for name in sealed_fields(kind):
            owners = PartyRole if kind == "party.registered" else (kind,)
            for owner in owners:
                yield f"{name.replace('_', ' ')} of {owner}", kind


def _of_words() -> Iterator[tuple[str, str]]:
    """Yield the words of the trade that stand in cells."""
    for module in (words, role, inspection, drawing):
        for found in vars(module).values():
            if isinstance(found, type) and issubclass(found, StrEnum):
                yield from ((one.value, found.__name__) for one in found)
    for named in (Cause, Sheet, Standing, State, SubjectKind, Way):
        yield from ((one.value, named.__name__) for one in named)
    yield from ((f"{one} {{1}}", "Subject") for one in _NAMED)
    yield from ((one, "papers") for one in TITLES)
    yield from ((one, "alone") for one in _ALONE)
    yield from ((f"{one} ({sheet.kind})", "upload") for one, sheet in SHEETS.items())
    measures = ProcessLimit.model_fields["measure"].annotation
    yield from ((one, "ProcessLimit") for one in get_args(measures))
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
        elif (
            isinstance(part, ast.FormattedValue)
            and isinstance(part.value, ast.Name)
            and part.value.id == "UNIT"
        ):
            parts.append(UNIT)
        else:
            place += 1
            parts.append(f"{{{place}}}")
    return "".join(parts)


def _is_unit(part: ast.expr) -> bool:
    value = part.value if isinstance(part, ast.FormattedValue) else None
    return isinstance(value, ast.Name) and value.id == "UNIT"


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
    if isinstance(node.func, ast.Attribute):
        return node.func.attr
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
