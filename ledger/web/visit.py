"""The visit behind a request: its cookie, who it is of, and the proof against forgery.

The cookie holds a random token and nothing else. The proof that a form came from our own
page (OWASP Cross-Site Request Forgery Prevention Cheat Sheet, signed double submit) is
worked out from that token, so that no page of another origin can know it.
"""

import hmac
from dataclasses import dataclass
from hashlib import sha256
from typing import Final

from starlette.requests import Request
from starlette.responses import Response

from ledger.desk.signing_in import LONGEST_VISIT, visitor
from ledger.store import people
from ledger.store.people import Person
from ledger.web.office import Office
from ledger.web.once import BEFORE_NUMBER

COOKIE: Final = "visit"
"""Name of the cookie; over TLS it has a prefix for which browsers see to it that it was
set by this very server over TLS (RFC 6265bis, 4.1.3.2)."""
_OVER_TLS: Final = f"__Host-{COOKIE}"
PROOF: Final = "proof"
"""Name of the hidden field, and of the header, that carries the proof."""


@dataclass(frozen=True, slots=True)
class Visit:
    """Somebody who has signed in.

    Attributes:
        person: Who it is.
        proof: What a form must bring along.
        secret: Token of the visit.
    """

    person: Person
    proof: str
    secret: str


def visit_of(request: Request, office: Office) -> Visit | None:
    """Return the visit that a request belongs to, if one holds."""
    secret = request.cookies.get(_name(request))
    if not secret:
        return None
    with office.rows() as rows:
        found = visitor(rows, secret, now=office.now())
    if found is None:
        return None
    person, is_due = found
    if is_due:
        with office.writing(person.name) as writing:
            people.touch_visit(
                writing.rows, sha256(secret.encode()).hexdigest(), now=office.now()
            )
    return Visit(person, proof_of(secret), secret)


def _name(request: Request) -> str:
    return _OVER_TLS if request.url.scheme == "https" else COOKIE


def proof_of(secret: str) -> str:
    """Return what a form of a visit must bring along."""
    return hmac.new(secret.encode(), b"form of ours", sha256).hexdigest()


def is_proved(visit: Visit | None, given: str) -> bool:
    """Tell whether a form came from a page of this visit; true where there is none."""
    proof = given.partition(BEFORE_NUMBER)[0].encode()
    return visit is None or hmac.compare_digest(visit.proof.encode(), proof)


def is_from_here(request: Request) -> bool:
    """Tell whether a browser says that a request comes from a page of ours.

    A browser that says nothing is believed: the proof decides where there is a visit.
    """
    site = request.headers.get("sec-fetch-site", "same-origin")
    origin = request.headers.get("origin")
    return site in {"same-origin", "none"} and origin in {None, _own(request)}


def is_surely_from_here(request: Request) -> bool:
    """Tell whether a browser says outright that a request comes from a page of ours."""
    return is_from_here(request) and request.headers.get("origin") == _own(request)


def _own(request: Request) -> str:
    return f"{request.url.scheme}://{request.headers.get('host', '')}"


def keep_cookie(response: Response, request: Request, secret: str) -> None:
    """Give the browser the cookie of a visit."""
    response.set_cookie(
        _name(request),
        secret,
        max_age=int(LONGEST_VISIT.total_seconds()),
        httponly=True,
        samesite="lax",
        secure=request.url.scheme == "https",
        path="/",
    )


def drop_cookie(response: Response, request: Request) -> None:
    """Take the cookie back."""
    is_secure = request.url.scheme == "https"
    response.delete_cookie(_name(request), path="/", secure=is_secure, httponly=True)
