"""A ledger whose every text that may be any text is an attack."""

from collections.abc import Iterator
from contextlib import contextmanager
from copy import deepcopy
from datetime import date
from pathlib import Path
from typing import Any, Final

from ledger import wiring
from ledger.books.opening import parse_body
from ledger.desk.people import admit
from ledger.desk.record import record
from ledger.desk.signing_in import begin_visit
from ledger.errors import LedgerError
from ledger.store.people import Window
from ledger.trade.role import Role
from ledger.web.app import make_app
from ledger.web.office import Office, open_office
from ledger.web.visit import COOKIE
from tests.desk.small_ledger import SMALL, TINY, Body, fill
from tests.web.conftest import Visitor

EVIL: Final = (
    "\"><img src=x onerror=alert(1)><script>alert(2)</script></textarea>'"
    "{{7*7}}{% raw %}${7*7}'; DROP TABLE person; --"
)
FORMULA: Final = "=HYPERLINK(1)"


@contextmanager
def hostile_office(folder: Path, poison: str) -> Iterator[Office]:
    """Open a ledger in which poison stands wherever it is let in."""
    path = folder / "ledger.db"
    fill(path, TINY[:1])
    with open_office(wiring.Place(f"sqlite:///{path}"), by="demo") as office:
        for kind, day, body in SMALL[1:]:
            _record_poisoned(office, kind, date.fromisoformat(day), body, poison)
        with office.writing("demo") as writing:
            for role in Role:
                admit(
                    writing,
                    f"{role}-9",
                    shown=poison[:200],
                    roles={role},
                    window=Window("river") if role is Role.CERTIFIER else None,
                    new_secret=wiring.new_secret,
                )
        with office.writing("certifier-9") as writing:
            record(
                writing,
                "finding.noted",
                office.today(),
                {
                    "finding": "F-1",
                    "scheme": "river",
                    "grade": "conformity",
                    "text": poison,
                    "clause": poison,
                    "sample": poison,
                },
            )
        yield office


def visit_hostile(office: Office, role: Role) -> Visitor:
    """Return a client with a visit of whoever has a role there."""
    visitor = Visitor(make_app(office), base_url="http://localhost")
    with office.writing("demo") as writing:
        visitor.secret = begin_visit(writing, f"{role}-9", new_secret=wiring.new_secret)
    visitor.cookies.set(COOKIE, visitor.secret)
    return visitor


def _record_poisoned(
    office: Office, kind: str, on: date, body: Body, poison: str
) -> None:
    try:
        with office.writing("demo") as writing:
            record(writing, kind, on, poisoned(kind, body, poison))
    except LedgerError:
        # Some texts must agree with others, such as a claim with its terms.
        with office.writing("demo") as writing:
            record(writing, kind, on, deepcopy(body))


def poisoned(kind: str, body: Body, poison: str) -> Body:
    """Put poison in the place of every text of a body that may be any text."""
    copied = deepcopy(body)
    for holder, key in list(_places(copied)):
        before = holder[key]
        holder[key] = poison
        try:
            parse_body(kind, copied)
        except LedgerError:
            holder[key] = before
    return copied


def _places(value: Any) -> Iterator[tuple[Any, Any]]:  # noqa: ANN401 - JSON of any shape
    pairs = value.items() if isinstance(value, dict) else enumerate(value)
    for key, one in pairs:
        if isinstance(one, dict | list):
            yield from _places(one)
        elif isinstance(one, str):
            yield value, key
