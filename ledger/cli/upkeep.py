"""Upkeep: verify, rebuild, schemas, and the entries as recorded."""

import sys
from pathlib import Path
from typing import Annotated

import typer

from ledger.cli.options import ByOption, LedgerOption


def add_to(app: typer.Typer) -> None:
    """Add the commands of this module."""
    app.command("verify")(verify_ledger)
    app.command("rebuild")(rebuild_ledger)
    app.command("schemas")(write_schemas)
    app.command("log")(show_entries)


def verify_ledger(ledger: LedgerOption = None) -> None:
    """Check the stored ledger: bytes, chain, leaves, tree, signatures, sealed values."""
    from ledger import wiring
    from ledger.desk.signed import signed_so_far
    from ledger.desk.verify import verify
    from ledger.errors import SealError

    place = wiring.place_of(ledger)
    with wiring.reading(place) as rows:
        found = verify(rows)
        signed = signed_so_far(rows, lambda: place.checkpoints_path)
    for trouble in found.troubles:
        where = "ledger" if trouble.seq is None else f"entry {trouble.seq}"
        print(f"{where}: {trouble.problem}")
    print(f"entries    {found.entries}")
    print(f"tree head  {found.tree_head.hex()}")
    print(f"signed     {signed.problem or f'the first {signed.entries} entries'}")
    if found.troubles:
        raise SealError(
            f"{place} does not hold in {len(found.troubles)} places; restore it from a "
            "backup, and tell your certifier"
        )
    if signed.is_broken:
        raise SealError(
            f"{place} fits itself but is not what was signed; find out which copy of it "
            "was, and tell your certifier"
        )
    print("every entry, link, digest and sealed value holds")


def rebuild_ledger(ledger: LedgerOption = None, by: ByOption = None) -> None:
    """Drop what follows from the entries, add it up again, and report differences."""
    from ledger import wiring
    from ledger.desk.rebuild import rebuild
    from ledger.errors import SealError

    place = wiring.place_of(ledger)
    with (
        wiring.writing(place, by=wiring.user_named(by)) as opened,
        opened.transaction() as writing,
    ):
        done = rebuild(writing)
    print(f"replayed {done.entries} entries")
    for difference in done.differences:
        was = "gone" if difference.was_there else "new"
        cells = ", ".join(str(cell) for cell in difference.row)
        print(f"{was}: {difference.table} ({cells})")
    if done.differing:
        raise SealError(
            f"{done.differing} rows differed from what the entries add up to; they are "
            "right now, but find out who changed them"
        )
    print("every row was as the entries add up")


def write_schemas(
    folder: Annotated[Path, typer.Argument(help="Folder to write to.")],
    check: Annotated[
        bool, typer.Option("--check", help="Only compare; fail where one is stale.")
    ] = False,
) -> None:
    """Write the JSON Schema of every kind of entry."""
    from ledger.desk.schemas import stale_schemas, write
    from ledger.errors import ConflictError

    if not check:
        print(f"wrote {write(folder)} schemas to {folder}")
        return
    stale = stale_schemas(folder)
    if stale:
        raise ConflictError(
            f"{', '.join(stale)} in {folder} are not current; run `evenweight schemas "
            f"{folder}`"
        )
    print(f"the schemas in {folder} are current")


def show_entries(
    start: Annotated[int, typer.Argument(help="First entry.")] = 0,
    count: Annotated[int, typer.Option(help="How many.")] = 20,
    raw: Annotated[
        bool, typer.Option("--raw", help="Print the stored bytes, one entry a line.")
    ] = False,
    ledger: LedgerOption = None,
) -> None:
    """Print entries as recorded."""
    from ledger import wiring
    from ledger.chain.entry import parse_entry
    from ledger.store.entries import stream_raws

    with wiring.reading(wiring.place_of(ledger)) as rows:
        for stored in stream_raws(rows, start, start + count):
            if raw:
                sys.stdout.buffer.write(stored + b"\n")
                continue
            entry = parse_entry(stored)
            print(
                f"{entry.seq:>6}  {entry.occurred_on}  {entry.kind:<22}  "
                f"{entry.recorded_by}"
            )
