"""Recording files, and correcting entries."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ledger.cli.options import ByOption, LedgerOption, day_given

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ledger.desk.folder import FileOutcome


def add_to(app: typer.Typer) -> None:
    """Add the commands of this module."""
    app.command("record")(record_paths)
    app.command("correct")(correct_entry)


def record_paths(
    paths: Annotated[list[Path], typer.Argument(help="Files, or folders of files.")],
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Tell what would happen; record nothing.")
    ] = False,
    quiet: Annotated[
        bool, typer.Option("--quiet", help="Leave out the progress bar and warnings.")
    ] = False,
    ledger: LedgerOption = None,
    by: ByOption = None,
) -> None:
    """Record files of entries: YAML or CSV, each all or nothing.

    A ledger that does not exist yet is made when the first entry is ledger.opened.
    """
    from ledger import wiring
    from ledger.desk.folder import find_files, record_files

    found = find_files(paths)
    _say_skipped(found.skipped, quiet=quiet)
    place = wiring.place_of(ledger)
    with wiring.writing(place, by=wiring.user_named(by), create=True) as opened:
        _say_upgraded(place, opened.upgraded, quiet=quiet)
        outcomes = record_files(opened.transaction, found.contents(), dry_run=dry_run)
        done = _with_progress(outcomes, len(found.files), quiet=quiet)
    _sum_up(done, dry_run=dry_run, quiet=quiet)


def _say_skipped(skipped: tuple[str, ...], *, quiet: bool) -> None:
    if not quiet and skipped:
        more = f" and {len(skipped) - 1} more" if len(skipped) > 1 else ""
        print(f"left out {skipped[0]}{more}", file=sys.stderr)


def _say_upgraded(place: object, upgraded: tuple[str, ...], *, quiet: bool) -> None:
    if upgraded and not quiet:
        print(f"brought the tables of {place} up to date:", file=sys.stderr)
        for revision in upgraded:
            print(f"  {revision}", file=sys.stderr)


def _with_progress(
    outcomes: "Iterator[FileOutcome]", total: int, *, quiet: bool
) -> "list[FileOutcome]":
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

    console = Console(stderr=True)
    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn())
    with Progress(*columns, console=console, disable=quiet, transient=True) as progress:
        task = progress.add_task("recording", total=total)
        done: list[FileOutcome] = []
        try:
            for outcome in outcomes:
                done.append(outcome)
                progress.update(task, advance=1, description=outcome.name)
        except KeyboardInterrupt:
            progress.stop()
            _say_stopped(done)
            raise
    return done


def _say_stopped(done: "list[FileOutcome]") -> None:
    # A dry run tells of its files only when it is over.
    what = (
        f"after {done[-1].name}; every file up to there is recorded, and nothing of the "
        "next, so record the files that are left"
        if done
        else "and nothing is recorded"
    )
    print(f"evenweight: stopped {what}", file=sys.stderr)


def _sum_up(done: "list[FileOutcome]", *, dry_run: bool, quiet: bool) -> None:
    if not quiet:
        for outcome in done:
            for noted in outcome.warnings:
                print(
                    f"warning: {noted.where}: {noted.finding.message}", file=sys.stderr
                )
    refused = next((outcome for outcome in done if outcome.refusal is not None), None)
    entries = sum(outcome.entries for outcome in done)
    kept = sum(outcome.refusal is None for outcome in done)
    verb = "would record" if dry_run else "recorded"
    print(f"{verb} {entries} entries from {kept} files")
    if refused is not None and refused.refusal is not None:
        raise refused.refusal


def correct_entry(
    target: Annotated[int, typer.Argument(help="Sequence number of the wrong entry.")],
    reason: Annotated[str, typer.Option(help="What was wrong, and how it was found.")],
    replacement: Annotated[
        Path | None,
        typer.Option(
            "--with",
            help="YAML file with the one entry that takes its place; void if none.",
        ),
    ] = None,
    on: Annotated[
        str | None, typer.Option(metavar="DATE", help="Trade date; today if left out.")
    ] = None,
    approved_by: Annotated[
        str | None, typer.Option(help="Second person who approved it.")
    ] = None,
    accept_breach: Annotated[
        bool,
        typer.Option(
            "--accept-breach", help="Record it even if an account falls short."
        ),
    ] = False,
    ledger: LedgerOption = None,
    by: ByOption = None,
) -> None:
    """Void an entry, or put another in its place, and say why."""
    from ledger import wiring
    from ledger.desk.correct import correct

    place = wiring.place_of(ledger)
    with (
        wiring.writing(place, by=wiring.user_named(by)) as opened,
        opened.transaction() as writing,
    ):
        made = correct(
            writing,
            target,
            reason=reason,
            replacement=replacement,
            on=day_given(on, option="--on") or wiring.now().date(),
            approved_by=approved_by,
            accept_breach=accept_breach,
        )
    for finding in made.judgement.warnings:
        print(f"warning: {finding.message}", file=sys.stderr)
    also = made.judgement.restated
    print(f"entry {made.recorded.seq} corrects entry {target}")
    if len(also) > 1:
        print(f"{len(also) - 1} later entries count differently because of it")
