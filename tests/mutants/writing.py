"""Writing the books anew, each function beside all the ways in which it can be spoiled.

mutmut makes the changes and the switch between them. Two things are done to what it
makes: the bodies of properties are turned into methods first, since it leaves whatever
is decorated alone; and the wording of sentences is left as it is.
"""

import ast
import difflib
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path
from typing import Any

from tests.mutants.choice import Mutant


def write_mutants(path: Path) -> list[Mutant]:
    """Write a module of the books anew, and return what can be spoiled in it."""
    making: Any = import_module("mutmut.mutation.file_mutation")
    _leave_sentences(making)
    written = making.mutate_file_contents(str(path), opened(path.read_text("utf-8")))
    path.write_text(written.code, "utf-8")
    lines = written.code.splitlines()
    spans = written.line_span_by_function_name
    return [
        _mutant(path.stem, name, lines, spans)
        for name in written.mutant_names
        if name in spans
    ]


def opened(source: str) -> str:
    """Return a module in which every property asks a method of its own."""
    lines = source.splitlines()
    for function in reversed(list(_properties(ast.parse(source)))):
        decorator = function.decorator_list[0].lineno - 1
        head = lines[function.lineno - 1]
        indent = " " * function.col_offset
        asking = [
            f"{indent}@property",
            head,
            f"{indent}    return self.of_{function.name}()",
        ]
        lines[function.end_lineno : function.end_lineno] = ["", *asking]
        lines[function.lineno - 1] = head.replace(function.name, f"of_{function.name}")
        del lines[decorator]
    return "\n".join(lines) + "\n"


def _properties(module: ast.Module) -> Iterator[ast.FunctionDef]:
    for made in module.body:
        for part in made.body if isinstance(made, ast.ClassDef) else ():
            if isinstance(part, ast.FunctionDef) and any(
                isinstance(one, ast.Name) and one.id == "property"
                for one in part.decorator_list
            ):
                yield part


def _leave_sentences(making: Any) -> None:  # noqa: ANN401
    """Let the tool spoil names and keys, but no text that has a space in it."""
    spoil_text: Any = import_module("mutmut.mutation.mutators").operator_string

    def spoil_names(node: Any) -> Any:  # noqa: ANN401
        return () if " " in getattr(node, "value", " ") else spoil_text(node)

    making.mutation_operators = [
        (kind, spoil_names if spoil is spoil_text else spoil)
        for kind, spoil in making.mutation_operators
    ]


def _mutant(module: str, name: str, lines: list[str], spans: Any) -> Mutant:  # noqa: ANN401
    function, _, _ = name.rpartition("__mutmut_")
    was, now = (
        lines[span.start - 1 : span.end]
        for span in (spans[f"{function}__mutmut_orig"], spans[name])
    )
    changed = list(difflib.ndiff(was[1:], now[1:]))
    return Mutant(
        name=f"ledger.books.{module}.{name}",
        module=module,
        line=spans[name].start,
        end=spans[name].end,
        function=function.removeprefix("x_").removeprefix("xǁ").replace("ǁ", "."),
        was="\n".join(line[2:] for line in changed if line.startswith("- ")),
        now="\n".join(line[2:] for line in changed if line.startswith("+ ")),
    )
