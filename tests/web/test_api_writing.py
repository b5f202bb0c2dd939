"""What programs record: once, under a name of the request, or not at all."""

import json
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from httpx2 import Response

from ledger.desk.pack import Packed
from ledger.desk.two_persons import SETTING
from ledger.store.entries import head
from ledger.store.people import put_setting
from ledger.store.rows import Rows
from ledger.trade.role import Role
from ledger.trade.scope import Scope
from ledger.web.api.call import Call
from ledger.web.api.calls import CALLS
from ledger.web.api.calls.packs import ZIP
from ledger.web.api.once import key_in
from ledger.web.api.problem import ProblemError
from ledger.web.office import Office
from tests.web.conftest import PERSON_OF
from tests.web.programs import Program, program
from tests.web.test_api_gate import problem_in

MOVED: dict[str, Any] = {"lot": "BU-03", "to_place": "cold-store"}
DAY = "2026-09-30"
LEGAL_NAME = "Tarn & Hollow Grocers"


def size(office: Office) -> int:
    with office.rows() as rows:
        return head(rows)[0]


@pytest.fixture(autouse=True)
def quick_packs(monkeypatch: pytest.MonkeyPatch) -> Iterator[threading.Event]:
    """Packs that hold nothing and wait for a sign: what is in a pack is tried elsewhere."""
    sign = threading.Event()

    def make(_rows: Rows, *, out: Path, **_: object) -> Packed:
        sign.wait(60)
        out.write_bytes(b"PK")
        return Packed(out, 5, 3, bytes(32), 1, (), 0)

    monkeypatch.setattr("ledger.web.pack_making.make_pack", make)
    yield sign
    sign.set()


@pytest.fixture
def asking(office: Office) -> Program:
    """A program of the compliance officer, on a ledger of the test's own."""
    return program(office, Role.COMPLIANCE)


def test_an_entry_is_recorded_in_the_name_of_the_person(
    office: Office, asking: Program
) -> None:
    before = size(office)

    made = asking.record("lot.moved", DAY, MOVED)
    told = made.json()
    read = asking.get(told["address"].removeprefix("/api/v1")).json()

    assert made.status_code == 201
    assert told["entry"] == before
    assert told["recorded_by"] == PERSON_OF[Role.COMPLIANCE]
    assert (read["digest"], read["body"]) == (told["digest"], MOVED)
    assert read["standing"] == "counts"


def test_a_request_sent_again_is_carried_out_once(
    office: Office, asking: Program
) -> None:
    before = size(office)

    first, second = (
        asking.record("lot.moved", DAY, MOVED, key='"moved-1"') for _ in range(2)
    )

    assert (first.status_code, first.text) == (second.status_code, second.text)
    assert size(office) == before + 1


def test_requests_sent_at_the_same_time_are_carried_out_once(
    office: Office, asking: Program
) -> None:
    before, answers = size(office), []

    def send() -> None:
        answers.append(asking.record("lot.moved", DAY, MOVED, key='"at once"').text)

    senders = [threading.Thread(target=send) for _ in range(6)]
    for sender in senders:
        sender.start()
    for sender in senders:
        sender.join()

    assert len(answers) == 6
    assert len(set(answers)) == 1
    assert size(office) == before + 1


def test_a_name_is_given_to_one_request_only(office: Office, asking: Program) -> None:
    asking.record("lot.moved", DAY, MOVED, key='"k"')
    before = size(office)

    other = asking.record("lot.moved", "2026-09-29", MOVED, key='"k"')
    address = asking.post("/checkpoint", headers={"Idempotency-Key": '"k"'})

    for refused in (other, address):
        problem_in(refused, "key-reused")
        assert refused.status_code == 422
    assert size(office) == before


def test_names_of_different_people_do_not_meet(office: Office, asking: Program) -> None:
    before = size(office)
    floor = program(office, Role.FLOOR)

    for one in (asking, floor):
        assert one.record("lot.moved", DAY, MOVED, key='"k"').status_code == 201

    assert size(office) == before + 2


def test_a_refusal_leaves_nothing_and_is_judged_anew(
    office: Office, asking: Program
) -> None:
    taken = {"lot": "BU-03", "mass_kg": "374.704", "reason": "spillage"}
    less = {**taken, "mass_kg": "374.703"}
    before = size(office)

    refused = asking.record("lot.written_off", DAY, taken, key='"k"')
    again = asking.record("lot.written_off", DAY, less, key='"k"')

    told = problem_in(refused, "refused")
    assert told["faults"][0]["rule"]
    assert "0.001 kg below zero" in told["detail"]
    assert again.status_code == 201
    assert size(office) == before + 1


@pytest.mark.parametrize(
    "call", [call for call in CALLS if call.once], ids=lambda call: call.name
)
def test_every_write_needs_a_name(office: Office, asking: Program, call: Call) -> None:
    before = size(office)
    for name in ("", " ", '"', '""', '"é"', "x" * 201, '"a" "b"', "a b"):
        headers = [(b"Content-Type", (call.takes or ("",))[0].encode())]
        headers += [(b"Idempotency-Key", name.encode())] if name else []
        body = call.example.get("body", "")
        text = body if isinstance(body, str) else json.dumps(body)
        refused = asking.request(call.method, call.path, content=text, headers=headers)
        problem_in(refused, "key-missing")
        assert refused.status_code == 400
    assert size(office) == before


@pytest.mark.parametrize(
    "call", [call for call in CALLS if call.once], ids=lambda call: call.name
)
def test_every_write_is_answered_alike_when_it_is_sent_again(
    office: Office, asking: Program, call: Call
) -> None:
    first = asking.make(call, key='"again"')
    after = size(office)
    second = asking.make(call, key='"again"')

    assert first.status_code == call.status, first.text
    assert (second.status_code, second.text) == (first.status_code, first.text)
    assert size(office) == after


@pytest.mark.parametrize(
    ("header", "name"),
    [
        ('"8d5c1b7e-2f0a"', "8d5c1b7e-2f0a"),
        ("8d5c1b7e-2f0a", "8d5c1b7e-2f0a"),
        (r'"a\"b\\c"', r"a\"b\c".replace("\\", "", 1)),
        ('" "', " "),
    ],
)
def test_a_name_is_a_string_of_structured_fields(header: str, name: str) -> None:
    """RFC 9651, 3.3.3: only the quote and the backslash are escaped."""
    assert key_in(header) == name


def test_a_foreign_escape_is_no_name() -> None:
    with pytest.raises(ProblemError):
        key_in(r'"a\x"')


def test_a_file_is_recorded_whole(office: Office, asking: Program) -> None:
    before = size(office)
    text = (
        f"kind: lot.moved\non: {DAY}\nlot: BU-03\nto_place: cold-store\n---\n"
        f"kind: lot.moved\non: {DAY}\nlot: BU-03\nto_place: dry-store\n"
    )

    made = send_file(asking, "moved.yaml", text)

    assert made.status_code == 201, made.text
    assert (made.json()["entries"], made.json()["first"]) == (2, before)
    assert size(office) == before + 2


def test_a_file_with_a_wrong_entry_leaves_nothing(
    office: Office, asking: Program
) -> None:
    before = size(office)
    text = (
        f"kind: lot.moved\non: {DAY}\nlot: BU-03\nto_place: cold-store\n---\n"
        f"kind: lot.moved\non: {DAY}\nlot: NOT-THERE\nto_place: dry-store\n"
    )

    refused = send_file(asking, "moved.yaml", text)

    assert "moved.yaml, line 8" in problem_in(refused, "refused")["detail"]
    assert size(office) == before


def test_a_sheet_is_recorded_too(office: Office, asking: Program) -> None:
    before = size(office)
    text = f"on,lot,found_kg,counted_by\n{DAY},BU-03,374.703,floor-1\n"

    made = send_file(asking, "counts.csv", text, media_type="text/csv")

    assert made.status_code == 201, made.text
    assert size(office) == before + 1


def test_a_preview_records_nothing(office: Office, asking: Program) -> None:
    before = size(office)
    short = {"lot": "BU-03", "mass_kg": "999.000", "reason": "spillage"}

    good = foresee(asking, "lot.written_off", {**short, "mass_kg": "74.703"})
    bad = foresee(asking, "lot.written_off", short)
    file = asking.post(
        "/preview/files",
        params={"name": "x.yaml"},
        content=f"kind: lot.moved\non: {DAY}\nlot: BU-03\nto_place: cold-store\n",
        headers={"Content-Type": "application/yaml"},
    )

    assert good["would_be_recorded"]
    assert good["lots"] == [
        {"name": "BU-03", "before_kg": "374.703", "after_kg": "300.000"}
    ]
    assert not bad["would_be_recorded"]
    assert bad["problem"]["type"].endswith(":refused")
    assert file.json()["first"] == before
    assert size(office) == before


@pytest.mark.parametrize(
    ("kind", "body", "role"),
    [
        ("terms.published", {}, Role.BUYER),
        ("period.closed", {"end": "2026-09-30"}, Role.FLOOR),
    ],
)
def test_a_kind_that_is_not_for_the_role_is_refused(
    read_office: Office, kind: str, body: dict[str, Any], role: Role
) -> None:
    refused = program(read_office, role).record(kind, DAY, body)

    assert refused.status_code in {409, 422}
    assert "entry" not in refused.json()


@pytest.mark.parametrize(
    "kind", ["disclosure.erased", "access.granted", "finding.noted"]
)
def test_a_kind_that_says_what_was_done_is_not_recorded_by_saying_it(
    read_office: Office, kind: str
) -> None:
    asking = program(read_office, Role.COMPLIANCE)

    for refused in (
        asking.record(kind, DAY, {}),
        send_file(asking, "x.yaml", f"kind: {kind}\non: {DAY}\n"),
    ):
        assert refused.status_code == 422
        assert "does and records it" in problem_in(refused, "input")["detail"]


def test_a_token_is_no_second_person(office: Office, asking: Program) -> None:
    """Where the maker lets corrections be recorded by two only, a program is one."""
    with office.writing("demo") as writing:
        put_setting(writing.rows, SETTING, "yes")
    correction = {"target": 38, "reason": "weighed anew", "approved_by": "somebody"}

    refused = asking.record("correction", DAY, correction)

    assert "two persons" in problem_in(refused, "refused")["detail"]


def test_what_is_sealed_is_in_no_answer_that_is_kept(
    office: Office, asking: Program
) -> None:
    """An answer is kept as long as the ledger; what is erased must not stay in it."""
    made = asking.record(
        "party.registered",
        DAY,
        {
            "party": "cust-90",
            "country": "PE",
            "roles": ["customer"],
            "legal_name": LEGAL_NAME,
        },
    )

    assert made.status_code == 201, made.text
    with office.rows() as rows:
        kept = rows("SELECT answer FROM answered")
    assert kept
    assert LEGAL_NAME not in json.dumps(kept)


def test_a_checkpoint_is_signed_and_told(asking: Program) -> None:
    signed = asking.post("/checkpoint", headers={"Idempotency-Key": '"sign"'})
    told = asking.get("/checkpoint")

    assert signed.status_code == 201, signed.text
    assert told.json() == signed.json()
    assert asking.get("/verify").json()["signed"] == signed.json()["size"]


def test_a_pack_is_asked_for_and_fetched_once_it_is_ready(
    office: Office, asking: Program, quick_packs: threading.Event
) -> None:
    wanted = {"scheme": "osierfold", "until": "2025-03-31"}

    asked = asking.post("/packs", json=wanted, headers={"Idempotency-Key": '"p"'})
    address = asked.json()["address"].removeprefix("/api/v1")
    early = asking.get(f"{address}/file")
    quick_packs.set()
    while (told := asking.get(address).json())["state"] == "waiting":
        pass
    fetched = asking.get(f"{address}/file")

    assert (asked.status_code, asked.json()["state"]) == (202, "waiting")
    assert "not made yet" in problem_in(early, "conflict")["detail"]
    assert (told["state"], told["shown"]) == ("ready", 3)
    assert (fetched.content, fetched.headers["content-type"]) == (b"PK", ZIP)
    assert asking.get("/packs").json()["packs"] == [told]
    other = program(office, Role.BUYER)
    assert other.get(address).status_code == 403


def test_a_pack_is_foreseen(read_office: Office) -> None:
    asking = program(read_office, Role.COMPLIANCE)
    wanted = {"scheme": "osierfold", "until": "2025-03-31"}

    told = asking.post("/preview/packs", json=wanted).json()
    wrong = asking.post("/preview/packs", json={"sale": "SA-0001", **wanted})

    counts = [one["shown"] + one["hidden"] for one in told["entries"]]
    with read_office.rows() as rows:
        assert sum(counts) == head(rows)[0]
    assert "leave out the" in problem_in(wrong, "input")["detail"]


def test_a_locked_key_is_told_and_nobody_is_asked_at_the_terminal(
    asking: Program, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("ledger.store.key_file.is_encrypted", lambda _: True)
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)

    refused = asking.post("/checkpoint", headers={"Idempotency-Key": '"sign"'})

    assert "passphrase" in problem_in(refused, "refused")["detail"]


def test_a_token_to_read_records_nothing(office: Office) -> None:
    before = size(office)
    reading = program(office, Role.COMPLIANCE, [Scope.READ])

    problem_in(reading.record("lot.moved", DAY, MOVED), "not-allowed")
    assert size(office) == before


def send_file(
    asking: Program, name: str, text: str, media_type: str = "application/yaml"
) -> Response:
    return asking.post(
        "/files",
        params={"name": name},
        content=text,
        headers={"Content-Type": media_type, "Idempotency-Key": f'"{Path(name).stem}"'},
    )


def foresee(asking: Program, kind: str, body: dict[str, Any]) -> dict[str, Any]:
    answered = asking.post(
        "/preview/entries", json={"kind": kind, "occurred_on": DAY, "body": body}
    )
    assert answered.status_code == 200, answered.text
    found: dict[str, Any] = answered.json()
    return found
