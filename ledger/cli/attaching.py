"""Attaching papers: bills of lading, certificates, weight notes."""

from pathlib import Path
from typing import Annotated

import typer

from ledger.cli.options import ByOption, LedgerOption, day_given
from ledger.errors import InputError


def add_to(app: typer.Typer) -> None:
    """Add the commands of this module."""
    app.command("attach")(attach_papers)


def attach_papers(
    files: Annotated[list[Path], typer.Argument(help="Files of the papers.")],
    title: Annotated[
        str, typer.Option(help="What they are, such as bill of lading or weight note.")
    ],
    about: Annotated[
        list[str],
        typer.Option(
            metavar="SORT=NAME",
            help="What they belong to, such as shipment=SH-1; may be given again.",
        ),
    ],
    on: Annotated[
        str | None,
        typer.Option(metavar="DATE", help="Day of attaching; today if left out."),
    ] = None,
    ledger: LedgerOption = None,
    by: ByOption = None,
) -> None:
    """Keep papers beside the ledger and record them; packs carry them along."""
    from ledger import wiring
    from ledger.desk.papers import Paper, attach
    from ledger.intake.folder import read_bytes
    from ledger.intake.paper import LARGEST_PAPER

    place = wiring.place_of(ledger)
    belongs_to = [_pair(one) for one in about]
    papers = [
        Paper(file.name, read_bytes(file, most=LARGEST_PAPER), title, belongs_to)
        for file in files
    ]
    with (
        wiring.writing(place, by=wiring.user_named(by)) as opened,
        opened.transaction() as writing,
    ):
        made = attach(
            writing,
            place.papers_path,
            papers,
            on=day_given(on, option="--on") or wiring.now().date(),
        )
    for file, one in zip(files, made, strict=True):
        print(f"entry {one.recorded.seq} attaches {file.name}")


def _pair(text: str) -> tuple[str, str]:
    subject, sign, name = text.partition("=")
    if not sign:
        raise InputError(
            f"--about is {text!r}; write what sort of thing it is, an equals sign and "
            "its name, such as shipment=SH-1"
        )
    return subject, name
