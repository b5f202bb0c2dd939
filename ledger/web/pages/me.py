"""What a person sets for themselves: another password, one-time codes."""

from datetime import datetime
from typing import Final

import segno
from markupsafe import Markup
from pyotp import TOTP
from starlette.responses import Response

from ledger import wiring
from ledger.desk.people import choose_password, typed_twice
from ledger.desk.signing_in import begin_visit, confirm
from ledger.errors import InputError, RefusedError
from ledger.store import people
from ledger.web.access import SIGNED_IN
from ledger.web.asked import Asked
from ledger.web.page import Page
from ledger.web.visit import keep_cookie


def show_me(asked: Asked, sentence: str = "") -> Response:
    """Show what can be set."""
    return asked.page(
        "me.html",
        status=422 if sentence else 200,
        has_codes=asked.person.code_secret is not None,
        sentence=sentence,
    )


def change_password(asked: Asked) -> Response:
    """Take another password; every other visit ends, this one goes on."""
    try:
        _check_present(asked)
        chosen = typed_twice(asked.secret("password"), asked.secret("again"))
        with asked.writing() as writing:
            choose_password(writing, asked.person.name, chosen)
            secret = begin_visit(
                writing, asked.person.name, new_secret=wiring.new_secret
            )
    except (InputError, RefusedError) as error:
        return show_me(asked, str(error))
    response = asked.away("/me", said=asked.tongue.says("The password is changed."))
    keep_cookie(response, asked.request, secret)
    return response


def show_codes(asked: Asked) -> Response:
    """Show a fresh secret for one-time codes, as a picture and as text."""
    return _codes_page(asked, wiring.new_code_secret(), "")


def begin_codes(asked: Asked) -> Response:
    """Ask for one-time codes from now on, once one of them was typed."""
    secret = asked.text("secret")
    try:
        _check_present(asked)
        _check_code(secret, asked.text("code"), asked.office.now())
    except (InputError, RefusedError) as error:
        return _codes_page(asked, secret, str(error))
    with asked.writing() as writing:
        people.set_code(writing.rows, asked.person.name, secret=secret, step=None)
    return asked.away(
        "/me", said=asked.tongue.says("From now on, signing in asks for a code.")
    )


def end_codes(asked: Asked) -> Response:
    """Ask for no one-time codes any more."""
    try:
        _check_present(asked)
    except RefusedError as error:
        return show_me(asked, str(error))
    with asked.writing() as writing:
        people.set_code(writing.rows, asked.person.name, secret=None, step=None)
    return asked.away("/me", said=asked.tongue.says("Signing in asks for no code."))


def _check_code(secret: str, code: str, now: datetime) -> None:
    """Make sure that the device shows the codes that we shall ask for.

    Raises:
        InputError: The code is not one of this moment.
    """
    try:
        holds = TOTP(secret).verify(code, for_time=now, valid_window=1)
    except ValueError:
        holds = False
    if not holds:
        raise InputError(
            "the code does not match; scan the picture again, check the clock of the "
            "device and type the six digits that it shows now"
        )


def _check_present(asked: Asked) -> None:
    """Make sure that it is the person, not somebody at an open screen.

    Raises:
        RefusedError: The present password does not match, or it is too early to try.
    """
    with asked.writing() as writing:
        refusal = confirm(writing, asked.person, asked.secret("present"))
    if refusal:
        raise RefusedError(refusal)


def _codes_page(asked: Asked, secret: str, sentence: str) -> Response:
    codes = TOTP(secret)
    address = codes.provisioning_uri(name=asked.person.name, issuer_name="evenweight")
    picture = segno.make(address, error="m").svg_inline(scale=5, border=4, light="#fff")
    return asked.page(
        "codes.html",
        status=422 if sentence else 200,
        secret=secret,
        picture=Markup(picture),  # noqa: S704 - drawn from the address, holds no text
        sentence=sentence,
    )


PAGES: Final = (
    Page("GET", "/me", show_me, SIGNED_IN),
    Page("POST", "/me/password", change_password, SIGNED_IN),
    Page("GET", "/me/codes", show_codes, SIGNED_IN),
    Page("POST", "/me/codes", begin_codes, SIGNED_IN),
    Page("POST", "/me/codes/end", end_codes, SIGNED_IN),
)
