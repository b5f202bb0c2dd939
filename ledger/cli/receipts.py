"""Receipts for counterparties, and timestamps of authorities."""

from pathlib import Path
from typing import Annotated

import typer

from ledger.cli.giving import give, write_to
from ledger.cli.options import LedgerOption


def add_to(app: typer.Typer) -> None:
    """Add the commands of this module."""
    app.command("receipt")(receipt)
    app.command("check-receipt")(check_receipt)
    app.command("timestamp-request")(timestamp_request)
    app.command("add-timestamp")(add_timestamp)


def receipt(
    seq: Annotated[int, typer.Argument(help="Sequence number of the entry.")],
    out: Annotated[
        Path | None,
        typer.Option("--out", help="File to write; printed if left out."),
    ] = None,
    ledger: LedgerOption = None,
) -> None:
    """Write proof that an entry is in the ledger, for whom it concerns."""
    from ledger import wiring
    from ledger.desk.receipt import make_receipt

    place = wiring.place_of(ledger)
    with wiring.reading(place) as rows:
        made = make_receipt(rows, place.checkpoints_path, seq)
    give(str(made), out)


def check_receipt(
    file: Annotated[Path, typer.Argument(help="The receipt.")],
    key: Annotated[
        list[str],
        typer.Option(
            help="Line of the maker's key, or of a witness's; may be repeated."
        ),
    ],
) -> None:
    """Check a receipt, and print the entry that it proves."""
    import json

    from ledger.chain.note import parse_key
    from ledger.desk.receipt import read_receipt

    read = read_receipt(file, tuple(parse_key(line) for line in key))
    entry, head = read.entry, read.checkpoint
    print(f"entry {entry.seq} is one of the first {head.size} entries of {head.origin}")
    for signed in read.signatures:
        print(f"signed by {signed.key}{_seen(signed.moment)}")
    print(
        f"\n{entry.kind} on {entry.occurred_on}, recorded {entry.recorded_at:%Y-%m-%d} "
        f"by {entry.recorded_by}"
    )
    print(json.dumps(dict(entry.body), indent=2, ensure_ascii=False))


def _seen(moment: int | None) -> str:
    if moment is None:
        return ""
    from datetime import UTC, datetime

    return f", who saw it by {datetime.fromtimestamp(moment, UTC):%Y-%m-%d %H:%M} UTC"


def timestamp_request(
    out: Annotated[Path, typer.Option(help="File to write, such as checkpoint.tsq.")],
    ledger: LedgerOption = None,
) -> None:
    """Write what to ask a timestamp authority about the last checkpoint (RFC 3161)."""
    from ledger import wiring
    from ledger.desk.timestamp import request_for
    from ledger.store.checkpoint_file import read_checkpoint_file

    place = wiring.place_of(ledger)
    signed, asked = request_for(read_checkpoint_file(place.checkpoints_path) or ())
    write_to(out, asked)
    print(
        f"wrote {out} for the checkpoint over {signed.size} entries; send it to an "
        "authority that your certifier trusts, and keep the answer with "
        "`evenweight add-timestamp`"
    )


def add_timestamp(
    token: Annotated[Path, typer.Argument(help="The authority's answer, a .tsr file.")],
    authority: Annotated[
        Path | None,
        typer.Option(
            help="PEM file of the authority's certificates, to check it with."
        ),
    ] = None,
    ledger: LedgerOption = None,
) -> None:
    """Keep a timestamp beside the checkpoint that it is for."""
    from ledger import wiring
    from ledger.desk.timestamp import add_timestamp as add
    from ledger.desk.timestamp import read_authorities, read_token
    from ledger.store.checkpoint_file import read_checkpoint_file

    place = wiring.place_of(ledger)
    kept = read_checkpoint_file(place.checkpoints_path) or ()
    signed, moment = add(
        place.timestamps_path, kept, read_token(token), read_authorities(authority)
    )
    said = "" if authority else "; it was not checked, because no certificate was given"
    print(
        f"the checkpoint over {signed.size} entries existed before "
        f"{moment:%Y-%m-%d %H:%M} UTC{said}"
    )
