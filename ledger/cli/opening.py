"""Opening a ledger."""

import sys
from typing import TYPE_CHECKING, Annotated

import typer

from ledger.cli.options import ByOption, LedgerOption, day_given

if TYPE_CHECKING:
    from ledger.chain.canonical import JsonValue


def add_to(app: typer.Typer) -> None:
    """Add the commands of this module."""
    app.command("open")(open_ledger)


def open_ledger(
    organisation: Annotated[
        str, typer.Option(help="Short name of the maker, such as ORG.", prompt=True)
    ],
    name: Annotated[
        str, typer.Option(help="Name as the certificate states it.", prompt=True)
    ],
    site: Annotated[str, typer.Option(help="Short name of the site.", prompt=True)],
    place: Annotated[str, typer.Option(help="Where the site is.", prompt=True)],
    country: Annotated[
        str, typer.Option(help="Country, two letters (ISO 3166-1).", prompt=True)
    ],
    on: Annotated[
        str | None, typer.Option(metavar="DATE", help="Trade date; today if left out.")
    ] = None,
    ledger: LedgerOption = None,
    by: ByOption = None,
) -> None:
    """Open a new ledger for one maker and one site.

    A maker with several sites opens it by recording a file of kind ledger.opened.
    """
    from ledger import wiring
    from ledger.desk.record import record

    day = day_given(on, option="--on") or wiring.now().date()
    place_kept = wiring.place_of(ledger)
    body = _body(organisation, name, site, place, country)
    with (
        wiring.writing(place_kept, by=wiring.user_named(by), create=True) as opened,
        opened.transaction() as writing,
    ):
        record(writing, "ledger.opened", day, body)
    print(f"opened {place_kept} for {organisation}, from {day}", file=sys.stderr)


def _body(
    organisation: str, name: str, site: str, place: str, country: str
) -> "dict[str, JsonValue]":
    return {
        "format_version": 1,
        "organisation": organisation,
        "organisation_name": name,
        "sites": [{"site": site, "place": place, "country": country}],
    }
