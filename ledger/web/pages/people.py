"""Who may sign in: the administrator's pages."""

from typing import Final

from starlette.responses import Response

from ledger import wiring
from ledger.desk.people import admit, change, expect_person, invite
from ledger.errors import InputError, LedgerError
from ledger.store.people import Window, list_people
from ledger.trade.role import Role
from ledger.web.access import ADMINISTRATOR
from ledger.web.asked import Asked
from ledger.web.door import status_of
from ledger.web.page import Page


def show_people(asked: Asked) -> Response:
    """List everybody."""
    with asked.office.rows() as rows:
        return asked.page("people.html", people=tuple(list_people(rows)))


def show_new(asked: Asked, error: LedgerError | None = None) -> Response:
    """Show the form for somebody new, as it was typed where it was refused."""
    return asked.page(
        "person_new.html",
        status=status_of(error) if error else 200,
        roles=list(Role),
        typed=asked.form,
        chosen=asked.texts("roles"),
        sentence=str(error or ""),
    )


def add(asked: Asked) -> Response:
    """Let somebody in and show the one-time link."""
    try:
        with asked.writing() as writing:
            made = admit(
                writing,
                asked.text("name"),
                shown=asked.text("shown"),
                roles=_roles(asked),
                window=_window(asked),
                new_secret=wiring.new_secret,
            )
    except LedgerError as error:
        return show_new(asked, error)
    return _show_link(asked, made.person, made.secret)


def show_person(asked: Asked, error: LedgerError | None = None) -> Response:
    """Show what somebody may do."""
    with asked.office.rows() as rows:
        found = expect_person(rows, asked.part("name"))
    return asked.page(
        "person.html",
        status=status_of(error) if error else 200,
        found=found,
        roles=list(Role),
        sentence=str(error or ""),
    )


def change_person(asked: Asked) -> Response:
    """Change what somebody may do."""
    try:
        with asked.writing() as writing:
            change(
                writing,
                asked.part("name"),
                roles=_roles(asked),
                window=_window(asked),
                ended=bool(asked.text("ended")),
            )
    except LedgerError as error:
        return show_person(asked, error)
    return asked.away(
        "/people", said=asked.tongue.says("The change holds from now on.")
    )


def invite_again(asked: Asked) -> Response:
    """Make a new one-time link for somebody."""
    with asked.writing() as writing:
        made = invite(writing, asked.part("name"), new_secret=wiring.new_secret)
    return _show_link(asked, made.person, made.secret)


def _show_link(asked: Asked, name: str, secret: str) -> Response:
    address = str(asked.request.base_url).rstrip("/")
    return asked.page("invited.html", name=name, link=f"{address}/welcome/{secret}")


def _roles(asked: Asked) -> list[Role]:
    try:
        return [Role(given) for given in asked.texts("roles")]
    except ValueError as error:
        raise InputError(
            f"{error}; the roles are {', '.join(Role)}, so choose among them"
        ) from None


def _window(asked: Asked) -> Window:
    return Window(asked.text("scheme") or None, asked.day("since"), asked.day("until"))


PAGES: Final = (
    Page("GET", "/people", show_people, ADMINISTRATOR, menu="People"),
    Page("GET", "/people/new", show_new, ADMINISTRATOR),
    Page("POST", "/people/new", add, ADMINISTRATOR),
    Page("GET", "/people/{name:path}/link", show_person, ADMINISTRATOR),
    Page("POST", "/people/{name:path}/link", invite_again, ADMINISTRATOR),
    Page("GET", "/people/{name:path}", show_person, ADMINISTRATOR),
    Page("POST", "/people/{name:path}", change_person, ADMINISTRATOR),
)
