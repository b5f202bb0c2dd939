"""Trying mutants, as a plugin of pytest: the tests are collected once, then shared.

A first run notes which functions each test calls, and how long it takes. Then every
mutant gets a process of its own, forked from this one with everything loaded. In it run
tests that call its function until one fails: those of files that name its module first,
then of all other files in turn, sooner where they name a module near it, the quickest
first, as many as took three seconds together before. What survives these is tried once
more, with as many as took twelve. A process that takes far longer is ended: that
counts as noticed, too.
"""

import gc
import json
import os
import re
import signal
import sys
import time
from collections import defaultdict
from collections.abc import Sequence
from functools import cache
from importlib import import_module
from pathlib import Path
from typing import Any, Final

import pytest
from _pytest.runner import runtestprotocol

from tests.mutants.choice import Mutant, books_in

WISHES: Final = Path("wishes.json")
"""The mutants to try, and where the answers go, in the folder of the copy."""
ANSWERS: Final = Path("answers.jsonl")
NOTICED: Final = ("killed", "too slow")
"""Answers that say that some test noticed a mutant."""
_ENOUGH: Final = (3.0, 12.0)
"""How many seconds the tests of one mutant may take together, by the first run: when it
is tried, and when it is tried once more because it survived."""
_USES: Final = re.compile(r"from ledger\.books\.(\w+) import")
_SLOW: Final = 5
"""How many times as long as before the tests may take, and how many seconds more."""


@pytest.hookimpl(tryfirst=True)
def pytest_runtestloop(session: pytest.Session) -> bool:
    """Try every mutant that is wished for and not answered yet."""
    mutants = [Mutant(*wish) for wish in json.loads(WISHES.read_text("utf-8"))]
    calls, seconds = _watch(session.items)
    gc.freeze()
    with ANSWERS.open("a", encoding="utf-8") as out:
        for go in range(len(_ENOUGH)):
            for mutant in _still_to_try(mutants, go):
                tests = _tests_for(mutant, calls, seconds, _ENOUGH[go])
                limit = _SLOW * (1 + sum(seconds[item.nodeid] for item in tests))
                began = time.monotonic()
                answer = _try(mutant, tests, limit) if tests else "no test calls it"
                took = round(time.monotonic() - began, 2)
                said = {"name": mutant.name, "answer": answer, "go": go}
                out.write(json.dumps({**said, "s": took, "n": len(tests)}) + "\n")
                out.flush()
    return True


def _still_to_try(mutants: Sequence[Mutant], go: int) -> Sequence[Mutant]:
    """Return mutants without an answer, or that survived every go before this one."""
    lines = [json.loads(line) for line in _lines(ANSWERS)]
    tried = {said["name"] for said in lines if said["go"] >= go}
    noticed = {said["name"] for said in lines if said["answer"] in NOTICED}
    return [one for one in mutants if one.name not in tried | noticed]


def _tests_for(
    mutant: Mutant,
    calls: dict[str, list[pytest.Item]],
    seconds: dict[str, float],
    enough: float,
) -> list[pytest.Item]:
    """Return tests that call the function of a mutant, in the order in which they run."""
    about, near = _about(mutant.module), _near(mutant.module)
    name, _, _ = mutant.name.rpartition("__mutmut_")
    found: list[pytest.Item] = []
    taken = 0.0
    rank: dict[Path, int] = defaultdict(int)
    turns: list[tuple[int, float, pytest.Item]] = []
    for item in sorted(calls[name], key=lambda item: seconds[item.nodeid]):
        rank[item.path] += 1
        turn = rank[item.path] * (1 if near.search(_text(item.path)) else 4)
        turn = 0 if about.search(_text(item.path)) else turn
        turns.append((turn, seconds[item.nodeid], item))
    for _, took, item in sorted(turns, key=lambda turn: turn[:2]):
        taken += took
        if found and taken > enough:
            break
        found.append(item)
    return found


@cache
def _about(module: str) -> re.Pattern[str]:
    """Return what is written in the files of tests that name a module of the books."""
    return re.compile(rf"ledger\.books\.{module}\b")


@cache
def _near(module: str) -> re.Pattern[str]:
    """Return what is written in those that name one which it uses, or which uses it."""
    used = set(_USES.findall(_text(Path(f"ledger/books/{module}.py"))))
    users = {
        path.stem for path in books_in(Path()) if _about(module).search(_text(path))
    }
    return re.compile(rf"ledger\.books\.(?:{'|'.join(sorted(used | users))})\b")


@cache
def _text(path: Path) -> str:
    return path.read_text("utf-8")


def _lines(path: Path) -> list[str]:
    return path.read_text("utf-8").splitlines() if path.exists() else []


def _watch(
    items: Sequence[pytest.Item],
) -> tuple[dict[str, list[pytest.Item]], dict[str, float]]:
    """Return the tests that call each function, and how many seconds each takes.

    A test that fails although nothing is spoiled is named, and left out.
    """
    switch: Any = import_module("mutmut.mutation.trampoline")
    noted: Any = import_module("mutmut.state").state()
    switch.set_mutant_under_test("stats")
    calls: dict[str, list[pytest.Item]] = defaultdict(list)
    seconds: dict[str, float] = {}
    for item in items:
        began = time.monotonic()
        if not _passes(item):
            sys.stderr.write(f"left out, since it fails as it is: {item.nodeid}\n")
            noted._stats.clear()
            continue
        seconds[item.nodeid] = time.monotonic() - began
        for name in noted._stats:
            calls[name].append(item)
        noted._stats.clear()
    switch.set_mutant_under_test("")
    return calls, seconds


def _passes(item: pytest.Item) -> bool:
    reports = runtestprotocol(item, log=False, nextitem=None)
    return not any(report.failed for report in reports)


def _try(mutant: Mutant, tests: Sequence[pytest.Item], limit: float) -> str:
    child = os.fork()
    if not child:
        _run(mutant, tests)
    until = time.monotonic() + limit
    while time.monotonic() < until:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            return "survived" if status == 0 else "killed"
        time.sleep(0.01)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return "too slow"


def _run(mutant: Mutant, tests: Sequence[pytest.Item]) -> None:
    """Run tests with one function spoiled, and end this process: with 0 if all pass."""
    ended = 1
    try:
        switch: Any = import_module("mutmut.mutation.trampoline")
        switch.set_mutant_under_test(mutant.name)
        ended = int(not all(_passes(item) for item in tests))
    finally:
        os._exit(ended)
