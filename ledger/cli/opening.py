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


def open_ledger(  # noqa: PLR0917 - one option each
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
    passphrase: Annotated[
        bool,
        typer.Option("--passphrase", help="Ask for a passphrase that locks the key."),
    ] = False,
    ledger: LedgerOption = None,
    by: ByOption = None,
) -> None:
    """Open a new ledger for one maker and one site.

    A maker with several sites opens it by recording a file of kind ledger.opened.
    """
    from ledger import wiring
    from ledger.books.lookup import expect
    from ledger.desk.record import record
    from ledger.trade.opening import LedgerOpened

    day = day_given(on, option="--on") or wiring.now().date()
    place_kept = wiring.place_of(ledger)
    body = _body(organisation, name, site, place, country)
    with (
        wiring.writing(
            place_kept,
            by=wiring.user_named(by),
            create=True,
            passphrase=wiring.chosen_passphrase() if passphrase else None,
        ) as opened,
        opened.transaction() as writing,
    ):
        made = record(writing, "ledger.opened", day, body)
    print(f"opened {place_kept} for {organisation}, from {day}", file=sys.stderr)
    print(
        f"its private key is in {place_kept.key_path}: keep a copy apart from the ledger, "
        "and let nobody else read it; the line below is for your certifier",
        file=sys.stderr,
    )
    print(expect(made.recorded.record, LedgerOpened).public_key)


def _body(
    organisation: str, name: str, site: str, place: str, country: str
) -> "dict[str, JsonValue]":
    return {
        "format_version": 1,
        "organisation": organisation,
        "organisation_name": name,
        "sites": [{"site": site, "place": place, "country": country}],
    }
