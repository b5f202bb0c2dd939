"""What programs read: every call as its example has it, against its own description."""

import hashlib
import json
from collections.abc import Mapping
from typing import Any

import pytest
from jsonschema import Draft202012Validator, FormatChecker

from ledger.books.effect import SubjectKind
from ledger.chain.canonical import parse_json
from ledger.trade.role import Role
from ledger.web.api.call import Call
from ledger.web.api.calls import CALLS
from ledger.web.office import Office
from tests.web.programs import Program, program

NOT_THERE = {"read_checkpoint", "read_pack", "fetch_pack"}
"""Nothing of the scenario is signed, and no pack was asked for."""
READS = [call for call in CALLS if call.method == "GET" and call.name not in NOT_THERE]
ACCOUNT = "osierfold, cocoa, ropewalk, organic"


@pytest.fixture(scope="module")
def officer(read_office: Office) -> Program:
    """A program of the compliance officer."""
    return program(read_office, Role.COMPLIANCE)


@pytest.fixture(scope="module")
def described(officer: Program) -> dict[str, Any]:
    """What the API says of itself."""
    found: dict[str, Any] = officer.get("/openapi.json").json()
    return found


def read(officer: Program, path: str, **query: str | int | bool) -> dict[str, Any]:
    answered = officer.get(path, params=query)
    assert answered.status_code == 200, answered.text
    found: dict[str, Any] = answered.json()
    return found


def named(office: Office, kind: SubjectKind) -> list[str]:
    with office.books() as books:
        return [one.name for one in books.shelf.subjects(kind)]


def faults(
    described: Mapping[str, Any], schema: Mapping[str, Any], told: object
) -> list[str]:
    whole = {**schema, "components": described["components"]}
    checker = Draft202012Validator(whole, format_checker=FormatChecker())
    return [
        f"{fault.json_path}: {fault.message}" for fault in checker.iter_errors(told)
    ]


@pytest.mark.parametrize("call", READS, ids=lambda call: call.name)
def test_every_example_is_answered_as_described(
    officer: Program, described: dict[str, Any], call: Call
) -> None:
    path = call.path.replace(":path", "")
    says = described["paths"][path]["get"]["responses"]["200"]["content"]

    answered = officer.make(call)

    assert answered.status_code == 200, answered.text
    assert answered.headers["content-type"] == call.file_type
    assert faults(described, says[call.file_type]["schema"], answered.json()) == []


def test_examples_of_rows_are_rows_of_the_scenario(
    officer: Program, described: dict[str, Any]
) -> None:
    """An example that no answer holds would be an invention of its own."""
    rows = {
        json.dumps(row, sort_keys=True)
        for call in READS
        for row in officer.make(call).json().get("rows", ())
    }
    for name, schema in described["components"]["schemas"].items():
        for example in schema.get("examples", ()) if name.endswith("Row") else ():
            whole = dict.fromkeys(schema["properties"]) | example
            assert json.dumps(whole, sort_keys=True) in rows, name


@pytest.mark.parametrize("way", [{}, {"forward": "true"}], ids=["back", "forward"])
def test_every_sale_is_traced(
    officer: Program, read_office: Office, way: dict[str, str]
) -> None:
    for sale in named(read_office, SubjectKind.SALE)[::9]:
        assert read(officer, "/trace", of=sale, **way)["rows"]


def test_bean_lots_are_traced_forward_and_recalled(
    officer: Program, read_office: Office
) -> None:
    lots = named(read_office, SubjectKind.LOT)[::40]
    for lot in lots:
        read(officer, "/trace", of=lot, forward=True)
        assert read(officer, "/recall", of=lot, as_of="2026-09-30")["rows"]
        read(officer, f"/stock/{lot}")


def test_every_quarter_and_party_can_be_asked_for(
    officer: Program, read_office: Office
) -> None:
    for quarter in ("2024Q4", "2025Q1", "2025Q2", "2025Q3", "2025Q4", "2026Q1"):
        assert read(officer, "/volumes", quarter=quarter)["rows"]
        read(officer, "/fees", quarter=quarter)
    for contract in named(read_office, SubjectKind.CONTRACT)[::3]:
        read(officer, f"/statements/{contract}", as_of="2026-09-30")
        read(officer, f"/workings/dues/{contract}", as_of="2026-09-30")


def test_an_entry_can_be_verified_from_what_is_told(officer: Program) -> None:
    """RFC 9162, 2.1.1: the digest of a leaf is that of a zero byte and its bytes."""
    first, second = (read(officer, f"/entries/{seq}") for seq in (38, 39))

    for told in (first, second):
        raw = told["stored"].encode()
        assert hashlib.sha256(b"\0" + raw).hexdigest() == told["digest"]
        assert parse_json(raw)["prev"] == told["prev"]  # type: ignore[index,call-overload]
    assert second["prev"] == first["digest"]


def test_pages_of_entries_hold_every_entry_once(officer: Program) -> None:
    found: list[int] = []
    after: dict[str, str] = {}
    while True:
        page = read(officer, "/entries", limit=137, **after)
        found += [one["entry"] for one in page["entries"]]
        if page["next"] is None:
            break
        after = {"after": page["next"]}

    assert found == list(range(found[0], -1, -1))


@pytest.mark.parametrize(
    ("path", "limit"), [(f"/balance/{ACCOUNT}", 7), ("/stock", 3), ("/dues", 2)]
)
def test_pages_together_are_the_whole_list(
    officer: Program, path: str, limit: int
) -> None:
    asked = {"as_of": "2026-09-30"}
    whole = read(officer, path, limit=500, **asked)
    found: list[Any] = []
    after: dict[str, str] = {}
    while True:
        page = read(officer, path, limit=limit, **asked, **after)
        found += page["rows"]
        if page["next"] is None:
            break
        after = {"after": page["next"]}

    assert whole["next"] is None
    assert found == whole["rows"]
    assert len(found) > limit


@pytest.mark.parametrize(
    "after",
    ["", "x", "MTIz", "W10", "WzEsMl0", "WyJ4Il0", "bnVsbA", "=" * 9, "WzEuNV0", "ć"],
)
@pytest.mark.parametrize("path", ["/entries", f"/balance/{ACCOUNT}"])
def test_what_is_no_cursor_is_refused(officer: Program, path: str, after: str) -> None:
    refused = officer.get(path, params={"after": after})

    assert refused.status_code == 422
    assert "no cursor of this list" in refused.json()["detail"]


def test_a_list_that_did_not_change_is_not_sent_again(officer: Program) -> None:
    first = officer.get("/balance")
    tag = first.headers["etag"]

    again = officer.get("/balance", headers={"If-None-Match": f'"x", {tag}'})
    other = officer.get(
        "/balance", params={"as_of": "2026-01-31"}, headers={"If-None-Match": tag}
    )

    assert (again.status_code, again.content) == (304, b"")
    assert other.status_code == 200
    assert other.headers["etag"] != tag
    assert "private" in first.headers["cache-control"]


def test_a_certifier_reads_what_the_window_shows_and_no_more(
    read_office: Office, officer: Program
) -> None:
    """The window of the demonstration's certifier is one scheme."""
    certifier = program(read_office, Role.CERTIFIER)

    own = read(certifier, "/balance", as_of="2026-09-30")
    whole = read(officer, "/balance", as_of="2026-09-30")

    assert {row["scheme"] for row in own["rows"]} == {"osierfold"}
    assert own["rows"] == [row for row in whole["rows"] if row["scheme"] == "osierfold"]
    seen, hidden = (
        {one["entry"] for one in read(who, "/entries", limit=500)["entries"]}
        for who in (certifier, officer)
    )
    hidden -= seen
    assert seen
    assert certifier.get(f"/entries/{max(hidden)}").status_code == 404


@pytest.mark.parametrize(
    ("path", "query", "says"),
    [
        ("/balance", {"asof": "2026-09-30"}, "does not know; use as_of"),
        ("/verify", {"x": "1"}, "does not know; leave it out"),
        ("/balance", {"as_of": "30.9.2026"}, "year-month-day"),
        ("/balance", {"as_of": ["2026-09-30", "2026-08-31"]}, "more than once"),
        ("/balance", {"recorded_by": "noon"}, "not a moment"),
        ("/fees", {"quarter": "2026-3"}, "not a quarter"),
        ("/entries", {"limit": "0"}, "limit"),
        ("/entries", {"limit": "ten"}, "limit"),
        ("/yields", {"since": "2026-09-30", "until": "2026-09-01"}, "swap"),
        ("/trace", {}, "of"),
    ],
)
def test_a_query_that_says_something_else_is_refused(
    officer: Program, path: str, query: dict[str, Any], says: str
) -> None:
    refused = officer.get(path, params=query)

    assert refused.status_code == 422
    assert refused.headers["content-type"] == "application/problem+json"
    assert says in refused.json()["detail"]
