"""Handing out what verifies a pack without this program."""

from pathlib import Path
from typing import Annotated

import typer


def add_to(app: typer.Typer) -> None:
    """Add the commands of this module."""
    app.command("verifiers")(verifiers)


def verifiers(
    folder: Annotated[Path, typer.Argument(help="Folder to write the files to.")],
    replace: Annotated[
        bool, typer.Option("--replace", help="Overwrite what is there.")
    ] = False,
) -> None:
    """Write what verifies a pack without this program, and print the digests.

    Every pack encloses the same files, but a verifier that only came with a pack proves
    nothing: compare their SHA-256 with what is printed here.
    """
    from ledger.desk.verifiers import write_verifiers

    for handed in write_verifiers(folder, replace=replace):
        print(f"{handed.sha256}  {handed.path}")
