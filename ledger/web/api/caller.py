"""Who asks with a token, and what the ledger is to them."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime
from typing import Annotated

from fastapi import Depends
from starlette.requests import Request

from ledger.desk.books import OpenBooks
from ledger.desk.sealed_for import EntryReader, RoleReader
from ledger.desk.tokens import Holder
from ledger.desk.writing import Writing
from ledger.store.people import Person
from ledger.trade.role import Role
from ledger.web.office import Office


@dataclass(frozen=True, slots=True)
class Caller:
    """One request, once it is known who asks and that they may.

    Attributes:
        office: The ledger.
        holder: Who asks, and what the token allows.
        key: What the caller named the request, where it changes something.
        asked: SHA-256 of what is asked, in hexadecimal.
    """

    office: Office
    holder: Holder
    key: str
    asked: str

    @property
    def person(self) -> Person:
        """In whose name the request is made."""
        return self.holder.person

    @property
    def is_limited(self) -> bool:
        """Whether the person may see only what their window shows."""
        return Role.CERTIFIER in self.person.roles

    @property
    def reader(self) -> EntryReader:
        """Who reads entries: what decides which sealed values are opened."""
        return RoleReader(self.person.roles)

    @contextmanager
    def books(self, recorded_by: datetime | None = None) -> Iterator[OpenBooks]:
        """Open what of the books the person may see, as a page of theirs would show it."""
        opened = (
            self.office.books_in(self.person.window, recorded_by=recorded_by)
            if self.is_limited
            else self.office.books(recorded_by=recorded_by)
        )
        with opened as books:
            yield books

    @contextmanager
    def writing(self) -> Iterator[Writing]:
        """Hold the ledger for writing in the person's name, all or nothing."""
        with self.office.writing_as(self.person) as writing:
            yield writing

    def until(self, as_of: date | None) -> date:
        """Return the last trade date that counts: as asked, else today.

        Of a certifier it is never later than what the certifier may see.
        """
        given = as_of or self.office.today()
        last = self.person.window.until if self.is_limited else None
        return given if last is None else min(given, last)


def caller_of(request: Request) -> Caller:
    """Return who makes a request that has come through the gate."""
    caller = request.state.caller
    if not isinstance(caller, Caller):
        raise TypeError(caller)
    return caller


Calling = Annotated[Caller, Depends(caller_of)]
"""Parameter of a function that answers a call: who asks."""
