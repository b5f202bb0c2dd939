"""Spoil a copy of the books, see which changes the tests notice, and print the score.

Run with `make mutants`; see docs/reference/mutants.md. Nothing in the checkout changes:
the last commit is copied under build/mutants, and what was found stays there. A run that
was stopped goes on where it was, with the tests of the last commit; what survived is tried
once more, since tests written meanwhile may notice it. `--again` begins anew, and names of
modules of the books after it try all mutants of those alone.
"""

import io
import json
import os
import re
import shutil
import subprocess
import sys
import tarfile
from collections import Counter
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Final

from tests.mutants.choice import LAWS, SAMPLE, SEED, Mutant, books_in, chosen
from tests.mutants.trying import ANSWERS, NOTICED, WISHES
from tests.mutants.writing import write_mutants

ROOT: Final = Path(__file__).parents[2]
COPY: Final = ROOT / "build" / "mutants"
MADE: Final = Path("made.txt")
"""How many mutants there are, in the folder of the copy."""
TESTS: Final = (
    "tests/books",
    "tests/audit/test_portion.py",
    "tests/reports",
)
"""The tests of the books, of parts of ledgers, and of the reports drawn from both."""
_CONFIG: Final = '\n[tool.mutmut]\nsource_paths = ["ledger"]\n'
_TYPED: Final = re.compile(
    r"ledger/books/(\w+)\.py:(\d+): error: .*"
    r"\[(?:arg-type|assignment|attr-defined|call-arg|call-overload|index|name-defined"
    r"|operator|return-value|type-var|union-attr)\]"
)
"""What the type checker says of a wrong type; what it says of the switches is left out."""


def main(words: Sequence[str]) -> None:
    """Make the copy, try the mutants, print the score and the survivors."""
    modules = [word for word in words if not word.startswith("-")]
    if "--again" in words or not (COPY / WISHES).exists():
        _make_copy()
        os.chdir(COPY)
        _write_wishes(modules)
    else:
        _unpack("tests")
        _forget_survivors()
    os.chdir(COPY)
    _try()
    sys.stdout.write(_told())


def _make_copy() -> None:
    """Copy the last commit; what is not committed yet takes no part."""
    shutil.rmtree(COPY, ignore_errors=True)
    COPY.mkdir(parents=True)
    _unpack(".")
    with (COPY / "pyproject.toml").open("a", encoding="utf-8") as config:
        config.write(_CONFIG)


def _unpack(folder: str) -> None:
    """Take a folder of the last commit over into the copy."""
    archive = subprocess.run(
        ("git", "archive", "HEAD", folder), cwd=ROOT, check=True, capture_output=True
    )
    with tarfile.open(fileobj=io.BytesIO(archive.stdout)) as packed:
        packed.extractall(COPY, filter="data")


def _forget_survivors() -> None:
    """Take out of the answers what survived more than once, so that it is tried again."""
    path = COPY / ANSWERS
    lines = path.read_text("utf-8").splitlines() if path.exists() else []
    answers = [json.loads(line) for line in lines]
    kept = (one for one in answers if not one["go"] or one["answer"] in NOTICED)
    path.write_text("".join(json.dumps(one) + "\n" for one in kept), "utf-8")


def _write_wishes(modules: Sequence[str]) -> None:
    """Write the books anew, and the list of mutants to try, which types let pass."""
    every = [mutant for path in books_in(Path()) for mutant in write_mutants(path)]
    typed = _refused_by_types(every)
    left = [mutant for mutant in every if mutant.name not in typed]
    wanted = [m for m in left if m.module in modules] if modules else chosen(left)
    made = Counter(mutant.module in LAWS for mutant in every)
    passed = Counter(mutant.module in LAWS for mutant in left)
    MADE.write_text(
        f"made: {made[True]} in {len(LAWS)} modules that carry laws, {made[False]} in the "
        f"rest; refused by types: {made[True] - passed[True]} and "
        f"{made[False] - passed[False]}; of the {passed[False]} left in the rest, {SAMPLE} "
        f"are tried, drawn with seed {SEED}\n",
        "utf-8",
    )
    WISHES.write_text(json.dumps(wanted), "utf-8")


def _refused_by_types(mutants: Iterable[Mutant]) -> set[str]:
    """Return the mutants that the type checker refuses, as `make lint` would."""
    command = (sys.executable, "-m", "mypy", "--no-incremental", "ledger/books")
    said = subprocess.run(command, check=False, capture_output=True, text=True).stdout
    wrong: dict[str, list[int]] = {}
    for module, line in _TYPED.findall(said):
        wrong.setdefault(module, []).append(int(line))
    return {
        mutant.name
        for mutant in mutants
        if any(
            mutant.line <= line <= mutant.end for line in wrong.get(mutant.module, ())
        )
    }


def _try() -> None:
    command = (
        *(sys.executable, "-m", "pytest", "-q", "-p", "tests.mutants.trying"),
        *("-p", "no:cacheprovider", "-p", "no:xdist"),
        *("--hypothesis-profile=mutants", *TESTS),
    )
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)


def _told() -> str:
    """Return the score, and every survivor with its change."""
    mutants = {wish[0]: Mutant(*wish) for wish in json.loads(WISHES.read_text("utf-8"))}
    answers = {
        said["name"]: said["answer"]
        for said in map(json.loads, ANSWERS.read_text("utf-8").splitlines())
    }
    lines = []
    for name, said in sorted(answers.items()):
        if said not in NOTICED:
            one = mutants[name]
            lines.append(
                f"{name}: {said}\n  - {one.was.strip()}\n  + {one.now.strip()}"
            )
    lines.append(MADE.read_text("utf-8").strip())
    for what, of_laws in (("laws", True), ("rest", False)):
        some = [s for n, s in answers.items() if (mutants[n].module in LAWS) is of_laws]
        counted = Counter(some)
        noticed = sum(counted[one] for one in NOTICED)
        if some:
            lines.append(
                f"{what}: tests notice {noticed} of {len(some)}, {noticed / len(some):.1%} "
                f"({', '.join(f'{s} {c}' for s, c in sorted(counted.items()))})"
            )
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    main(sys.argv[1:])
