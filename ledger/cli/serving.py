"""Serving the pages, to this machine unless another address is asked for."""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ledger.cli.options import ByOption, LedgerOption
from ledger.errors import InputError

if TYPE_CHECKING:
    from ledger.web.office import Office

_DEMO = Path("demo") / "ledger.db"
_LAST_PORT = 65535
_ANYWHERE = ("0.0.0.0", "::")  # noqa: S104 - to be told from what is meant


def add_to(app: typer.Typer) -> None:
    """Add the commands of this module."""

    def serve(
        *,
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
        name: Annotated[
            list[str] | None,
            typer.Option(
                help="Name by which browsers call this server; may be repeated. Others "
                "are refused.",
                show_default=False,
            ),
        ] = None,
        proxy: Annotated[
            str | None,
            typer.Option(
                help="Address of a proxy in front that ends TLS and says for whom it "
                "asks; only what comes from there is believed.",
                show_default=False,
            ),
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
        without one, or a proxy that has one, only this machine should be listened to.
        """
        if demo:
            _make_demo(app)
            ledger = ledger or str(_DEMO)
        listening = _Listening(
            host, port, tuple(name or ()), certificate, certificate_key, proxy
        )
        listening.check()
        _serve(ledger, listening, by=by, is_demo=demo)

    app.command("serve")(serve)


@dataclass(frozen=True, slots=True)
class _Listening:
    """Where the pages are served, and under which names."""

    host: str
    port: int
    names: tuple[str, ...]
    certificate: Path | None
    certificate_key: Path | None
    proxy: str | None

    def check(self) -> None:
        """Refuse what nobody could reach, or anybody could misuse.

        Raises:
            InputError: There is no such port, it listens to all of a network and has no
                name, or its certificate cannot be used.
        """
        if not 0 <= self.port <= _LAST_PORT:
            raise InputError(
                f"port is {self.port}, but ports go from 0 to {_LAST_PORT}; name another"
            )
        self._check_certificate()
        if self.host in _ANYWHERE and not self.names:
            raise InputError(
                f"host is {self.host}, which others reach by a name; say by which with "
                "--name, so that no other name leads here unnoticed"
            )

    def _check_certificate(self) -> None:
        from ssl import PROTOCOL_TLS_SERVER, SSLContext, SSLError

        if self.certificate is None and self.certificate_key is None:
            return
        if self.certificate is None:
            raise InputError(
                f"the key {self.certificate_key} is given without a certificate, so the "
                "pages would go out in the clear; add --certificate"
            )
        try:
            SSLContext(PROTOCOL_TLS_SERVER).load_cert_chain(
                self.certificate, self.certificate_key
            )
        except OSError as error:
            why = "no such pair" if isinstance(error, SSLError) else error.strerror
            raise InputError(
                f"the certificate {self.certificate} cannot be used with its key "
                f"{self.certificate_key or 'in the same file'} ({why}); give both as PEM "
                "files that belong together"
            ) from error

    @property
    def allowed(self) -> tuple[str, ...]:
        """Every name that is answered."""
        from ledger.web.app import OWN_NAMES

        own = () if self.host in _ANYWHERE else (self.host,)
        return tuple(dict.fromkeys((*OWN_NAMES, *own, *self.names)))

    @property
    def address(self) -> str:
        """Where a browser finds the pages."""
        name = self.names[0] if self.names else self.host
        if self.proxy is not None:
            return f"https://{name}"
        return f"{'https' if self.certificate else 'http'}://{name}:{self.port}"


def _make_demo(app: typer.Typer) -> None:
    if not _DEMO.exists():
        app(["demo", str(_DEMO.parent)], standalone_mode=False)


def _serve(
    ledger: str | None, listening: _Listening, *, by: str | None, is_demo: bool
) -> None:
    import uvicorn

    from ledger import wiring
    from ledger.web.app import make_app
    from ledger.web.office import open_office

    place, address = wiring.place_of(ledger), listening.address
    with open_office(place, by=wiring.user_named(by)) as office:
        for name, secret in _links(office, wiring.user_named(by), is_demo=is_demo):
            print(f"one-time link for {name}: {address}/welcome/{secret}")
        print(f"serving {place} at {address} (stop with Ctrl-C)", flush=True)
        uvicorn.run(
            make_app(office, names=listening.allowed),
            host=listening.host,
            port=listening.port,
            ssl_certfile=listening.certificate,
            ssl_keyfile=listening.certificate_key,
            log_level="warning",
            server_header=False,
            proxy_headers=listening.proxy is not None,
            forwarded_allow_ips=listening.proxy,
        )


def _links(office: "Office", by: str, *, is_demo: bool) -> list[tuple[str, str]]:
    """Return whom to give a one-time link at this start, and its secret."""
    from ledger import wiring
    from ledger.desk.demonstration_people import invite_everybody
    from ledger.desk.people import first_administrator
    from ledger.desk.signing_in import sweep

    with office.writing(by) as writing:
        sweep(writing)
        if is_demo:
            made = invite_everybody(writing, new_secret=wiring.new_secret)
        else:
            made = first_administrator(writing, new_secret=wiring.new_secret)
    return [(one.person, one.secret) for one in made]
