"""Signing in and out, and the one-time link with which a password is chosen."""

from typing import Final

from starlette.responses import Response

from ledger import wiring
from ledger.desk.people import accept, digest_of, typed_twice
from ledger.desk.signing_in import begin_visit, sign_in, try_password
from ledger.errors import InputError, NotFoundError
from ledger.reports.tongue import LANGUAGES
from ledger.store import people
from ledger.web.access import EVERYONE, SIGNED_IN
from ledger.web.asked import Asked
from ledger.web.page import Page
from ledger.web.turns import address_of
from ledger.web.visit import drop_cookie, keep_cookie

_UNPROVED: Final = 401


def show_sign_in(asked: Asked) -> Response:
    """Show the form for name and password."""
    return asked.page("sign_in.html", then=asked.query("then"), name="", sentence="")


def begin(asked: Asked) -> Response:
    """Begin a visit, or say that it failed."""
    name = asked.text("name")
    with asked.office.rows() as rows:
        tried = try_password(
            rows,
            name,
            asked.secret("password"),
            address=address_of(asked.request),
            now=asked.office.now(),
        )
    with asked.office.writing("nobody") as writing:
        admitted = sign_in(
            writing, tried, code=asked.text("code"), new_secret=wiring.new_secret
        )
    if admitted.secret is None:
        return asked.page(
            "sign_in.html",
            status=_UNPROVED,
            then=asked.text("then"),
            name=name,
            sentence=admitted.sentence,
        )
    response = asked.away(_inner(asked.text("then")))
    keep_cookie(response, asked.request, admitted.secret)
    return response


def end(asked: Asked) -> Response:
    """End the visit."""
    if asked.visit is not None:
        with asked.writing() as writing:
            people.end_visits(writing.rows, digest=digest_of(asked.visit.secret))
    response = asked.away("/sign-in")
    drop_cookie(response, asked.request)
    return response


def show_welcome(asked: Asked) -> Response:
    """Show the form for a new password, if the link holds."""
    secret = asked.part("secret")
    with asked.office.rows() as rows:
        name = people.invited(rows, digest_of(secret), now=asked.office.now())
    if name is None:
        raise NotFoundError(
            "this link was used or has ended; ask the administrator for a new one"
        )
    return asked.page("welcome.html", name=name, sentence="")


def choose_password(asked: Asked) -> Response:
    """Take a new password and begin a visit with it."""
    try:
        chosen = typed_twice(asked.secret("password"), asked.secret("again"))
        with asked.office.writing("nobody") as writing:
            person = accept(writing, asked.part("secret"), password=chosen)
            secret = begin_visit(writing, person.name, new_secret=wiring.new_secret)
    except InputError as error:
        return asked.page("welcome.html", status=422, name="", sentence=str(error))
    response = asked.away("/")
    keep_cookie(response, asked.request, secret)
    return response


def choose_language(asked: Asked) -> Response:
    """Remember the language that a reader chose."""
    chosen = asked.text("language")
    if chosen not in LANGUAGES:
        raise InputError(
            f"language is {chosen!r}; there are pages in {', '.join(LANGUAGES)}"
        )
    response = asked.away(_inner(asked.text("then")))
    response.set_cookie("language", chosen, max_age=31_536_000, samesite="lax")
    return response


def _inner(then: str) -> str:
    """Return an address of ours to go on to; a foreign one becomes the start."""
    is_ours = then.startswith("/") and not then.startswith("//") and "\\" not in then
    return then if is_ours else "/"


PAGES: Final = (
    Page("GET", "/sign-in", show_sign_in, EVERYONE),
    Page("POST", "/sign-in", begin, EVERYONE),
    Page("POST", "/sign-out", end, SIGNED_IN),
    Page("GET", "/welcome/{secret}", show_welcome, EVERYONE),
    Page("POST", "/welcome/{secret}", choose_password, EVERYONE),
    Page("POST", "/language", choose_language, EVERYONE),
)
