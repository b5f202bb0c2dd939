"""Figures on pages: those that the commands print, each with a way to what makes it up."""

import json
import re
from datetime import UTC, date, datetime
from decimal import Decimal
from html import unescape
from io import BytesIO
from pathlib import Path
from urllib.parse import quote

import pytest
from openpyxl import load_workbook
from playwright.sync_api import expect
from pypdf import PdfReader

from ledger import wiring
from ledger.chain.canonical import JsonValue
from ledger.desk.people import change
from ledger.desk.record import record
from ledger.store.people import Window
from ledger.trade.record import body_of
from ledger.trade.role import Role
from ledger.web.office import Office
from tests.journeys.conftest import Run, run  # noqa: F401 - a fixture
from tests.web.conftest import PERSON_OF, OpenPage, Visit, Visitor, visit_as

ACCOUNT = "osierfold, cocoa, ropewalk, conventional"
RUNNING = f"/balance/{quote(ACCOUNT)}"
DAY = "2026-09-30"
SPAN = f"since=2026-01-01&as_of={DAY}"
SPAN_WORDS = ("--since", "2026-01-01", "--as-of", DAY)
YEAR_WORDS = ("--since", "2026-01-01", "--until", DAY)

SAME = {
    f"/balance?{SPAN}": ("balance", *SPAN_WORDS),
    f"/balance?as_of={DAY}": ("balance", "--as-of", DAY),
    "/balance?recorded_by=2099-12-31": ("balance", "--recorded-by", "2099-12-31"),
    f"{RUNNING}?why=yes&{SPAN}": ("balance", ACCOUNT, "--why", *SPAN_WORDS),
    f"/dues?as_of={DAY}": ("dues", "--as-of", DAY),
    "/dues?as_of=2025-06-30": ("dues", "--as-of", "2025-06-30"),
    f"/dues/K-10?as_of={DAY}&table=2": ("dues", "K-10", "--why", "--as-of", DAY),
    f"/statements/K-10?as_of={DAY}": ("statement", "K-10", "--as-of", DAY),
    f"/statements/cahoba?as_of={DAY}": ("statement", "cahoba", "--as-of", DAY),
    f"/yields?{SPAN}": ("yields", *YEAR_WORDS),
    f"/yields/grind?{SPAN}": ("yields", "grind", *YEAR_WORDS),
    f"/reconciliation?{SPAN}": ("reconcile", *YEAR_WORDS),
    f"/compliance?as_of={DAY}": ("ready", "--as-of", DAY),
    f"/compliance?as_of={DAY}&table=1": ("headroom", "--as-of", DAY),
    f"/compliance?as_of={DAY}&table=3": ("certificates", "--as-of", DAY),
}
"""Pages and the commands that print the same table."""

SAME_SHEETS = {
    "/volumes?quarter=2026Q2": ("volumes", "--quarter", "2026Q2"),
    f"/breaches?as_of={DAY}": ("breaches", "--as-of", DAY),
    f"/yields?{SPAN}": ("yields", *YEAR_WORDS),
    f"/reconciliation?{SPAN}": ("reconcile", *YEAR_WORDS),
    f"/compliance?as_of={DAY}": ("ready", "--as-of", DAY),
}
"""Pages and the commands that write the same workbook."""

EVERY_PAGE = (
    "/compliance",
    "/balance",
    RUNNING,
    f"{RUNNING}?why=yes",
    f"{RUNNING}?cause=returned",
    "/dues",
    "/dues/K-10",
    "/statements",
    "/statements/quirimayo",
    "/fees?quarter=2026Q2",
    "/volumes?quarter=2026Q2",
    "/breaches",
    "/yields?as_of=2026-09-30",
    "/yields/conche?as_of=2026-09-30",
    "/reconciliation",
    "/flow",
)


@pytest.fixture
def officer(reader: Visit) -> Visitor:
    return reader(Role.COMPLIANCE)


def cells(page: str) -> list[str]:
    """The figures and words of every table on a page, as they are, not as written."""
    return [
        unescape(found) for found in re.findall(r'<td[^>]* data-is="([^"]*)"', page)
    ]


@pytest.mark.parametrize(("address", "words"), SAME.items(), ids=SAME)
def test_a_page_gives_the_figures_that_the_command_prints(
    officer: Visitor,
    read_office: Office,
    run: Run,  # noqa: F811
    address: str,
    words: tuple[str, ...],
) -> None:
    mark = "&" if "?" in address else "?"

    page = officer.get(f"{address}{mark}as=json").json()
    printed = run(*words, "--json", "--ledger", read_office.place.path)

    assert page == json.loads(printed.out)
    assert page


@pytest.mark.parametrize(("address", "words"), SAME_SHEETS.items(), ids=SAME_SHEETS)
def test_a_page_gives_the_workbook_that_the_command_writes(
    officer: Visitor,
    read_office: Office,
    run: Run,  # noqa: F811
    tmp_path: Path,
    address: str,
    words: tuple[str, ...],
) -> None:
    file = tmp_path / "written.xlsx"
    run(*words, "--xlsx", file, "--ledger", read_office.place.path)

    page = load_workbook(BytesIO(officer.get(f"{address}&as=xlsx").content))
    written = load_workbook(file)

    as_written = {
        sheet.title: list(sheet.values)
        for sheet in written.worksheets
        if sheet.title != "About"
    }
    assert {
        sheet.title: list(sheet.values)
        for sheet in page.worksheets
        if sheet.title in as_written
    } == as_written


@pytest.mark.parametrize(
    "address",
    [f"/balance?as_of={DAY}", f"/dues?as_of={DAY}", f"{RUNNING}?as_of={DAY}&{SPAN}"],
)
def test_what_a_page_shows_is_what_its_download_says(
    officer: Visitor, address: str
) -> None:
    shown = cells(officer.get(f"{address}&in_full=yes").text)
    rows = officer.get(f"{address}&as=json").json()

    told = [cell for row in rows for cell in row.values()]
    start = next(n for n in range(len(shown)) if shown[n : n + len(told)] == told)
    assert start >= 0


@pytest.mark.parametrize("address", EVERY_PAGE)
def test_every_page_is_small_and_every_figures_link_leads_somewhere(
    officer: Visitor, address: str
) -> None:
    answer = officer.get(address)
    pictures = "".join(re.findall(r"<svg.*?</svg>", answer.text, re.DOTALL))
    main = answer.text.partition("<main")[2].partition("</main>")[0]
    links = sorted({unescape(one) for one in re.findall(r'href="(/[^"#]+)"', main)})

    assert answer.status_code == 200
    assert len(answer.content) - len(pictures.encode()) < 200_000
    assert "{" not in "".join(links)
    ours = ("/balance", "/dues", "/statements", "/breaches", "/yields", "/compliance")
    for link in [one for one in links if one.startswith(ours)][:5]:
        assert officer.get(link).status_code == 200, link


def test_a_figure_of_the_balance_leads_to_movements_that_add_up_to_it(
    officer: Visitor,
) -> None:
    page = officer.get(f"/balance?{SPAN}").text
    claimed = next(
        row["claimed_kg"]
        for row in officer.get(f"/balance?{SPAN}&as=json").json()
        if row["account"] == ACCOUNT
    )
    link = f"{RUNNING}?{SPAN}&cause=sold"

    assert link in unescape(page)
    lines = officer.get(f"{link}&as=json").json()
    assert sum(Decimal(line["moved_kg"]) for line in lines) == Decimal(claimed)
    assert {line["cause"] for line in lines} == {"Claimed"}


def test_a_movement_leads_to_its_arithmetic_and_its_entry(officer: Visitor) -> None:
    page = unescape(officer.get(f"{RUNNING}?{SPAN}").text)
    line = officer.get(f"{RUNNING}?{SPAN}&as=json").json()[0]
    day = line["on"]
    link = f"{RUNNING}?why=yes&since={day}&as_of={day}"

    assert f'href="{link}"' in page
    assert f'href="/entries/{line["entry"]}"' in page
    why = officer.get(link).text
    moved = line["moved_kg"].removeprefix("-")
    assert f'<strong class="figure">{moved} kg</strong>' in why
    assert f'href="/entries/{line["entry"]}"' in why


def test_the_opening_leads_to_what_moved_before(officer: Visitor) -> None:
    page = unescape(officer.get(f"/balance?{SPAN}").text)
    opening = officer.get(f"/balance?{SPAN}&as=json").json()[0]["opening_kg"]

    assert f'href="{RUNNING}?as_of=2025-12-31"' in page
    before = officer.get(f"{RUNNING}?as_of=2025-12-31&as=json").json()
    assert before[-1]["standing_kg"] == opening


def test_long_arithmetic_is_turned_page_by_page(officer: Visitor) -> None:
    first = officer.get(f"{RUNNING}?why=yes&as_of={DAY}").text
    second = officer.get(f"{RUNNING}?why=yes&as_of={DAY}&from_row=40").text
    lines = officer.get(f"{RUNNING}?as_of={DAY}&as=json").json()

    assert f"1\N{EN DASH}40 / {len(lines)}" in first
    assert f"41\N{EN DASH}80 / {len(lines)}" in second
    entry = re.search(r'<h2>.*?</h2>\s*<p><a href="/entries/(\d+)"', second)
    assert entry is not None
    assert entry.group(1) == lines[40]["entry"]


def test_what_was_corrected_later_is_as_it_was_at_a_moment(office: Office) -> None:
    """A receipt is voided now; as recorded before, the account still has it."""
    visit = visit_as(office, Role.COMPLIANCE)
    before = visit.get(f"/balance?as_of={DAY}&as=json").json()
    moment = office.now().isoformat()
    with office.books() as books:
        sale = next(
            one
            for one in reversed(books.shelf.of_kind("sale.dispatched"))
            if one.occurred_on.isoformat() <= DAY
        )
    with office.writing("compliance-1") as writing:
        body: dict[str, JsonValue] = {"target": sale.seq, "reason": "was never sent"}
        record(writing, "correction", office.today(), body)

    now = visit.get(f"/balance?as_of={DAY}&as=json").json()
    then = visit.get(f"/balance?as_of={DAY}&recorded_by={quote(moment)}&as=json").json()

    assert now != before
    assert then == before


@pytest.mark.parametrize(
    ("address", "status", "words"),
    [
        ("/balance?as_of=soon", 422, "as_of is 'soon'"),
        ("/balance?since=2026-02-01&as_of=2026-01-01", 422, "swap the two dates"),
        ("/balance?recorded_by=x", 422, "recorded_by is 'x'"),
        ("/balance/nobody", 404, "there is no account 'nobody'"),
        (f"{RUNNING}?cause=luck", 422, "cause is 'luck'"),
        (f"{RUNNING}?why=yes&from_row=x", 422, "from_row is 'x'"),
        ("/dues/K-99", 404, "no contract K-99"),
        ("/statements/nobody", 404, "nobody is no contract"),
        ("/yields/frying", 404, "no batch of step 'frying'"),
        ("/fees?quarter=Q1", 422, "quarter 'Q1' is not a quarter"),
        ("/dues?table=9&as=csv", 422, "table is '9'"),
    ],
)
def test_a_mistake_in_an_address_is_one_sentence(
    officer: Visitor, address: str, status: int, words: str
) -> None:
    answer = officer.get(address)

    assert answer.status_code == status
    assert words in unescape(answer.text)


def test_the_statement_as_pdf_is_the_one_that_the_command_writes(
    read_office: Office,
    run: Run,  # noqa: F811
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    moment, file = datetime(2026, 10, 1, 9, tzinfo=UTC), tmp_path / "statement.pdf"
    monkeypatch.setattr(wiring, "now", lambda: moment)
    words = ("--as-of", DAY, "--by", "compliance-1", "--out", file)
    run("statement", "K-10", *words, "--ledger", read_office.place.path)
    answer = visit_as(read_office, Role.COMPLIANCE).get(
        f"/statements/K-10?as_of={DAY}&as=pdf"
    )

    assert answer.headers["content-type"] == "application/pdf"
    assert "attachment" in answer.headers["content-disposition"]
    text = PdfReader(BytesIO(answer.content)).pages[0].extract_text()
    assert "Quirimayo" in text
    assert answer.content == file.read_bytes()


WHOLE = ("/yields", "/yields/roast", "/reconciliation", "/flow", "/volumes")
"""Pages whose figures only the whole record gives."""


def test_a_certifier_sees_dues_and_statements_of_the_window_only(reader: Visit) -> None:
    certifier = reader(Role.CERTIFIER)

    assert certifier.get(f"/dues?as_of={DAY}").status_code == 200
    assert certifier.get(f"/statements/K-10?as_of={DAY}").status_code == 200
    assert certifier.get("/compliance").status_code == 403
    for hidden in WHOLE:
        answer = certifier.get(hidden)
        assert answer.status_code == 409
        assert "these figures need the whole record" in answer.text


def test_a_certifier_of_the_whole_sees_yields_and_masses(office: Office) -> None:
    name = PERSON_OF[Role.CERTIFIER]
    with office.writing("demo") as writing:
        change(writing, name, roles={Role.CERTIFIER}, window=Window(), ended=False)
    certifier, officer = (
        visit_as(office, role) for role in (Role.CERTIFIER, Role.COMPLIANCE)
    )

    for address in (f"/yields?{SPAN}&as=json", f"/reconciliation?{SPAN}&as=json"):
        assert certifier.get(address).json() == officer.get(address).json()


def test_figures_fit_a_phone_and_break_no_rule_of_the_browser(
    open_page: OpenPage,
) -> None:
    """A script or a style that the policy forbids would be told on the console."""
    page = open_page(
        Role.COMPLIANCE,
        "/compliance",
        viewport={"width": 390, "height": 844},
        color_scheme="dark",
    )
    said: list[str] = []
    page.on("console", lambda message: said.append(message.text))
    for address in ("/compliance", RUNNING, "/dues/K-10", "/flow"):
        page.goto(address)
        expect(page.locator("h1")).to_be_visible()
        width = page.evaluate("document.documentElement.scrollWidth")
        assert width <= 390, address
    assert said == []


def test_fees_are_told_with_their_arithmetic(
    office: Office,
    run: Run,  # noqa: F811
) -> None:
    """Terms with a fee from October on, and a bar sold under the claim in that month."""
    fee: dict[str, JsonValue] = {
        "basis": "bean equivalent",
        "valid_from": "2026-10-01",
        "price": {"amount": "12.00", "unit": "USD/t"},
        "payee": "osierfold-office",
        "source": "an invented list of fees",
    }
    with office.books() as books:
        terms = body_of(books.shelf.of_kind("terms.published")[-1].record)
        sale = body_of(books.shelf.of_kind("sale.dispatched")[-1].record)
    terms |= {"version": "with fees", "valid_from": "2026-10-01", "fees": [fee]}
    line: dict[str, JsonValue] = {
        "lot": "D70-33a",
        "mass_kg": "1.4",
        "claims": [{"scheme": "osierfold", "custody": "mass balance"}],
    }
    sale |= {"sale": "SA-9000", "lines": [line]}
    with office.writing("demo") as writing:
        record(writing, "terms.published", date(2026, 10, 1), terms)
        record(writing, "sale.dispatched", date(2026, 10, 5), sale)
    visit = visit_as(office, Role.COMPLIANCE)

    page = unescape(visit.get("/fees?quarter=2026Q4").text)
    asked = ("fees", "--quarter", "2026Q4", "--json", "--ledger", office.place.path)

    assert visit.get("/fees?quarter=2026Q4&as=json").json() == json.loads(
        run(*asked).out
    )
    assert "sold under sale SA-9000, 2026-10-05" in page
    assert "= 1.232 * 12.00 / 1000" in page
    assert '<strong class="figure">0.02 USD</strong>' in page


def test_the_drawing_on_a_page_is_the_one_that_the_command_draws(
    officer: Visitor,
    read_office: Office,
    run: Run,  # noqa: F811
) -> None:
    """One specification for page, file and PDF, byte by byte."""
    asked = ("--as-of", DAY, "--ledger", read_office.place.path)
    balance = run("chart", "balance", "ropewalk, conventional", *asked).out.strip()
    dues = run("chart", "dues", *asked).out.strip()
    flow = run("chart", "flow", *asked).out.strip()

    assert balance in officer.get(f"{RUNNING}?as_of={DAY}").text
    assert dues in officer.get(f"/dues?as_of={DAY}").text
    assert flow in officer.get(f"/flow?as_of={DAY}").text
