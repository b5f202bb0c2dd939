"""The other side: enrolling makers, cosigning what was seen, and what a witness needs."""

import sys
from pathlib import Path
from typing import Annotated

import typer

from ledger.cli.giving import give, write_to
from ledger.cli.options import LedgerOption

OutFile = Annotated[
    Path | None,
    typer.Option(
        "--out", help="File to write; printed if left out.", show_default=False
    ),
]


def add_to(app: typer.Typer) -> None:
    """Add the commands of this module."""
    app.command("enrol")(enrol)
    app.command("witness-key")(make_witness_key)
    app.command("witness")(witness)
    app.command("add-cosignature")(add_cosignature)
    app.command("proof")(proof)


def enrol(
    folder: Annotated[Path, typer.Argument(help="Folder of the certifier or witness.")],
    key: Annotated[
        str, typer.Option(help="The key's line, from its owner's own hand.")
    ],
    maker: Annotated[
        str | None, typer.Option(help="Enrol a maker; what to call it in the folder.")
    ] = None,
    witness_name: Annotated[
        str | None,
        typer.Option("--witness", help="Note down a witness whose word counts here."),
    ] = None,
    replace: Annotated[
        bool,
        typer.Option("--replace", help="Put another key in the place of the old one."),
    ] = False,
) -> None:
    """Pin the key of a maker, or of a witness, in a folder of your own.

    Get the line on paper, in person or by telephone, never with a pack.
    """
    from ledger.desk.enrolment import enrol_maker, enrol_witness

    if (maker is None) == (witness_name is None):
        raise typer.BadParameter("name either --maker or --witness")
    if maker is not None:
        pinned = enrol_maker(folder, maker, key, replace=replace)
        print(f"enrolled {maker}, which signs as {pinned.name}")
    elif witness_name is not None:
        pinned = enrol_witness(folder, witness_name, key, replace=replace)
        print(f"noted down {witness_name}, which cosigns as {pinned.name}")


def make_witness_key(
    file: Annotated[Path, typer.Argument(help="File for the private key.")],
    name: Annotated[
        str, typer.Option(help="Name to cosign under, such as accountant.example.")
    ],
) -> None:
    """Make a key to cosign with, and print its line for makers and certifiers."""
    from ledger import wiring
    from ledger.desk.witness import line_file, witness_key

    private = wiring.new_private_key()
    key = witness_key(name, private)
    wiring.write_key(file, private)
    write_to(line_file(file), f"{key}\n".encode())
    print(key)


def witness(
    checkpoint: Annotated[Path, typer.Argument(help="The maker's signed checkpoint.")],
    state: Annotated[
        Path, typer.Option(help="Your folder, in which the maker is enrolled.")
    ],
    key: Annotated[Path, typer.Option(help="File of your private key.")],
    pack: Annotated[
        Path | None,
        typer.Option(help="A pack that holds the entries.", show_default=False),
    ] = None,
    proof_file: Annotated[
        Path | None,
        typer.Option(
            "--proof",
            help="Or a proof from the last checkpoint you saw.",
            show_default=False,
        ),
    ] = None,
    out: OutFile = None,
) -> None:
    """Cosign a checkpoint, if it continues the last one seen here; give it back."""
    from ledger import wiring
    from ledger.desk.signed import read_checkpoint
    from ledger.desk.witness import cosign_by_pack, cosign_by_proof, read_witness_key
    from ledger.intake.folder import read_bytes

    if (pack is None) == (proof_file is None):
        raise typer.BadParameter("give either --pack or --proof")
    signed = read_checkpoint(checkpoint)
    own, private = read_witness_key(key), wiring.private_key(key)
    moment = wiring.now()
    if pack is not None:
        made = cosign_by_pack(
            signed, pack, state, key=own, private=private, moment=moment
        )
    else:
        proof_text = read_bytes(proof_file or checkpoint).decode(errors="replace")
        made = cosign_by_proof(
            signed, proof_text, state, key=own, private=private, moment=moment
        )
    print(
        f"cosigned {made.size} entries of {made.checkpoint.origin} at "
        f"{moment:%Y-%m-%d %H:%M} UTC; give the note back to the maker",
        file=sys.stderr,
    )
    give(str(made.note), out)


def add_cosignature(
    note: Annotated[Path, typer.Argument(help="The note as the witness gave it back.")],
    key: Annotated[str, typer.Option(help="Line of the witness's key.")],
    ledger: LedgerOption = None,
) -> None:
    """Keep a witness's cosignature with the checkpoint, for packs and receipts."""
    from ledger import wiring
    from ledger.chain.note import parse_key
    from ledger.desk.signed import read_checkpoint, signed_before
    from ledger.desk.witness import add_cosignature as add

    place = wiring.place_of(ledger)
    given, known = read_checkpoint(note), parse_key(key)
    with wiring.reading(place) as rows:
        before = signed_before(rows, place.checkpoints_path)
        moment = add(place.checkpoints_path, before.checkpoints, given, known)
    print(
        f"{known.name} saw {given.size} entries by {moment:%Y-%m-%d %H:%M} UTC; "
        "the cosignature is kept with the checkpoint"
    )


def proof(
    old: Annotated[
        int, typer.Argument(help="Entries of the last checkpoint that the witness saw.")
    ],
    out: OutFile = None,
    ledger: LedgerOption = None,
) -> None:
    """Write the proof that the last checkpoint continues an earlier one."""
    from ledger import wiring
    from ledger.desk.signed import extension_from

    place = wiring.place_of(ledger)
    with wiring.reading(place) as rows:
        made = extension_from(rows, place.checkpoints_path, old)
    give(str(made), out)
