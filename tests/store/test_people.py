"""The tables of who may sign in: what the database refuses, and what they give back."""

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta

import pytest
from sqlalchemy import CheckConstraint, Engine, ForeignKeyConstraint
from sqlalchemy.exc import DBAPIError

from ledger.errors import LedgerError, RefusedError
from ledger.store import people
from ledger.store.engine import open_engine, rows_of
from ledger.store.people import Window
from ledger.store.people_schema import metadata
from ledger.store.rows import Rows
from ledger.trade.role import Role
from tests.store.conftest import NewDatabase

NOW = datetime(2026, 7, 1, 8, tzinfo=UTC)
PERSON = "INSERT INTO person (name, shown, roles, ended) VALUES "
CHECKS = {
    "ck_person_ended_truth": PERSON + "('q', 'Q', 'buyer', 2)",
    "ck_attempt_failures_range": "INSERT INTO attempt VALUES ('name q', 0, 'now')",
    "ck_invitation_digest_length": "INSERT INTO invitation VALUES ('a', 'p', 'now')",
    "ck_visit_digest_length": "INSERT INTO visit VALUES ('a', 'p', 'now', 'now')",
    "ck_token_digest_length": "INSERT INTO token VALUES ('a', 'l', 'p', 's', 'n', 'n')",
    "ck_answered_asked_length": "INSERT INTO answered "
    "VALUES ('p', 'k', 'a', 200, 'x', 'now')",
    "ck_proposal_number_range": "INSERT INTO proposal "
    "VALUES (0, 'p', 'now', 'k', '2026-03-02', 'b')",
}
REFERENCES = {
    "invitation": "INSERT INTO invitation VALUES ('{digest}', 'q', 'now')",
    "visit": "INSERT INTO visit VALUES ('{digest}', 'q', 'now', 'now')",
    "token": "INSERT INTO token VALUES ('{digest}', 'l', 'q', 's', 'n', 'n')",
    "answered": "INSERT INTO answered VALUES ('q', 'k', '{digest}', 200, 'x', 'now')",
    "proposal": "INSERT INTO proposal VALUES (1, 'q', 'now', 'k', '2026-03-02', 'b')",
}
OF_ANOTHER_TYPE = (
    PERSON + "('q', 'Q', 'buyer', 'no')",
    PERSON + "('q', NULL, 'buyer', 0)",
    PERSON + "('p', 'twice', 'buyer', 0)",
    "INSERT INTO attempt VALUES ('name q', 'many', 'now')",
    "INSERT INTO setting VALUES ('x', NULL)",
)


@pytest.fixture(scope="module")
def engine(new_database: NewDatabase) -> Iterator[Engine]:
    """A ledger with one person, which every test leaves as it is."""
    made = open_engine(new_database())
    with made.begin() as connection:
        people.add_person(
            rows_of(connection), "p", shown="P", roles={Role.BUYER}, window=Window()
        )
    yield made
    made.dispose()


@pytest.fixture
def rows(engine: Engine) -> Iterator[Rows]:
    """A transaction that is rolled back in the end."""
    with engine.connect() as connection, connection.begin() as transaction:
        yield rows_of(connection)
        transaction.rollback()


def test_every_check_is_tried_here() -> None:
    named = {
        str(constraint.name)
        for table in metadata.tables.values()
        for constraint in table.constraints
        if isinstance(constraint, CheckConstraint)
    }
    assert CHECKS.keys() == named


def test_every_reference_is_tried_here() -> None:
    referring = {
        table.name
        for table in metadata.tables.values()
        for constraint in table.constraints
        if isinstance(constraint, ForeignKeyConstraint)
    }
    assert REFERENCES.keys() == referring


@pytest.mark.parametrize("check", CHECKS)
def test_every_check_is_made_by_the_database(engine: Engine, check: str) -> None:
    with pytest.raises(LedgerError) as caught, engine.begin() as connection:
        connection.exec_driver_sql(CHECKS[check])
    assert check in str(caught.value.__cause__)


@pytest.mark.parametrize("table", REFERENCES)
def test_nothing_belongs_to_nobody(engine: Engine, table: str) -> None:
    with pytest.raises(RefusedError), engine.begin() as connection:
        connection.exec_driver_sql(REFERENCES[table].format(digest="a" * 64))


@pytest.mark.parametrize("sql", OF_ANOTHER_TYPE)
def test_a_value_of_another_type_or_given_twice_is_refused(
    engine: Engine, sql: str
) -> None:
    with pytest.raises((LedgerError, DBAPIError)), engine.begin() as connection:
        connection.exec_driver_sql(sql)


def test_a_person_comes_back_as_written(rows: Rows) -> None:
    window = Window("steady", date(2026, 1, 1), date(2026, 6, 30))
    people.add_person(rows, "q", shown="Q ☃", roles={Role.CERTIFIER}, window=window)
    found = people.find_person(rows, "q")

    assert found is not None
    assert (found.shown, found.window) == ("Q ☃", window)
    assert found.roles == frozenset({Role.CERTIFIER})
    assert (found.password, found.code_secret, found.ended) == (None, None, False)
    people.change_person(
        rows, "q", roles={Role.BUYER, Role.FLOOR}, window=Window(), ended=True
    )
    found = people.find_person(rows, "q")
    assert found is not None
    assert found.roles == frozenset({Role.BUYER, Role.FLOOR})
    assert (found.window, found.ended) == (Window(), True)
    assert [one.name for one in people.list_people(rows)] == ["p", "q"]


def test_a_link_holds_until_it_ends_and_another_takes_its_place(rows: Rows) -> None:
    day = timedelta(days=1)
    people.add_invitation(rows, "1" * 64, person="p", expires_at=NOW + day)
    assert people.invited(rows, "1" * 64, now=NOW) == "p"
    assert people.invited(rows, "1" * 64, now=NOW + day) is None
    people.add_invitation(rows, "2" * 64, person="p", expires_at=NOW + day)
    assert people.invited(rows, "1" * 64, now=NOW) is None
    people.drop_invitations(rows, "p")
    assert people.invited(rows, "2" * 64, now=NOW) is None


def test_failures_are_counted_one_by_one(rows: Rows) -> None:
    assert people.failures_of(rows, "name p") is None
    for n in range(3):
        people.add_failure(rows, "name p", now=NOW + timedelta(seconds=n))
    assert people.failures_of(rows, "name p") == (3, NOW + timedelta(seconds=2))
    people.forget_failures(rows, "name p")
    assert people.failures_of(rows, "name p") is None


def test_visits_end_one_by_one_or_all_of_a_person(rows: Rows) -> None:
    for digit in "123":
        people.begin_visit(rows, digit * 64, person="p", now=NOW)
    people.end_visits(rows, digest="1" * 64)
    assert people.find_visit(rows, "1" * 64) is None
    assert people.find_visit(rows, "2" * 64) == ("p", NOW, NOW)
    people.end_visits(rows, person="p")
    assert people.find_visit(rows, "3" * 64) is None


def test_a_setting_is_what_was_set_last(rows: Rows) -> None:
    assert people.setting(rows, "approval") is None
    people.put_setting(rows, "approval", "one")
    people.put_setting(rows, "approval", "two")
    assert people.setting(rows, "approval") == "two"
