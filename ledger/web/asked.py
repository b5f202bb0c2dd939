"""What a page is asked: the request, who asks, what the form says, and how to answer."""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Final, TypeVar
from urllib.parse import quote, unquote

from starlette.datastructures import FormData, UploadFile
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from ledger import wiring
from ledger.desk.asked_day import parse_day, parse_moment
from ledger.desk.books import OpenBooks
from ledger.desk.writing import Writing
from ledger.reports.tongue import Tongue
from ledger.store.people import Person
from ledger.trade.role import Role
from ledger.web.office import Office
from ledger.web.once import SEE_OTHER, numbered
from ledger.web.showing import Showing
from ledger.web.visit import Visit

SAID: Final = "said"
_LONGEST_SAID: Final = 500
_Key = TypeVar("_Key")


@dataclass(frozen=True, slots=True)
class Asked:
    """One request of a page, once it is known who asks and that they may.

    Attributes:
        office: The ledger.
        request: The request as it came.
        visit: Who asks; None where nobody has signed in.
        form: What a form says; empty for a page that is only opened.
        showing: Fills templates in.
        tongue: The reader's language, dates and numbers.
    """

    office: Office
    request: Request
    visit: Visit | None
    showing: Showing
    tongue: Tongue
    form: FormData = field(default_factory=FormData)

    @property
    def person(self) -> Person:
        """Who asks.

        Raises:
            LookupError: Nobody has signed in; a page for everyone must not ask this.
        """
        if self.visit is None:
            raise LookupError("a page for everyone asked who has signed in")
        return self.visit.person

    @contextmanager
    def books(self) -> Iterator[OpenBooks]:
        """Open the books, as recorded up to the moment that the address names, if any.

        A certifier's are those of what the certifier may see, as a pack would show it:
        also their `rows` hold nothing else.
        """
        moment = self.moment("recorded_by")
        opened = (
            self.office.books_in(self.person.window, recorded_by=moment)
            if self.is_limited
            else self.office.books(recorded_by=moment)
        )
        with opened as books:
            yield books

    @property
    def is_limited(self) -> bool:
        """Whether who asks may see only what their window shows."""
        return Role.CERTIFIER in self.person.roles

    @contextmanager
    def writing(self) -> Iterator[Writing]:
        """Hold the ledger for writing in the name of who asks, all or nothing."""
        with self.office.writing_as(self.person) as writing:
            yield writing

    def part(self, name: str) -> str:
        """Return a part of the address that stands in braces."""
        return str(self.request.path_params[name])

    def query(self, name: str) -> str:
        """Return what the address says behind the question mark; empty if nothing."""
        return self.request.query_params.get(name, "").strip()

    def text(self, name: str) -> str:
        """Return a field of the form as text without blanks around; empty if missing."""
        given = self.form.get(name, "")
        return given.strip() if isinstance(given, str) else ""

    def secret(self, name: str) -> str:
        """Return a field of the form exactly as typed; empty if missing."""
        given = self.form.get(name, "")
        return given if isinstance(given, str) else ""

    def texts(self, name: str) -> list[str]:
        """Return all values of a field that may stand several times."""
        return [one.strip() for one in self.form.getlist(name) if isinstance(one, str)]

    def uploads(self, name: str) -> list[UploadFile]:
        """Return the files of a field; a field left empty gives none."""
        return [
            one
            for one in self.form.getlist(name)
            if isinstance(one, UploadFile) and one.filename
        ]

    def day(self, name: str) -> date | None:
        """Return a day from the address or the form; None where it is left empty.

        Raises:
            InputError: It is not a day.
        """
        given = self.query(name) or self.text(name)
        return parse_day(given, named=name) if given else None

    def as_of(self) -> date:
        """Return the trade date that the address names, else today.

        Of a certifier it is never later than what the certifier may see.
        """
        given = self.day("as_of") or self.office.today()
        last = self.person.window.until if self.is_limited else None
        return given if last is None else min(given, last)

    def moment(self, name: str) -> datetime | None:
        """Return a moment from the address; a bare day means its end, in UTC.

        Raises:
            InputError: It is not a moment.
        """
        given = self.query(name)
        return parse_moment(given, named=name) if given else None

    def leading(self, links: Mapping[_Key, str]) -> dict[_Key, str]:
        """Return those of some links that lead to pages that who asks may open."""
        person = self.visit.person if self.visit else None
        return {
            key: address
            for key, address in links.items()
            if self.showing.leads(person, address)
        }

    def page(self, template: str, status: int = 200, **shown: object) -> Response:
        """Answer with a template filled in."""
        said = self.request.cookies.get(SAID)
        text = self.showing.fill(
            template,
            tongue=self.tongue,
            person=self.visit.person if self.visit else None,
            proof=numbered(self.visit.proof, wiring.new_secret()) if self.visit else "",
            here=self.request.url.path,
            said=unquote(said) if said else "",
            today=self.office.today(),
            **shown,
        )
        response = HTMLResponse(text, status_code=status)
        if said:
            response.delete_cookie(SAID, path="/")
        return response

    @staticmethod
    def away(path: str, *, said: str = "") -> Response:
        """Send the reader to another page, with a sentence to show there once."""
        response = RedirectResponse(path, status_code=SEE_OTHER)
        if said:
            response.set_cookie(
                SAID,
                quote(said[:_LONGEST_SAID]),
                max_age=60,
                httponly=True,
                samesite="lax",
                path="/",
            )
        return response
