"""Entries on pages: the list, one entry, sealed values by role, what became of it."""

import hashlib
import json

from ledger.chain.canonical import JsonValue
from ledger.desk.record import record
from ledger.trade.role import Role
from ledger.web.office import Office
from tests.web.conftest import Visit, visit_as

CONCHED = 733
"""The batch B33-conche of the scenario."""
CORRECTED, CORRECTION = 350, 422


def seq_of(office: Office, kind: str, text: str) -> int:
    with office.rows() as rows:
        for seq, raw in rows("SELECT seq, raw FROM entry ORDER BY seq"):
            entry = json.loads(bytes(raw))
            if entry["kind"] == kind and text in json.dumps(entry["body"]):
                return int(seq)
    raise LookupError(text)


def put(office: Office, kind: str, on: str, body: dict[str, JsonValue]) -> int:
    from datetime import date

    with office.writing("compliance-1") as writing:
        return record(writing, kind, date.fromisoformat(on), body).recorded.seq


def test_the_list_can_be_walked_to_the_first_entry(reader: Visit) -> None:
    visit, seen, path = reader(Role.FLOOR), [], "/entries"

    while path:
        page = visit.get(f"{path}{'&' if '?' in path else '?'}as=json").json()
        seen += [int(row["entry"]) for row in page]
        path = f"/entries?before={seen[-1]}" if seen[-1] else ""

    assert seen == list(range(len(seen)))[::-1]
    assert len(seen) > 700


def test_the_list_is_filtered_by_kind_author_and_day(reader: Visit) -> None:
    visit = reader(Role.BUYER)

    batches = visit.get("/entries?kind=batch.made&since=2026-09-01&as=json").json()
    nobody = visit.get("/entries?by=nobody&as=json").json()

    assert [row["name"] for row in batches] == [
        "B33-wrap-a",
        "B33-temper-a",
        "B33-tank",
        "B33-conche",
        "B33-grind",
    ]
    assert nobody == []
    assert (
        "Entries recorded before these"
        not in visit.get("/entries?kind=correction").text
    )


def test_an_entry_is_shown_in_words_with_what_it_moved(reader: Visit) -> None:
    page = reader(Role.FLOOR).get(f"/entries/{CONCHED}").text

    assert "vinegar, sharp" in page
    assert '<a href="/lots/LQ-33">LQ-33</a>' in page
    assert "-337.926" in page
    assert "Correct this entry" not in page


def test_the_digest_on_the_page_is_that_of_the_stored_bytes(reader: Visit) -> None:
    visit = reader(Role.COMPLIANCE)

    page = visit.get(f"/entries/{CONCHED}").text
    following = visit.get(f"/entries/{CONCHED + 1}").text
    stored = visit.get(f"/entries/{CONCHED}?as=stored").content

    # RFC 9162, section 2.1.1: the leaf hash is SHA-256(0x00 || entry).
    digest = hashlib.sha256(b"\x00" + stored).hexdigest()
    assert digest in page
    assert digest in following


def test_a_voided_entry_says_so_and_names_its_correction(reader: Visit) -> None:
    visit = reader(Role.COMPLIANCE)

    voided = visit.get(f"/entries/{CORRECTED}").text
    correction = visit.get(f"/entries/{CORRECTION}").text

    assert "void" in voided
    assert f'href="/entries/{CORRECTION}"' in voided
    assert "Correct this entry" not in voided
    assert f"made entry {CORRECTED} void" in correction


def test_a_replaced_entry_and_its_replacements_say_what_counts(office: Office) -> None:
    first = put(
        office,
        "lot.moved",
        "2026-10-01",
        {"lot": "C66-30", "to_place": "attic"},
    )
    seqs = [first]
    for place in ("hall", "yard"):
        body: dict[str, JsonValue] = {
            "target": seqs[-1],
            "reason": "the place was read wrong",
            "replacement": {
                "entry_kind": "lot.moved",
                "occurred_on": "2026-10-01",
                "body": {"lot": "C66-30", "to_place": place},
            },
        }
        seqs.append(put(office, "correction", "2026-10-02", body))
    visit = visit_as(office, Role.COMPLIANCE)

    pages = [visit.get(f"/entries/{seq}").text for seq in seqs]

    assert all(f"replaced by entry {seqs[2]}" in page for page in pages[:2])
    assert f"stands in the place of entry {seqs[1]}" in pages[2]
    assert "Correct this entry" in pages[2]
    assert "Correct this entry" not in pages[0]
    assert all(f'href="/entries/{seqs[1]}"' in page for page in (pages[0], pages[2]))


def test_sealed_values_open_by_role(office: Office) -> None:
    signed = seq_of(office, "contract.signed", "_sd")
    paid = seq_of(office, "payment.made", "_sd")
    sold = put(
        office,
        "sale.dispatched",
        "2026-10-01",
        {
            "sale": "SA-X",
            "document": "INV-X",
            "customer": "cust-10",
            "lines": [{"lot": "C66-32", "mass_kg": "5.000", "pieces": 1}],
            "value": {"amount": "61.75", "currency": "USD"},
        },
    )

    shown = {
        role: [
            "does not open" not in visit_as(office, role).get(f"/entries/{seq}").text
            for seq in (signed, paid, sold)
        ]
        for role in (Role.COMPLIANCE, Role.BUYER, Role.FLOOR)
    }

    assert shown == {
        Role.COMPLIANCE: [True, True, True],
        Role.BUYER: [True, True, False],
        Role.FLOOR: [False, False, False],
    }
    assert "61.75" in visit_as(office, Role.COMPLIANCE).get(f"/entries/{sold}").text
    assert "61.75" not in visit_as(office, Role.BUYER).get(f"/entries/{sold}").text


def test_an_erased_value_is_called_erased(office: Office) -> None:
    registered = seq_of(office, "party.registered", "_sd")
    with office.writing("demo") as writing:
        writing.rows("DELETE FROM disclosure WHERE seq = :seq", {"seq": registered})

    page = visit_as(office, Role.COMPLIANCE).get(f"/entries/{registered}").text

    assert "nobody can open any more" in page


def test_an_entry_that_moves_nothing_has_no_workbook(reader: Visit) -> None:
    visit = reader(Role.COMPLIANCE)

    assert "workbook" not in visit.get("/entries/1").text
    assert visit.get("/entries/1?as=xlsx").status_code == 422
    assert visit.get(f"/entries/{CONCHED}?as=xlsx").status_code == 200


def test_numbers_that_are_none_are_refused_in_one_sentence(reader: Visit) -> None:
    visit = reader(Role.FLOOR)

    assert visit.get("/entries/seven").status_code == 422
    assert visit.get("/entries/99999").status_code == 404
    assert visit.get("/entries?before=x").status_code == 422
    assert "digits only" in visit.get("/entries?before=x").text
