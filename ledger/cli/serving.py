"""Serving the pages, to this machine unless another address is asked for."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ledger.cli.options import ByOption, LedgerOption

if TYPE_CHECKING:
    from ledger.web.office import Office

_DEMO = Path("demo") / "ledger.db"


def add_to(app: typer.Typer) -> None:
    """Add the commands of this module."""

    def serve(
        ledger: LedgerOption = None,
        host: Annotated[
            str, typer.Option(help="Address to listen on; others reach 0.0.0.0.")
        ] = "127.0.0.1",
        port: Annotated[int, typer.Option(help="Port to listen on.")] = 8080,
        certificate: Annotated[
            Path | None,
            typer.Option(help="File with the certificate for TLS.", show_default=False),
        ] = None,
        certificate_key: Annotated[
            Path | None,
            typer.Option(help="File with its private key.", show_default=False),
        ] = None,
        demo: Annotated[
            bool,
            typer.Option(
                "--demo", help="Serve the invented scenario; made if missing."
            ),
        ] = False,
        by: ByOption = None,
    ) -> None:
        """Serve the pages of a ledger.

        While nobody can let people in, a one-time link for an administrator is printed at
        each start. Passwords cross the network in the clear without a certificate, so
        without one only this machine should be listened to.
        """
        if demo:
            _make_demo(app)
            ledger = ledger or str(_DEMO)
        _serve(ledger, host, port, certificate, certificate_key, by=by, is_demo=demo)

    app.command("serve")(serve)


def _make_demo(app: typer.Typer) -> None:
    if not _DEMO.exists():
        app(["demo", str(_DEMO.parent)], standalone_mode=False)


def _serve(
    ledger: str | None,
    host: str,
    port: int,
    certificate: Path | None,
    certificate_key: Path | None,
    *,
    by: str | None,
    is_demo: bool,
) -> None:
    import uvicorn

    from ledger import wiring
    from ledger.web.app import make_app
    from ledger.web.office import open_office

    scheme = "https" if certificate else "http"
    place = wiring.place_of(ledger)
    with open_office(place, by=wiring.user_named(by)) as office:
        address = f"{scheme}://{host}:{port}"
        for name, secret in _links(office, wiring.user_named(by), is_demo=is_demo):
            print(f"one-time link for {name}: {address}/welcome/{secret}")
        print(f"serving {place} at {address} (stop with Ctrl-C)", flush=True)
        uvicorn.run(
            make_app(office),
            host=host,
            port=port,
            ssl_certfile=certificate,
            ssl_keyfile=certificate_key,
            log_level="warning",
            server_header=False,
            proxy_headers=False,
        )


def _links(office: "Office", by: str, *, is_demo: bool) -> list[tuple[str, str]]:
    """Return whom to give a one-time link at this start, and its secret."""
    from ledger import wiring
    from ledger.desk.demonstration_people import invite_everybody
    from ledger.desk.people import first_administrator

    with office.writing(by) as writing:
        if is_demo:
            made = invite_everybody(writing, new_secret=wiring.new_secret)
        else:
            made = first_administrator(writing, new_secret=wiring.new_secret)
    return [(one.person, one.secret) for one in made]
