"""The certifier's desk, the samples and the findings."""

import re
from io import BytesIO

from pypdf import PdfReader

from ledger import wiring
from ledger.chain.entry import parse_entry
from ledger.chain.extension import check_extension, parse_extension
from ledger.desk.checkpoint import sign_checkpoint
from ledger.desk.kept import continues, kept_in
from ledger.desk.record import record
from ledger.store.entries import entry_raw, frontier, head
from ledger.store.proof import trees_at
from ledger.trade.role import Role
from ledger.web.office import Office
from tests.web.conftest import Visit, visit_as

NOTED = {
    "finding": "F-1",
    "scheme": "osierfold",
    "grade": "minor nonconformity",
    "text": "The weight note gives no tare.",
    "about": "shipment SH-01\ncontract K-01",
    "sample": "random, seed 4711",
}


def test_the_desk_tells_what_is_seen_and_how_much(reader: Visit) -> None:
    certifier = reader(Role.CERTIFIER)
    assert (
        certifier.get("/", follow_redirects=False).headers["location"] == "/certifier"
    )

    told = certifier.get("/certifier").text
    assert "osierfold" in told
    shown = re.search(r"Entries shown</dt><dd>([\d,]+) / ([\d,]+)", told)
    assert shown is not None
    few, all_ = (int(one.replace(",", "")) for one in shown.groups())
    assert 0 < few < all_


def test_a_kept_checkpoint_is_held_against_the_ledger(
    read_office: Office, reader: Visit
) -> None:
    certifier = reader(Role.CERTIFIER)
    with read_office.rows() as rows:
        size = frontier(rows).size
        earlier = trees_at(rows, [100])[100].root().hex()

    holds = certifier.submit("/certifier", kept=f"100:{earlier}")
    assert "It continues what you kept" in holds.text
    other = certifier.submit("/certifier", kept=f"100:{'0' * 64}")
    assert "does not continue" in other.text
    cut = certifier.submit("/certifier", kept=f"{size + 1}:{earlier}")
    assert "was cut off" in cut.text
    for bad in ("", "nonsense", "0:" + earlier, "a\nb\nc"):
        assert certifier.submit("/certifier", kept=bad).status_code == 422


def test_the_signed_checkpoint_is_handed_out_with_its_proof(office: Office) -> None:
    certifier = visit_as(office, Role.CERTIFIER)
    assert certifier.get("/certifier/checkpoint").status_code == 404
    place = office.place
    with office.writing("demo") as writing:
        key = wiring.private_key(place.key_path)
        sign_checkpoint(writing, place.checkpoints_path, key, on=office.today())
    with office.rows() as rows:
        old_root = trees_at(rows, [100])[100].root()

    note = certifier.get("/certifier/checkpoint")
    proof = certifier.get("/certifier/checkpoint?after=100")

    assert kept_in(note.text).size > 100
    check_extension(parse_extension(proof.text), old_root=old_root)
    with office.rows() as rows:
        assert continues(rows, kept_in(note.text)).holds
    pasted = note.text.replace("\n", "\r\n")
    assert "It continues" in certifier.submit("/certifier", kept=pasted).text
    assert certifier.get("/certifier/checkpoint?after=x").status_code == 422


def test_the_same_seed_draws_the_same_sales_also_later(office: Office) -> None:
    certifier = visit_as(office, Role.CERTIFIER)
    query = "/samples?rule=random&seed=4711&count=4"

    first = certifier.get(f"{query}&as=json&table=0").json()
    again = re.search(
        r'href="(/samples\?[^"]+)">The address', certifier.get(query).text
    )
    assert again is not None
    with office.writing("demo") as writing:
        record(
            writing,
            "party.registered",
            office.today(),
            {"party": "new", "roles": ["customer"], "country": "PE", "legal_name": "N"},
        )
    later = certifier.get(again.group(1).replace("&amp;", "&") + "&as=json").json()

    assert [one["sale"] for one in later] == [one["sale"] for one in first]
    assert "seed=4711" in again.group(1)
    assert len(first) == 4


def test_a_draw_that_makes_no_sense_is_refused(reader: Visit) -> None:
    certifier = reader(Role.CERTIFIER)
    for query in ("rule=chance", "count=0", "count=x", "size=9999999", "size=0"):
        answer = certifier.get(f"/samples?seed=1&{query}")
        assert answer.status_code == 422, query
    assert certifier.get(f"/samples?seed={'1' * 101}").status_code == 422


def test_a_sale_is_walked_to_its_purchases_with_papers_beside(reader: Visit) -> None:
    certifier = reader(Role.CERTIFIER)
    for rule in ("each month once", "each supplier once"):
        assert certifier.get(f"/samples?seed=1&rule={rule}&as=json").json(), rule
    drawn = certifier.get("/samples?seed=1&rule=largest&as=json").json()
    told = certifier.get(f"/samples/{drawn[0]['sale']}").text

    assert "Where it was bought" in told
    assert "One purchase, with its papers beside" in told
    assert "contract" in told.lower()
    assert "/findings/new?contract=" in told
    assert certifier.get("/samples/none-such").status_code == 404


def test_a_finding_is_noted_settled_and_exported(office: Office) -> None:
    certifier = visit_as(office, Role.CERTIFIER)
    assert "F-" in certifier.get("/findings/new?sale=SA-0001&sample=s").text

    noted = certifier.submit("/findings/new", **NOTED)
    assert noted.status_code == 303
    with office.rows() as rows:
        entry = parse_entry(entry_raw(rows, head(rows)[0] - 1))
    assert (entry.kind, entry.recorded_by) == ("finding.noted", "certifier-1")

    [row] = certifier.get("/findings?as=json").json()
    assert (row["finding"], row["state"]) == ("F-1", "open")
    assert row["about"] == "shipment SH-01, contract K-01"
    assert b"F-1" in certifier.get("/findings?as=csv").content
    assert certifier.get("/findings?as=xlsx").content.startswith(b"PK")
    pdf = PdfReader(BytesIO(certifier.get("/findings?as=pdf").content))
    assert "The weight note gives no tare." in " ".join(
        " ".join(page.extract_text().split()) for page in pdf.pages
    )

    settled = certifier.submit(
        "/findings/F-1/settle", outcome="answered", text="The tare came."
    )
    assert settled.status_code == 303
    [row] = visit_as(office, Role.COMPLIANCE).get("/findings?as=json").json()
    assert (row["state"], row["settled"]) == ("answered", "The tare came.")
    again = certifier.submit("/findings/F-1/settle", outcome="answered", text="x")
    assert again.status_code == 409
    assert "settled by entry" in again.text


def test_a_refused_finding_keeps_what_was_typed(office: Office) -> None:
    certifier = visit_as(office, Role.CERTIFIER)
    for change, said in (
        ({"about": "sale none-such"}, "not in what you may see"),
        ({"about": "SA-0001"}, "write a sort and a name on each line"),
        ({"grade": "awful"}, "grade"),
        ({"scheme": "other"}, "looks at osierfold only"),
        ({"text": "long " * 200}, "at most 500"),
        ({"answer_by": "soon"}, "answer_by"),
    ):
        refused = certifier.submit("/findings/new", **NOTED | change)
        assert refused.status_code in {409, 422}, change
        assert said in refused.text, change
        assert "random, seed 4711" in refused.text
    assert certifier.get("/findings?as=json").json() == []


def test_nobody_else_notes_a_finding(office: Office) -> None:
    for role in (Role.BUYER, Role.FLOOR, Role.COMPLIANCE, Role.ADMINISTRATOR):
        someone = visit_as(office, role)
        assert someone.submit("/findings/new", **NOTED).status_code == 403
