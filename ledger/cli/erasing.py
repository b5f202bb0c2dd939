"""Erasing a person's data, after saying what speaks against it."""

import sys
from enum import StrEnum
from typing import Annotated

import typer

from ledger.cli.options import ByOption, LedgerOption, day_given


class Member(StrEnum):
    """What may be erased of a party."""

    NAME = "name"
    ADDRESS = "address"
    CONTACTS = "contacts"

    @property
    def field(self) -> str:
        """The member of the party's entry."""
        return "legal_name" if self is Member.NAME else self.value


def add_to(app: typer.Typer) -> None:
    """Add the commands of this module."""
    app.command("erase")(erase_party)


def erase_party(
    party: Annotated[str, typer.Argument(help="Short name of the party.")],
    reason: Annotated[
        str,
        typer.Option(help="Why, and who asked for it; it is recorded, so name nobody."),
    ],
    only: Annotated[
        list[Member] | None,
        typer.Option(
            help="Erase only this; may be repeated. All three where left out.",
            show_default=False,
        ),
    ] = None,
    on: Annotated[
        str | None,
        typer.Option(metavar="DATE", help="Day; today where left out."),
    ] = None,
    yes: Annotated[
        bool,
        typer.Option("--yes", help="Erase without asking; nothing brings it back."),
    ] = False,
    ledger: LedgerOption = None,
    by: ByOption = None,
) -> None:
    """Erase what identifies a person: name, address and contacts of a party.

    Entries, checkpoints and packs given out before stay valid. That it was done, when, by
    whom and why is recorded.
    """
    from ledger import wiring
    from ledger.desk.erase import caution, erase, find_erasable

    today = wiring.now().date()
    members = [one.field for one in only or Member]
    place = wiring.place_of(ledger)
    with wiring.reading(place) as rows:
        found = find_erasable(rows, party, members=members)
    for sentence in caution(found, today=today):
        print(sentence, file=sys.stderr)
    if not yes:
        _confirm(party)
    with wiring.writing(place, by=wiring.user_named(by)) as opened:
        with opened.transaction() as writing:
            again = find_erasable(writing.rows, party, members=members)
            day = day_given(on, option="--on") or today
            seq = erase(writing, again, reason=reason, on=day)
        opened.empty_log()
    print(
        f"erased {len(again.digests)} sealed values of {party}; recorded as entry {seq}"
    )


def _confirm(party: str) -> None:
    from ledger.errors import InputError

    if not sys.stdin.isatty():
        raise InputError(
            "nothing is erased: nobody is there to be asked; give --yes once the above is "
            "settled"
        )
    if input(f"type {party} to erase: ") != party:
        raise InputError("nothing is erased: the name typed is another")
