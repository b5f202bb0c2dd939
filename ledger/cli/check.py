"""Checking a pack, on a machine that never saw the ledger."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ledger.cli.options import JsonSwitch

if TYPE_CHECKING:
    from ledger.audit.verdict import Verdict
    from ledger.desk.check import CheckedForFolder


def add_to(app: typer.Typer) -> None:
    """Add the commands of this module."""
    app.command("check")(check)


def check(
    pack: Annotated[Path, typer.Argument(help="The pack: a zip file or a folder.")],
    folder: Annotated[
        Path | None,
        typer.Option(
            help="Your folder, in which the maker is enrolled: compares with the last "
            "checkpoint you accepted, and remembers the new one.",
            show_default=False,
        ),
    ] = None,
    last: Annotated[
        str | None,
        typer.Option(
            help="Without a folder: the last checkpoint you kept, a file or SIZE:ROOT.",
            show_default=False,
        ),
    ] = None,
    key: Annotated[
        str | None,
        typer.Option(
            help="Without a folder: the line of the maker's key, from the maker's hand.",
            show_default=False,
        ),
    ] = None,
    witness: Annotated[
        list[str] | None,
        typer.Option(
            help="Without a folder: line of a witness's key; may be repeated.",
            show_default=False,
        ),
    ] = None,
    authority: Annotated[
        Path | None,
        typer.Option(
            help="PEM file of the timestamp authorities that you trust.",
            show_default=False,
        ),
    ] = None,
    others: Annotated[
        list[Path] | None,
        typer.Option(
            "--with",
            help="Another pack of the same maker that must agree with this one; may be "
            "repeated.",
            show_default=False,
        ),
    ] = None,
    as_json: JsonSwitch = False,
) -> None:
    """Check a pack: bytes, chain, signatures, and every figure added up again.

    A key that comes with the pack proves nothing. Give the one that you have from the
    maker, by --folder or --key.
    """
    from ledger.desk.agreement import check_together
    from ledger.desk.check import (
        check_pack_at,
        check_pack_for,
        kept_from,
        pinned_by_hand,
        verdict_json,
    )

    if folder is not None and (last or key or witness):
        raise typer.BadParameter(
            "--folder knows --last, --key and --witness already; give one or the other"
        )
    if folder is not None:
        made = check_pack_for(folder, pack, authorities=authority)
        verdict = made.verdict
        print(_told(made), file=sys.stderr)
    else:
        verdict = check_pack_at(
            pack,
            kept=None if last is None else kept_from(last),
            pinned=pinned_by_hand(key, tuple(witness or ()), authority),
        )
    if others:
        verdict = check_together(verdict, pack, others, check=check_pack_at)
    if as_json:
        print(verdict_json(verdict))
    else:
        _print_verdict(verdict)
    if verdict.problems:
        raise typer.Exit(3)


def _told(made: "CheckedForFolder") -> str:
    before = (
        f"compared with the checkpoint over {made.kept} entries that you accepted last"
        if made.kept
        else "first visit: there was no checkpoint to compare with"
    )
    after = (
        f"remembered the one over {made.remembered}"
        if made.remembered
        else "nothing new was remembered"
    )
    return f"{made.maker}: {before}; {after}"


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
