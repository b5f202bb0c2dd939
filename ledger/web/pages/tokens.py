"""Tokens: a person lets programs ask in their name, and ends that again."""

from typing import Final

from starlette.responses import Response

from ledger import wiring
from ledger.desk.tokens import LONGEST_DAYS, end_token, make_token
from ledger.errors import InputError, LedgerError
from ledger.store.tokens import list_tokens
from ledger.trade.scope import Scope
from ledger.web.access import PROGRAMS, may_open
from ledger.web.api.calls import CALLS
from ledger.web.asked import Asked
from ledger.web.door import status_of
from ledger.web.page import Page

USUAL_DAYS: Final = "90"


def show_tokens(
    asked: Asked, error: LedgerError | None = None, made: str = ""
) -> Response:
    """List the person's tokens, and show one that was just made this once."""
    with asked.office.rows() as rows:
        found = tuple(list_tokens(rows, asked.person.name))
    is_typed = error is not None
    return asked.page(
        "tokens.html",
        status=status_of(error) if error else 200,
        tokens=found,
        now=asked.office.now(),
        scopes=_said_of_scopes(asked),
        longest=LONGEST_DAYS,
        label=asked.text("label") if is_typed else "",
        days=asked.text("days") if is_typed else USUAL_DAYS,
        chosen=asked.texts("scopes") if is_typed else [Scope.READ.value],
        sentence=str(error or ""),
        secret=made,
        address=str(asked.request.base_url).rstrip("/"),
    )


def make(asked: Asked) -> Response:
    """Make a token, and show it."""
    try:
        with asked.writing() as writing:
            secret, _ = make_token(
                writing,
                asked.person.name,
                label=asked.text("label"),
                scopes=_scopes(asked),
                days=_days(asked),
                new_secret=wiring.new_secret,
            )
    except LedgerError as error:
        return show_tokens(asked, error)
    return show_tokens(asked, made=secret)


def end(asked: Asked) -> Response:
    """End a token."""
    with asked.writing() as writing:
        end_token(writing, asked.person.name, asked.text("token"))
    return asked.away(
        "/tokens", said=asked.tongue.says("The token is ended; it holds no more.")
    )


def _said_of_scopes(asked: Asked) -> list[tuple[str, str]]:
    """Return what a token of this person can be of use for, and how that is said."""
    says = asked.tongue.says
    said = {
        Scope.READ: says("Read entries and figures"),
        Scope.RECORD: says("Record entries and files, and foresee what they do"),
        Scope.PACK: says("Make and fetch audit packs"),
        Scope.SIGN: says("Sign checkpoints"),
    }
    of_use = {call.scope for call in CALLS if may_open(asked.person, call.may)}
    return [(scope.value, words) for scope, words in said.items() if scope in of_use]


def _scopes(asked: Asked) -> list[Scope]:
    try:
        return [Scope(given) for given in asked.texts("scopes")]
    except ValueError:
        raise InputError(
            f"what the token shall allow is {', '.join(asked.texts('scopes'))}; choose "
            f"among {', '.join(Scope)}"
        ) from None


def _days(asked: Asked) -> int:
    given = asked.text("days")
    if not (given.isascii() and given.isdecimal()):
        raise InputError(
            f"days is {given!r}, which is not a whole number; write one from 1 to "
            f"{LONGEST_DAYS}"
        )
    return int(given[:6])


PAGES: Final = (
    Page("GET", "/tokens", show_tokens, PROGRAMS, menu="Tokens"),
    Page("POST", "/tokens", make, PROGRAMS),
    Page("POST", "/tokens/end", end, PROGRAMS),
)
