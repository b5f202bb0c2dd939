"""Tokens: shown once, kept as a digest, ended by hand, by time and with the person."""

import re
from datetime import timedelta

import pytest

from ledger.desk.people import change
from ledger.desk.tokens import LONGEST_DAYS, MOST_TOKENS, holder_of, make_token
from ledger.desk.writing import Writing
from ledger.errors import InputError, RefusedError
from ledger.store.people import Window
from ledger.store.tokens import list_tokens
from ledger.trade.role import Role
from ledger.trade.scope import Scope
from ledger.web.office import Office
from tests.web.conftest import PERSON_OF, Visit, visit_as

SHOWN = re.compile(r"<code>(evenweight_[\w-]{43})</code>")
BUYER = PERSON_OF[Role.BUYER]


def make(writing: Writing, label: str = "scale", days: int = 30) -> str:
    secret, _ = make_token(
        writing,
        BUYER,
        label=label,
        scopes={Scope.READ},
        days=days,
        new_secret=lambda: f"{label:x<43}",
    )
    return secret


def test_a_token_is_shown_once_and_kept_as_a_digest(office: Office) -> None:
    buyer = visit_as(office, Role.BUYER)

    made = buyer.submit(
        "/tokens", label="scale in the yard", scopes=["read", "record"], days="30"
    )
    (secret,) = SHOWN.findall(made.text)
    again = buyer.get("/tokens")

    assert made.status_code == 200
    assert secret not in again.text
    assert "scale in the yard" in again.text
    with office.rows() as rows:
        (kept,) = list_tokens(rows, BUYER)
        holder = holder_of(rows, secret, now=office.now())
    assert secret not in repr(kept)
    assert holder is not None
    assert (holder.person.name, holder.token.scopes) == (
        BUYER,
        frozenset({Scope.READ, Scope.RECORD}),
    )


def test_a_token_that_is_ended_holds_no_more(office: Office) -> None:
    buyer = visit_as(office, Role.BUYER)
    with office.writing("demo") as writing:
        secret = make(writing)
        (kept,) = list_tokens(writing.rows, BUYER)

    ended = buyer.submit("/tokens/end", token=kept.digest)

    assert ended.status_code == 303
    with office.rows() as rows:
        assert holder_of(rows, secret, now=office.now()) is None


def test_nobody_ends_the_token_of_somebody_else(office: Office) -> None:
    other = visit_as(office, Role.COMPLIANCE)
    with office.writing("demo") as writing:
        secret = make(writing)
        (kept,) = list_tokens(writing.rows, BUYER)

    assert other.submit("/tokens/end", token=kept.digest).status_code == 404
    with office.rows() as rows:
        assert holder_of(rows, secret, now=office.now()) is not None


def test_a_token_ends_by_itself_to_the_moment(office: Office) -> None:
    with office.writing("demo") as writing:
        secret = make(writing, days=1)
        (kept,) = list_tokens(writing.rows, BUYER)

    with office.rows() as rows:
        a_moment = timedelta(microseconds=1)
        assert holder_of(rows, secret, now=kept.expires_at - a_moment) is not None
        assert holder_of(rows, secret, now=kept.expires_at) is None


def test_the_tokens_of_a_barred_person_are_gone_for_good(office: Office) -> None:
    with office.writing("demo") as writing:
        secret = make(writing)
        for ended in (True, False):
            change(writing, BUYER, roles={Role.BUYER}, window=Window(), ended=ended)

    with office.rows() as rows:
        assert holder_of(rows, secret, now=office.now()) is None


def test_there_is_an_end_to_how_many_hold_at_once(office: Office) -> None:
    with office.writing("demo") as writing:
        for number in range(MOST_TOKENS):
            make(writing, label=f"t{number}")
        with pytest.raises(RefusedError, match="end one that no program needs"):
            make(writing, label="one more")


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({"label": "", "scopes": "read", "days": "30"}, "what the token is for"),
        ({"label": "x\u202ey", "scopes": "read", "days": "30"}, "the label is"),
        ({"label": "scale", "days": "30"}, "would allow nothing"),
        ({"label": "scale", "scopes": "all", "days": "30"}, "choose among"),
        ({"label": "scale", "scopes": "read", "days": "0"}, "choose 1 to"),
        ({"label": "scale", "scopes": "read", "days": "367"}, "choose 1 to"),
        ({"label": "scale", "scopes": "read", "days": "9" * 50}, "choose 1 to"),
        ({"label": "scale", "scopes": "read", "days": "ten"}, "whole number"),
    ],
)
def test_what_cannot_be_a_token_is_told_and_kept_on_the_page(
    reader: Visit, fields: dict[str, str], says: str
) -> None:
    refused = reader(Role.BUYER).submit("/tokens", **fields)

    assert refused.status_code == 422
    assert says in refused.text
    assert f'value="{fields["days"]}"' in refused.text


def test_what_is_offered_is_what_the_person_can_use(reader: Visit) -> None:
    offered = {
        role: set(re.findall(r'name="scopes"[^>]*value="(\w+)"', page))
        for role in (Role.FLOOR, Role.CERTIFIER, Role.COMPLIANCE)
        if (page := reader(role).get("/tokens").text)
    }

    assert offered[Role.CERTIFIER] == {"read"}
    assert offered[Role.FLOOR] == {"read", "record"}
    assert offered[Role.COMPLIANCE] == set(Scope)


def test_the_longest_token_is_a_leap_year_long(office: Office) -> None:
    with office.writing("demo") as writing:
        make(writing, days=LONGEST_DAYS)
        with pytest.raises(InputError):
            make(writing, label="longer", days=LONGEST_DAYS + 1)
