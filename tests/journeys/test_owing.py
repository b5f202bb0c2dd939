"""The buyer writes to growers; the compliance officer reports fees and volumes."""

import csv
import json
from io import StringIO
from pathlib import Path

import pytest
from pypdf import PdfReader

from ledger.books.statement import DOCUMENT
from tests.journeys.conftest import Run
from tests.reports.again import done_again

AS_OF = ("--as-of", "2026-09-30")


def test_a_grower_reads_rule_amounts_and_what_is_open(run: Run, ledger: Path) -> None:
    ran = run("statement", "K-10", *AS_OF, "--ledger", ledger)

    assert ran.status == 0
    assert "The contract agrees a price of 4600.00 USD/t." in ran.out
    assert "4700.00 USD/t from 2025-10-01 on" in ran.out
    assert "60.00 USD of premium to quirimayo for SH-11 is open" in ran.out
    assert "local law" in ran.out


def test_the_printed_entry_settles_what_was_short(
    run: Run, ledger: Path, tmp_path: Path
) -> None:
    printed = run("statement", "K-10", *AS_OF, "--ledger", ledger).out
    _, _, rest = printed.partition("\n# ")
    entry = rest.partition("\n")[2].partition("\n\n")[0]
    file = tmp_path / "pay.yaml"
    file.write_text(entry, encoding="utf-8")
    as_printed = run("record", file, "--ledger", ledger, "--quiet")
    file.write_text(entry.replace(DOCUMENT, "TT 4711"), encoding="utf-8")

    recorded = run("record", file, "--ledger", ledger)
    after = run("statement", "K-10", *AS_OF, "--ledger", ledger)

    assert as_printed.status == 1
    assert "pay.yaml, line 10: document is" in as_printed.err
    assert recorded.status == 0, recorded.err
    assert "Nothing is overdue." in after.out


def test_a_cooperative_gets_all_its_contracts_as_pdf(
    run: Run, ledger: Path, tmp_path: Path
) -> None:
    out = tmp_path / "statement.pdf"

    ran = run("statement", "quirimayo", *AS_OF, "--out", out, "--ledger", ledger)

    text = "\n".join(page.extract_text() for page in PdfReader(out).pages)
    assert (ran.status, ran.out) == (0, f"wrote {out}\n")
    assert all(
        f"Contract {name} of" in text for name in ("K-02", "K-05", "K-08", "K-10")
    )
    assert "Contract K-01" not in text


def test_amounts_of_a_cooperative_come_as_csv_and_json(run: Run, ledger: Path) -> None:
    as_csv = run("statement", "quirimayo", *AS_OF, "--csv", "--ledger", ledger)
    as_json = run("statement", "quirimayo", *AS_OF, "--json", "--ledger", ledger)

    rows = list(csv.DictReader(StringIO(as_csv.out)))
    assert rows == json.loads(as_json.out)
    assert {row["contract"] for row in rows} == {"K-02", "K-05", "K-08", "K-10"}
    [short] = [row for row in rows if row["outstanding"] == "60.00"]
    assert short["paid_on"] == "2026-04-23"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("statement", "nobody"), "nobody is no contract, and no seller"),
        (("fees", "--quarter", "2026-1"), "quarter '2026-1' is not a quarter"),
        (("volumes", "--quarter", "Q1"), "quarter 'Q1' is not a quarter"),
        (("statement", "K-10", "--out", "/nowhere/x.pdf"), "cannot be written"),
    ],
)
def test_a_mistake_is_said_in_one_sentence(
    run: Run, ledger: Path, words: tuple[str, ...], said: str
) -> None:
    ran = run(*words, "--ledger", ledger)

    assert ran.status != 0
    assert said in ran.err
    assert "Traceback" not in ran.err


def test_why_shows_arithmetic_that_can_be_done_again(run: Run, ledger: Path) -> None:
    ran = run("dues", "K-03", "--why", *AS_OF, "--ledger", ledger)

    amounts = {(duty, payee): str(a) for _, duty, payee, a in done_again(ran.out)}
    assert amounts["price", "vatulani"] == "314887/20", "15,744.35 pounds"


def test_why_comes_as_csv_too(run: Run, ledger: Path) -> None:
    ran = run("dues", "--why", "--csv", *AS_OF, "--ledger", ledger)

    rows = list(csv.DictReader(StringIO(ran.out)))
    assert {row["contract"] for row in rows} > {"K-01", "K-12"}
    assert all(row["figure"] for row in rows)


def test_volumes_of_a_quarter_add_up_for_every_form(run: Run, ledger: Path) -> None:
    ran = run("volumes", "--quarter", "2026Q1", "--csv", "--ledger", ledger)

    weighed = [
        {key: text.replace(".", "") for key, text in row.items()}
        for row in csv.DictReader(StringIO(ran.out))
        if row["measure"] == "as weighed"
    ]
    assert len(weighed) > 5
    for row in weighed:
        came = ("opening", "bought_with_claim", "bought_without_claim", "made")
        back = ("returned_with_claim", "returned_without_claim", "corrected")
        went = ("used", "lost", "sold_with_claim", "sold_without_claim", "written_off")
        total = sum(int(row[f"{name}_kg"]) for name in came + back)
        total -= sum(int(row[f"{name}_kg"]) for name in went)
        assert total == int(row["in_stock_kg"]), row["form"]


def test_volumes_are_shown_in_kilograms_and_bean_equivalent(
    run: Run, ledger: Path
) -> None:
    ran = run("volumes", "--quarter", "2026Q1", "--ledger", ledger)

    assert "osierfold, kg as weighed" in ran.out
    assert "osierfold, kg bean equivalent" in ran.out
    assert "Mass balance" in ran.out


def test_a_scheme_without_fees_charges_none(run: Run, ledger: Path) -> None:
    table = run("fees", "--quarter", "2026Q1", "--ledger", ledger)
    why = run("fees", "--quarter", "2026Q1", "--why", "--ledger", ledger)

    assert (table.status, why.status) == (0, 0)
    assert "have the last word" in table.out
    assert why.out.endswith("No fee is charged in this quarter.\n")


def test_the_last_whole_quarter_is_meant_where_none_is_named(
    run: Run, ledger: Path
) -> None:
    ran = run("fees", "--why", "--ledger", ledger)

    assert ran.out.startswith("Fees on certified sales, 20")
