"""Passwords, one-time codes, visits and cookies, against what is published of each."""

import re
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest
from argon2 import Parameters, Type, extract_parameters
from pyotp import TOTP
from starlette.requests import Request
from starlette.responses import Response

from ledger import wiring
from ledger.chain.canonical import JsonValue
from ledger.chain.entry import parse_entry
from ledger.desk import signing_in
from ledger.desk.people import admit, change, choose_password, digest_of, invite
from ledger.desk.record import record
from ledger.desk.signing_in import (
    FREE_FAILURES,
    LONGEST_REST,
    LONGEST_VISIT,
    begin_visit,
    sign_in,
    sweep,
    try_password,
    visitor,
)
from ledger.desk.writing import Writing
from ledger.errors import ConflictError, InputError, RefusedError
from ledger.store import people
from ledger.store.entries import entry_raw, head, stream_raws
from ledger.store.people import Window
from ledger.trade.role import Role
from ledger.trade.sentence import BodyError
from ledger.web.office import Office
from ledger.web.visit import COOKIE, drop_cookie, keep_cookie
from tests.web.conftest import PERSON_OF, visit_as

NAME = PERSON_OF[Role.BUYER]
PASSWORD = "seven brass anvils humming"
# RFC 6238, appendix B, the rows of SHA-1: seconds since 1970, and the code of 8 digits.
RFC_6238 = {
    59: "94287082",
    1111111109: "07081804",
    1111111111: "14050471",
    1234567890: "89005924",
    2000000000: "69279037",
    20000000000: "65353130",
}
SECRET = "GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ"
"""The secret of the appendix, the ASCII text 12345678901234567890, in base 32."""


def at(writing: Writing, seconds: float) -> Writing:
    moment = datetime.fromtimestamp(seconds, UTC)
    return replace(writing, now=lambda: moment)


class _UndoneError(Exception):
    """What a test did is to be undone."""


@pytest.fixture
def writing(read_office: Office) -> Iterator[Writing]:
    """A transaction in which somebody has a password; it is rolled back in the end."""
    with suppress(_UndoneError), read_office.writing("demo") as found:
        choose_password(found, NAME, PASSWORD)
        yield found
        raise _UndoneError


def enters(writing: Writing, *, code: str = "", password: str = PASSWORD) -> bool:
    tried = try_password(
        writing.rows, NAME, password, address="192.0.2.1", now=writing.now()
    )
    made = sign_in(writing, tried, code=code, new_secret=wiring.new_secret)
    return made.secret is not None


@pytest.mark.parametrize(("seconds", "code"), RFC_6238.items())
def test_codes_are_those_of_rfc_6238(writing: Writing, seconds: int, code: str) -> None:
    """RFC 6238, appendix B; six digits are the last six of its eight (RFC 4226, 5.3)."""
    people.set_code(writing.rows, NAME, secret=SECRET, step=None)
    now = at(writing, seconds)

    assert not enters(now, code="000000")
    assert not enters(now)
    assert enters(now, code=f" {code[-6:]} ")


def test_a_code_holds_a_step_early_or_late_and_once(writing: Writing) -> None:
    """RFC 6238, 5.2: one time step of delay; a code must not be taken twice."""
    people.set_code(writing.rows, NAME, secret=SECRET, step=None)
    begin = 1_700_000_010
    codes = TOTP(SECRET)

    def attempt(shown_at: int, typed_at: int) -> bool:
        people.set_code(writing.rows, NAME, secret=SECRET, step=None)
        people.forget_failures(writing.rows, f"name {NAME}")
        people.forget_failures(writing.rows, "address 192.0.2.1")
        return enters(at(writing, typed_at), code=codes.at(shown_at))

    assert [attempt(begin + 30 * step, begin) for step in (-2, -1, 0, 1, 2)] == [
        False,
        True,
        True,
        True,
        False,
    ]
    people.set_code(writing.rows, NAME, secret=SECRET, step=None)
    assert enters(at(writing, begin), code=codes.at(begin))
    assert not enters(at(writing, begin + 5), code=codes.at(begin))
    assert not enters(at(writing, begin + 30), code=codes.at(begin))
    assert enters(at(writing, begin + 31), code=codes.at(begin + 30))


def test_passwords_are_kept_as_rfc_9106_recommends(writing: Writing) -> None:
    """RFC 9106, 4, second recommended option: argon2id, 3 passes, 4 lanes, 64 MiB, a
    salt of 128 bits and a tag of 256. The OWASP Password Storage Cheat Sheet asks for
    argon2id with 19 MiB, 2 passes and 1 lane at least."""
    found = people.find_person(writing.rows, NAME)
    assert found is not None
    assert found.password is not None
    wanted = Parameters(
        type=Type.ID,
        version=0x13,
        salt_len=16,
        hash_len=32,
        time_cost=3,
        memory_cost=2**16,
        parallelism=4,
    )
    assert extract_parameters(found.password) == wanted
    # Somebody who is not there must take as long as somebody who is.
    assert extract_parameters(signing_in._NOBODY) == wanted
    assert PASSWORD not in found.password


def test_two_people_with_one_password_have_different_digests(writing: Writing) -> None:
    other = PERSON_OF[Role.FLOOR]
    choose_password(writing, other, PASSWORD)
    digests = {
        one.password
        for one in people.list_people(writing.rows)
        if one.name in {NAME, other}
    }
    assert len(digests) == 2


@pytest.mark.parametrize(
    "bad", ["short", "x" * 201, f"{NAME} is my password", "aaaaaaaaaaaaaaaa"]
)
def test_a_bad_password_is_refused(writing: Writing, bad: str) -> None:
    with pytest.raises(InputError, match="choose one"):
        choose_password(writing, NAME, bad)
    assert enters(writing)


def test_waiting_doubles_and_ends(writing: Writing) -> None:
    """OWASP Authentication Cheat Sheet, "Login throttling", with growing waits."""
    begin = 1_700_000_000.0
    for _ in range(FREE_FAILURES):
        assert not enters(at(writing, begin), password="wrong")
    assert not enters(at(writing, begin + 29))
    assert not enters(at(writing, begin + 31), password="wrong")
    assert not enters(at(writing, begin + 31 + 59))
    assert enters(at(writing, begin + 31 + 61))


def test_an_address_that_guesses_at_many_names_must_wait(writing: Writing) -> None:
    now = writing.now()
    for n in range(FREE_FAILURES):
        tried = try_password(writing.rows, f"n{n}", "x", address="192.0.2.1", now=now)
        sign_in(writing, tried, new_secret=wiring.new_secret)

    assert not enters(writing)
    elsewhere = try_password(writing.rows, NAME, PASSWORD, address="192.0.2.2", now=now)
    assert sign_in(writing, elsewhere, new_secret=wiring.new_secret).secret


def test_guessing_at_an_open_screen_is_slowed_down_as_well(office: Office) -> None:
    with office.writing("demo") as writing:
        choose_password(writing, NAME, PASSWORD)
    someone = visit_as(office, Role.BUYER)
    typed = {
        "password": "nine grey herons fishing",
        "again": "nine grey herons fishing",
    }

    for _ in range(FREE_FAILURES):
        assert (
            "does not match"
            in someone.submit("/me/password", present="guess", **typed).text
        )
    told = someone.submit("/me/password", present=PASSWORD, **typed).text

    assert "too many attempts" in told


def test_a_visit_ends_by_rest_by_age_and_with_the_password(writing: Writing) -> None:
    """OWASP Session Management Cheat Sheet, "Session expiration"."""
    secret, begun = (
        begin_visit(writing, NAME, new_secret=wiring.new_secret),
        writing.now(),
    )

    def holds(after: timedelta) -> bool:
        return visitor(writing.rows, secret, now=begun + after) is not None

    second = timedelta(seconds=1)
    assert holds(LONGEST_REST - second)
    assert not holds(LONGEST_REST + second)
    digest = people.find_visit(writing.rows, digest_of(secret))
    assert digest is not None
    people.touch_visit(writing.rows, digest_of(secret), now=begun + LONGEST_VISIT)
    assert holds(LONGEST_VISIT - second)
    assert not holds(LONGEST_VISIT + second)
    choose_password(writing, NAME, "nine grey herons fishing")
    assert not holds(timedelta())


def test_only_digests_of_secrets_are_kept(writing: Writing) -> None:
    secret = begin_visit(writing, NAME, new_secret=wiring.new_secret)
    link = invite(writing, NAME, new_secret=wiring.new_secret)
    for table in ("visit", "invitation", "person"):
        kept = str(writing.rows(f"SELECT * FROM {table}"))  # noqa: S608 - a name of ours
        assert secret not in kept
        assert link.secret not in kept
    # 256 bits (OWASP Session Management Cheat Sheet asks for 64 of entropy at least).
    assert len(secret) == len(link.secret) == 43


def test_what_is_over_is_swept_away(writing: Writing) -> None:
    rows, now = writing.rows, writing.now()

    def count(table: str) -> int:
        [(found,)] = rows(f"SELECT COUNT(*) FROM {table}")  # noqa: S608 - a name of ours
        return int(found)

    for table in ("visit", "invitation", "attempt"):
        rows(f"DELETE FROM {table}")  # noqa: S608 - a name of ours
    ages = (timedelta(0), LONGEST_REST * 0.9, LONGEST_REST * 1.1, LONGEST_VISIT * 1.1)
    for age in ages:
        people.begin_visit(
            rows, f"{age.total_seconds():064}", person=NAME, now=now - age
        )
        people.add_failure(rows, f"name {age}", now=now - 3 * age)
    people.add_invitation(rows, "0" * 64, person=NAME, expires_at=now)
    people.add_invitation(
        rows, "1" * 64, person=PERSON_OF[Role.FLOOR], expires_at=now + LONGEST_REST
    )

    sweep(writing)

    assert count("visit") == 2
    assert count("attempt") == 2
    assert count("invitation") == 1


def test_cookies_are_safe_and_safer_over_tls() -> None:
    """OWASP Session Management Cheat Sheet, "Cookies"; RFC 6265bis, 4.1.3.2 (__Host-)."""
    for scheme, name in (("http", COOKIE), ("https", f"__Host-{COOKIE}")):
        request = Request(
            {
                "type": "http",
                "scheme": scheme,
                "path": "/",
                "headers": [(b"host", b"localhost")],
                "server": ("localhost", 80),
                "query_string": b"",
            }
        )
        for put in (lambda r, q: keep_cookie(r, q, "s"), drop_cookie):
            response = Response()
            put(response, request)
            cookie = response.headers["set-cookie"]
            assert cookie.startswith(f"{name}=")
            assert "HttpOnly" in cookie
            assert "SameSite=lax" in cookie
            assert "Path=/" in cookie
            assert ("Secure" in cookie) == (scheme == "https")
            assert "Domain" not in cookie


def test_who_signs_in_gets_a_new_token(office: Office) -> None:
    """OWASP Session Management Cheat Sheet, against session fixation."""
    with office.writing("demo") as writing:
        choose_password(writing, NAME, PASSWORD)
    someone = visit_as(office, None)
    someone.cookies.set(COOKIE, "chosen by somebody else")

    begun = someone.submit("/sign-in", name=NAME, password=PASSWORD)
    found = re.search(rf"{COOKIE}=([^;]+)", begun.headers["set-cookie"])

    assert found is not None
    assert found.group(1) != "chosen by somebody else"


# --- Access is an entry ------------------------------------------------------------------


def last_entry(writing: Writing) -> tuple[str, str, dict[str, object]]:
    entry = parse_entry(entry_raw(writing.rows, head(writing.rows)[0] - 1))
    return entry.kind, entry.recorded_by, dict(entry.body)


def test_letting_in_changing_and_barring_are_entries(office: Office) -> None:
    with office.writing("admin-1") as writing:
        admit(
            writing,
            "cert-2",
            shown="Name of a Person",
            roles={Role.CERTIFIER},
            window=Window("osierfold", None, date(2026, 6, 30)),
            new_secret=wiring.new_secret,
        )
        assert last_entry(writing) == (
            "access.granted",
            "admin-1",
            {
                "person": "cert-2",
                "roles": ["certifier"],
                "scheme": "osierfold",
                "until": "2026-06-30",
            },
        )
        size = head(writing.rows)[0]

        def change_to(*, ended: bool) -> None:
            window = Window("osierfold")
            change(
                writing, "cert-2", roles={Role.CERTIFIER}, window=window, ended=ended
            )

        change_to(ended=False)
        change_to(ended=False)
        assert head(writing.rows)[0] == size + 1
        change_to(ended=True)
        change_to(ended=True)
        assert last_entry(writing)[:2] == ("access.ended", "admin-1")
        assert head(writing.rows)[0] == size + 2
        change_to(ended=False)
        assert last_entry(writing)[0] == "access.granted"
        for raw in stream_raws(writing.rows, size - 1):
            assert b"Name of a Person" not in raw


@pytest.mark.parametrize(
    ("roles", "window", "said"),
    [
        ({Role.CERTIFIER, Role.BUYER}, Window(), "under another name"),
        ({Role.BUYER}, Window("osierfold"), "limit what a certifier is shown"),
        (
            {Role.CERTIFIER},
            Window(None, date(2026, 2, 1), date(2026, 1, 1)),
            "swap the two dates",
        ),
    ],
)
def test_roles_that_do_not_go_together_are_refused(
    office: Office, roles: set[Role], window: Window, said: str
) -> None:
    with pytest.raises(BodyError, match=said), office.writing("admin-1") as writing:
        admit(
            writing,
            "x-1",
            shown="X",
            roles=roles,
            window=window,
            new_secret=wiring.new_secret,
        )
    with office.rows() as rows:
        assert people.find_person(rows, "x-1") is None


def test_the_last_administrator_and_taken_names_stay(office: Office) -> None:
    with office.writing("demo") as writing:
        choose_password(writing, "admin-1", PASSWORD)
        with pytest.raises(RefusedError, match="last administrator"):
            change(writing, "admin-1", roles={Role.BUYER}, window=Window(), ended=False)
        with pytest.raises(ConflictError, match="already"):
            admit(
                writing,
                "admin-1",
                shown="X",
                roles={Role.BUYER},
                new_secret=wiring.new_secret,
            )
        for name, shown in (
            ("-x", "X"),
            ("x" * 65, "X"),
            ("x", " "),
            ("x", "a\u202eb"),
        ):
            with pytest.raises(InputError):
                admit(
                    writing,
                    name,
                    shown=shown,
                    roles={Role.BUYER},
                    new_secret=wiring.new_secret,
                )


def test_a_person_records_no_more_than_the_roles_allow(office: Office) -> None:
    with office.rows() as rows:
        buyer = people.find_person(rows, NAME)
    assert buyer is not None
    body: dict[str, JsonValue] = {"person": NAME, "roles": ["administrator"]}
    with (
        pytest.raises(RefusedError, match="is for administrator to record"),
        office.writing_as(buyer) as writing,
    ):
        record(writing, "access.granted", office.today(), body)


def test_barring_somebody_holds_at_once(office: Office) -> None:
    someone = visit_as(office, Role.CERTIFIER)
    assert someone.get("/balance").status_code == 200
    with office.writing("admin-1") as writing:
        change(
            writing,
            PERSON_OF[Role.CERTIFIER],
            roles={Role.CERTIFIER},
            window=Window("osierfold"),
            ended=True,
        )
    assert someone.get("/balance", follow_redirects=False).status_code == 303
