"""Signing: checkpoints, and the keys that sign them."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ledger.cli.giving import refuse_ledger, write_to
from ledger.cli.options import ByOption, LedgerOption

if TYPE_CHECKING:
    from ledger.desk.checkpoint import Signing


def add_to(app: typer.Typer) -> None:
    """Add the commands of this module."""
    app.command("checkpoint")(checkpoint)
    app.command("key")(show_key)
    app.command("rotate-key")(rotate_key)
    app.command("revoke-key")(revoke_key)


def checkpoint(
    out: Annotated[
        Path | None,
        typer.Option("--out", help="File for the signed note.", show_default=False),
    ] = None,
    after: Annotated[
        Path | None,
        typer.Option(
            "--after",
            help="Only if the file of signed checkpoints was lost or cut: the last "
            "checkpoint that left the house.",
            show_default=False,
        ),
    ] = None,
    first: Annotated[
        bool,
        typer.Option(
            "--first",
            help="Only if the file of signed checkpoints was lost before anything was "
            "signed.",
        ),
    ] = False,
    ledger: LedgerOption = None,
    by: ByOption = None,
) -> None:
    """Sign the tree head, if it extends the last one signed, and record that.

    Give the signed note to your certifier, and to others, right away.
    """
    from ledger import wiring
    from ledger.desk.checkpoint import (
        restore_checkpoints,
        sign_checkpoint,
        start_checkpoints,
    )
    from ledger.desk.signed import read_checkpoint

    refuse_ledger(out)
    place = wiring.place_of(ledger)
    file = place.checkpoints_path
    given = None if after is None else read_checkpoint(after)
    with wiring.writing(place, by=wiring.user_named(by)) as opened:
        private = wiring.private_key(place.key_path)
        with opened.transaction() as writing:
            if given is not None:
                back = restore_checkpoints(writing.rows, file, given)
                print(f"put {back} checkpoints back into {file}", file=sys.stderr)
            if first:
                start_checkpoints(writing.rows, file)
            made = sign_checkpoint(writing, file, private, on=wiring.now().date())
    if out is not None:
        write_to(out, str(made.signed.note).encode())
    _print_signed(made, out)


def _print_signed(made: "Signing", out: Path | None) -> None:
    said = "signed" if made.is_new else "nothing was recorded since; this one stands:"
    print(f"{said} {made.signed.size} entries of {made.signed.checkpoint.origin}")
    print(f"tree head {made.signed.checkpoint.root.hex()}")
    if out is None:
        print(f"\n{made.signed.note}", end="")
    else:
        print(f"wrote {out}; give it to your certifier now, and not only with the pack")


def show_key(ledger: LedgerOption = None) -> None:
    """Print the public key that signs for the ledger, in one line."""
    from ledger import wiring
    from ledger.desk.signed import keys_of

    with wiring.reading(wiring.place_of(ledger)) as rows:
        terms = keys_of(rows)
    for term in terms[:-1]:
        print(f"earlier: {term.key}", file=sys.stderr)
    if terms[-1].revoked_from is not None:
        print(f"revoked from entry {terms[-1].revoked_from} on", file=sys.stderr)
    print(terms[-1].key)


def rotate_key(
    reason: Annotated[str, typer.Option(help="Why.")],
    old_key_lost: Annotated[
        bool,
        typer.Option(
            "--old-key-lost", help="The old key is gone and cannot sign for the new."
        ),
    ] = False,
    ledger: LedgerOption = None,
    by: ByOption = None,
) -> None:
    """Make a new key and put it in the place of the old one.

    Sign a checkpoint before, if the old key is still to be trusted. Tell your certifier
    the new line in person or by telephone.
    """
    from ledger import wiring
    from ledger.desk.key import rotate_key as rotate

    place = wiring.place_of(ledger)
    with wiring.writing(place, by=wiring.user_named(by)) as opened:
        old = None if old_key_lost else wiring.private_key(place.key_path)
        with wiring.next_key(place) as new, opened.transaction() as writing:
            key = rotate(writing, old, new, reason=reason, on=wiring.now().date())
    print("another key signs from now on; tell your certifier this line in person:")
    print(key)
    if old_key_lost:
        print("the old key did not sign for it, so nobody will trust it unseen")


def revoke_key(
    from_entry: Annotated[
        int,
        typer.Option(
            "--from", help="First entry from which on its signatures count no more."
        ),
    ],
    reason: Annotated[str, typer.Option(help="What happened, how it was found out.")],
    key: Annotated[
        str | None,
        typer.Option(help="Line of the key; the present one if left out."),
    ] = None,
    ledger: LedgerOption = None,
    by: ByOption = None,
) -> None:
    """Record that others may have a key, so that its signatures count no more."""
    from ledger import wiring
    from ledger.desk.key import revoke_key as revoke

    place = wiring.place_of(ledger)
    with (
        wiring.writing(place, by=wiring.user_named(by)) as opened,
        opened.transaction() as writing,
    ):
        term = revoke(
            writing, key, from_entry=from_entry, reason=reason, on=wiring.now().date()
        )
    print(f"signatures of {term.key} count no more from entry {term.revoked_from} on")
    print("tell your certifier in person, and sign a checkpoint with a new key")
