"""The pages as a browser asks for them: over a client in memory, or a real server."""

import shutil
import threading
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Final

import pytest
import uvicorn
from httpx2 import Response
from hypothesis import settings
from playwright.sync_api import Browser, BrowserContext, Page
from starlette.testclient import TestClient

from ledger import wiring
from ledger.desk.demonstration_people import PEOPLE, invite_everybody
from ledger.desk.signing_in import begin_visit
from ledger.trade.role import Role
from ledger.web.app import make_app
from ledger.web.office import Office, open_office
from ledger.web.visit import COOKIE, PROOF, proof_of
from tests.audit.browser import chromium
from tests.journeys.conftest import scenario_ledger  # noqa: F401 - a fixture

settings.register_profile("fuzz-api", deadline=None)

PERSON_OF: Final = {role: name for name, _, role, _ in PEOPLE}
"""Who of the demonstration has a role."""


class Visitor(TestClient):
    """Somebody who has signed in, or nobody."""

    secret: str | None = None

    @property
    def proof(self) -> str:
        """What a form of this visit must bring along."""
        return proof_of(self.secret) if self.secret else ""

    def submit(self, path: str, **fields: str | list[str]) -> Response:
        """Send a form as our own page would, and stay on the answer."""
        return self.post(
            path, data={PROOF: self.proof, **fields}, follow_redirects=False
        )


Visit = Callable[[Role | None], Visitor]


def open_copy(source: Path, folder: Path, stack: ExitStack) -> Office:
    """Open a copy of a ledger, with the people of the demonstration let in."""
    path = folder / "ledger.db"
    for kept in source.parent.glob("ledger.db*"):
        if kept.is_file():
            shutil.copy(kept, folder / kept.name)
    office = stack.enter_context(
        open_office(wiring.Place(f"sqlite:///{path}"), by="demo")
    )
    with office.writing("demo") as writing:
        invite_everybody(writing, new_secret=wiring.new_secret)
    return office


def visit_as(office: Office, role: Role | None) -> Visitor:
    """Return a client with a visit of whoever has a role."""
    visitor = Visitor(make_app(office), base_url="http://localhost")
    if role is not None:
        with office.writing("demo") as writing:
            visitor.secret = begin_visit(
                writing, PERSON_OF[role], new_secret=wiring.new_secret
            )
        visitor.cookies.set(COOKIE, visitor.secret)
    return visitor


@pytest.fixture(scope="session")
def read_office(
    scenario_ledger: Path,  # noqa: F811
    tmp_path_factory: pytest.TempPathFactory,
) -> Iterator[Office]:
    """The scenario's ledger, for tests that record nothing."""
    with ExitStack() as stack:
        yield open_copy(scenario_ledger, tmp_path_factory.mktemp("office"), stack)


@pytest.fixture
def office(scenario_ledger: Path, tmp_path: Path) -> Iterator[Office]:  # noqa: F811
    """A copy of the scenario's ledger, for a test that writes."""
    with ExitStack() as stack:
        yield open_copy(scenario_ledger, tmp_path, stack)


@pytest.fixture
def reader(read_office: Office) -> Visit:
    """Signs somebody in where nothing is to be recorded."""
    return lambda role: visit_as(read_office, role)


@pytest.fixture
def visitor(office: Office) -> Visit:
    """Signs somebody in on a ledger of the test's own."""
    return lambda role: visit_as(office, role)


def serve(office: Office, stack: ExitStack) -> str:
    """Serve the pages on a port of this machine, and return their address."""
    server = uvicorn.Server(
        uvicorn.Config(make_app(office), port=0, log_level="warning", lifespan="off")
    )
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started:
        thread.join(0.02)
    port = server.servers[0].sockets[0].getsockname()[1]

    def stop() -> None:
        server.should_exit = True
        thread.join()

    stack.callback(stop)
    return f"http://127.0.0.1:{port}"


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    with chromium() as opened:
        yield opened


@pytest.fixture(scope="session")
def read_address(read_office: Office) -> Iterator[str]:
    """Address of a server on the ledger on which nothing is recorded."""
    with ExitStack() as stack:
        yield serve(read_office, stack)


@pytest.fixture
def address(office: Office) -> Iterator[str]:
    """Address of a server on a ledger of the test's own."""
    with ExitStack() as stack:
        yield serve(office, stack)


OpenPage = Callable[..., Page]


@pytest.fixture
def open_page(office: Office, address: str, browser: Browser) -> Iterator[OpenPage]:
    """Opens a page in Chromium as somebody who has signed in.

    The contexts take what `Browser.new_context` takes: `viewport`, `color_scheme`,
    `java_script_enabled`.
    """
    contexts: list[BrowserContext] = []

    def open_as(role: Role | None, path: str, **settings: object) -> Page:
        context = browser.new_context(base_url=address, **settings)  # type: ignore[arg-type]
        contexts.append(context)
        if role is not None:
            secret = visit_as(office, role).secret or ""
            context.add_cookies([{"name": COOKIE, "value": secret, "url": address}])
        page = context.new_page()
        page.goto(path)
        return page

    yield open_as
    for context in contexts:
        context.close()
