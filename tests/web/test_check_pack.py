"""A pack dropped on the page by anybody: checked as the command does, and forgotten."""

import re
import tempfile
import zipfile
from html import unescape
from io import BytesIO
from pathlib import Path

import pytest
from httpx2 import Response
from openpyxl import load_workbook
from pypdf import PdfReader
from starlette.requests import Request

from ledger.audit.enclosed import enclosed
from ledger.audit.layout import PAGE
from ledger.desk import check_apart as apart
from ledger.desk.check import check_pack_at
from ledger.desk.check_apart import check_apart
from ledger.desk.pack import make_pack
from ledger.errors import InputError, RefusedError
from ledger.web.headers import ALWAYS
from ledger.web.office import Office
from ledger.web.pages import check_pack
from ledger.web.turns import NoTurnError, Turns, address_of
from tests.web.conftest import OpenPage, Visit, Visitor


@pytest.fixture(scope="session")
def pack(read_office: Office, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("packs") / "pack.zip"
    with read_office.rows() as rows:
        make_pack(
            rows,
            out=path,
            as_of=read_office.today(),
            made_at=read_office.now(),
            made_by="demo",
        )
    return path


def send(visitor: Visitor, raw: bytes, **fields: str) -> Response:
    files = {"pack": ("pack.zip", raw, "application/zip")}
    return visitor.post("/check-pack", data=fields, files=files)


def test_it_tells_what_the_command_tells(
    reader: Visit, pack: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    nobody, wanted = reader(None), check_pack_at(pack)

    told = unescape(send(nobody, pack.read_bytes()).text)

    assert "Everything that was checked holds" in told
    assert f"{wanted.size}:{wanted.root.hex()}" in told
    for sentence in (*wanted.proved, *wanted.claimed, *wanted.not_checked):
        assert sentence in told
    for part in wanted.checked:
        assert part.name in told
    assert "You gave no key" in told
    assert not list(tmp_path.rglob("*.zip"))


def test_what_the_reader_kept_and_the_key_count(reader: Visit, pack: Path) -> None:
    nobody, raw, wanted = reader(None), pack.read_bytes(), check_pack_at(pack)

    kept = f"{wanted.size}:{wanted.root.hex()}"
    assert "You gave no checkpoint" not in send(nobody, raw, kept=kept).text
    forged = send(nobody, raw, kept=f"{wanted.size}:{'0' * 64}").text
    assert "Not everything holds" in forged
    for fields in ({"key": "no key"}, {"kept": "nothing"}):
        assert send(nobody, raw, **fields).status_code == 422


def test_a_changed_pack_is_told_with_the_place(reader: Visit, pack: Path) -> None:
    raw = pack.read_bytes().replace(b'"occurred_on":"2025-', b'"occurred_on":"2024-', 1)

    told = unescape(send(reader(None), raw).text)

    assert "Not everything holds" in told
    assert "data/entries.jsonl" in told


def bomb() -> bytes:
    """A zip of a few kilobytes that would unpack to a thousand times as much.

    Source:
        OWASP File Upload Cheat Sheet, "Upload and download limits" (zip bombs).
    """
    made = BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as parts:
        for n in range(4):
            parts.writestr(f"pack/data/{n}", bytes(16 * 2**20))
    return made.getvalue()


def climbing() -> bytes:
    """A zip whose member would be written above its folder (OWASP, Path Traversal)."""
    made = BytesIO()
    with zipfile.ZipFile(made, "w") as parts:
        parts.writestr("pack/../../../../tmp/evil", b"x")
    return made.getvalue()


@pytest.mark.parametrize(
    ("raw", "said"),
    [
        (b"", "too few for a zip"),
        (b"no zip at all, but long enough to be one", "not"),
        (bomb(), "is compressed"),
        (climbing(), "evil"),
    ],
    ids=["nothing", "no zip", "zip bomb", "path traversal"],
)
def test_what_is_no_pack_is_refused_in_a_sentence(
    reader: Visit, raw: bytes, said: str
) -> None:
    refused = send(reader(None), raw)

    assert refused.status_code == 422
    assert said in unescape(refused.text)
    assert "Traceback" not in refused.text


def test_a_file_must_be_there(reader: Visit) -> None:
    assert reader(None).submit("/check-pack").status_code == 422


def test_more_than_the_page_takes_is_refused_before_it_is_read(
    reader: Visit, monkeypatch: pytest.MonkeyPatch
) -> None:
    """OWASP File Upload Cheat Sheet, "Upload and download limits"."""
    monkeypatch.setattr(check_pack, "_checked", None)

    refused = send(reader(None), bytes(check_pack.LARGEST_PACK + 2**20))

    assert refused.status_code == 413
    assert "65600 KiB" in refused.text


def test_a_pack_of_too_many_entries_is_left_to_the_reader(
    pack: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(apart, "MOST_ENTRIES", 10)
    with pytest.raises(InputError, match="on your own machine"):
        apart._check({"path": str(pack), "kept": "", "key": ""})


def test_what_takes_too_long_is_stopped(
    pack: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(apart, "MOST_SECONDS", 0.01)
    with pytest.raises(RefusedError, match=r"more than 0.01 seconds"):
        check_apart(pack)


def test_turns_are_one_for_an_address_and_few_at_once() -> None:
    turns = Turns(most=2)
    with turns.turn_of("a"):
        with (
            pytest.raises(NoTurnError, match="still being worked on"),
            turns.turn_of("a"),
        ):
            pass
        with turns.turn_of("b"), pytest.raises(NoTurnError, match="2 others"):
            turns.turn_of("c").__enter__()
        with turns.turn_of("c"):
            pass


def test_who_has_no_turn_waits(read_office: Office, reader: Visit) -> None:
    nobody = reader(None)
    with read_office.turns.turn_of("testclient"):
        assert send(nobody, b"x").status_code == 429
    assert send(nobody, b"x").status_code == 422


@pytest.mark.parametrize(
    ("host", "network"),
    [
        ("192.0.2.7", "192.0.2.7"),
        ("2001:db8:1:2:3:4:5:6", "2001:db8:1:2::/64"),
        ("2001:db8:1:2::", "2001:db8:1:2::/64"),
        ("::ffff:192.0.2.7", "192.0.2.7"),
        ("a name", "a name"),
    ],
)
def test_a_house_with_many_addresses_is_one(host: str, network: str) -> None:
    """Addresses of RFC 3849 and RFC 5737; a house has a /64 at least (RFC 6177)."""
    assert address_of(Request({"type": "http", "client": (host, 1)})) == network


FINDINGS: dict[str, str | list[str]] = {
    "origin": "maker/x",
    "case": "pack over 3 entries",
    "by": "an auditor",
    "scheme": "steady",
    "grade": ["minor nonconformity", "conformity", "conformity"],
    "about": ["sale S-1", "", ""],
    "text": ["No tare.", "", "=1+1"],
}


def test_findings_of_the_case_are_handed_out_and_kept_nowhere(
    reader: Visit, read_office: Office
) -> None:
    nobody = reader(None)
    with read_office.rows() as rows:
        before = rows("SELECT COUNT(*) FROM entry")

    table = nobody.submit("/check-pack/findings", **FINDINGS, as_="x")
    pdf = " ".join(
        " ".join(page.extract_text().split())
        for page in PdfReader(BytesIO(table.content)).pages
    )
    assert "No tare." in pdf
    assert "maker/x" in pdf
    sheet = nobody.submit("/check-pack/findings", **FINDINGS, **{"as": "csv"})
    assert "F-01" in sheet.text
    assert "F-03" not in sheet.text
    # A formula stays text (OWASP, CSV Injection).
    assert "'=1+1" in sheet.text
    book = nobody.submit("/check-pack/findings", **FINDINGS, **{"as": "xlsx"})
    cells = [
        cell
        for row in load_workbook(BytesIO(book.content)).worksheets[0].iter_rows()
        for cell in row
        if "1+1" in str(cell.value)
    ]
    assert [cell.data_type for cell in cells] == ["s"]
    assert nobody.submit("/check-pack/findings").status_code == 422
    with read_office.rows() as rows:
        assert rows("SELECT COUNT(*) FROM entry") == before


def test_the_page_that_sends_nothing_has_a_policy_of_its_own(reader: Visit) -> None:
    """W3C, Content Security Policy Level 3, 8.4: only what has these digests runs."""
    answer = reader(None).get("/look")

    assert answer.content == enclosed()[PAGE]
    policy = answer.headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "connect-src" not in policy
    assert "'self'" not in policy
    assert len(re.findall(r"'sha256-[A-Za-z0-9+/=]{44}'", policy)) == 2
    for name in {*ALWAYS} - {"Content-Security-Policy", "Referrer-Policy"}:
        assert answer.headers[name] == ALWAYS[name]


def test_it_works_in_a_browser_and_sends_nothing(
    open_page: OpenPage, pack: Path
) -> None:
    page = open_page(None, "/check-pack")
    page.get_by_role("link", name="Check in the browser alone").click()
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.set_input_files("#zip", pack)
    page.wait_for_selector("body[data-state=done]", timeout=60_000)

    assert "hold" in page.inner_text("#verdict")
    assert asked == []
