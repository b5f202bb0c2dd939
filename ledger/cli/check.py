"""Checking a pack, on a machine that never saw the ledger."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ledger.cli.options import JsonSwitch

if TYPE_CHECKING:
    from ledger.audit.verdict import Verdict


def add_to(app: typer.Typer) -> None:
    """Add the commands of this module."""
    app.command("check")(check)


def check(
    pack: Annotated[Path, typer.Argument(help="The pack: a zip file or a folder.")],
    as_json: JsonSwitch = False,
) -> None:
    """Check a pack: bytes, chain, tree head, and every figure added up again."""
    from ledger.desk.check import check_pack_at, verdict_json

    verdict = check_pack_at(pack)
    if as_json:
        print(verdict_json(verdict))
    else:
        _print_verdict(verdict)
    if verdict.problems:
        raise typer.Exit(3)


def _print_verdict(verdict: "Verdict") -> None:
    for checked in verdict.checked:
        mark = "holds" if checked.holds else "DOES NOT HOLD"
        print(f"{checked.name:<34} {mark:<14} {checked.detail}")
    for problem in verdict.problems:
        print(f"  {problem.where}: {problem.sentence}")
    for title, sentences in (
        ("Proved", verdict.proved),
        ("Claimed by the maker", verdict.claimed),
        ("Not checked", verdict.not_checked),
    ):
        print(f"\n{title}")
        for sentence in sentences:
            print(f"  - {sentence}")
