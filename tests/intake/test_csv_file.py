"""ledger.intake.csv_file: rows say the same as the groups and lists of YAML."""

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.errors import InputError
from ledger.intake.columns import SHEETS, Sheet
from ledger.intake.draft import Draft, parse_draft
from ledger.intake.reading import read_file
from ledger.trade.kinds import KINDS
from ledger.trade.record import Record, body_of, typed_key
from tests.intake import bad_files

BOTH = {
    "sales-2025-01.csv": (
        """\
on,sale,document,customer,site,lot,mass,mass_kg,pieces,gtin,scheme,custody,proportion,label,sscc,value,currency
2025-03-17,S-1,INV 1,shop,mill,BAR-1,35 lb,,200,9521234567899,a+b,mass balance+segregated,,one+two,,,
,S-1,,,,LQ-1,,5.000,,,c,controlled blending,0.5,,395212340000000014,440.00,GBP
2025-03-18,S-2,INV 2,shop,,BAR-1,,8.000,,,,,,,,,
""",
        """\
- kind: sale.dispatched
  on: 2025-03-17
  sale: S-1
  document: INV 1
  customer: shop
  site: mill
  lines:
    - lot: BAR-1
      mass: 35 lb
      pieces: 200
      gtin: 9521234567899
      claims:
        - scheme: a
          custody: mass balance
          label: one
        - scheme: b
          custody: segregated
          label: two
    - lot: LQ-1
      mass_kg: 5.000
      claims:
        - scheme: c
          custody: controlled blending
          proportion: 0.5
  sscc: [395212340000000014]
  value: {amount: 440.00, currency: GBP}
- kind: sale.dispatched
  on: 2025-03-18
  sale: S-2
  document: INV 2
  customer: shop
  lines:
    - lot: BAR-1
      mass_kg: 8.000
""",
    ),
    "returns.csv": (
        """\
on,return,sale,document,reason,lot,mass,mass_kg,pieces
2025-03-24,R-1,S-1,CN 1,crushed,BAR-1,1.6 kg,,20
,R-1,,,,LQ-1,,1.000,
""",
        """\
kind: sale.returned
on: 2025-03-24
return: R-1
sale: S-1
document: CN 1
reason: crushed
lines:
  - {lot: BAR-1, mass: 1.6 kg, pieces: 20}
  - {lot: LQ-1, mass_kg: 1.000}
""",
    ),
    "batches.csv": (
        """\
on;batch;step;equipment;site;part;lot;form;recipe;mass;mass_kg;reason;pieces;place;\
best_before;hours;carried;carried_kg;cooling_minutes;racking_minutes;pieces_per_minute;\
operator;note;entry_temperature;exit_temperature;drop_temperature;peak_temperature;tastings
2025-03-05;B-1;mould;line;mill;input;CH-1;;;441 lb;;;;;;;15 lb;;9;40;130;op;calm;125 F;;;;
;B-1;;;;output;BAR-1;bar;d70;;198.034;;2475;shelf;2026-09-10;2.5;;;;;;;;;32.2 C;;;
;B-1;;;;loss;;;;;2.000;waste;;;;;;;;;;;;;;130 C;257 F;"4.0: acid; 8.5: round: soft"
""",
        """\
kind: batch.made
on: 2025-03-05
batch: B-1
step: mould
equipment: line
site: mill
inputs:
  - {lot: CH-1, mass: 441 lb}
outputs:
  - lot: BAR-1
    form: bar
    recipe: d70
    mass_kg: 198.034
    pieces: 2475
    place: shelf
    best_before: 2026-09-10
losses:
  - {reason: waste, mass_kg: 2.000}
record:
  hours: 2.5
  temperatures:
    - {point: entry, value: 125 F}
    - {point: exit, value: 32.2 C}
    - {point: drop, value: 130 C}
    - {point: peak, value: 257 F}
  tastings:
    - {after_hours: 4.0, note: acid}
    - {after_hours: 8.5, note: "round: soft"}
  carried: 15 lb
  cooling_minutes: 9
  racking_minutes: 40
  pieces_per_minute: 130
  operator: op
  note: calm
""",
    ),
    "quotes-east.csv": (
        """\
level,source,unit,market,month,on
8140.25,bulletin,USD/t,east,,2025-01-09
6510.00,,GBP/t,west,,2025-01-08
8101.00,,,east,,2025-01-08
6500.00,letter,,west,,2025-01-07
8077.00,bulletin,USD/t,east,2025-05,2025-01-09
""",
        """\
- kind: quote.recorded
  on: 2025-01-09
  market: east
  unit: USD/t
  source: bulletin
  quotes:
    - {on: 2025-01-09, level: 8140.25}
    - {on: 2025-01-08, level: 8101.00}
- kind: quote.recorded
  on: 2025-01-08
  market: west
  unit: GBP/t
  source: letter
  quotes:
    - {on: 2025-01-08, level: 6510.00}
    - {on: 2025-01-07, level: 6500.00}
- kind: quote.recorded
  on: 2025-01-09
  market: east
  month: 2025-05
  unit: USD/t
  source: bulletin
  quotes:
    - {on: 2025-01-09, level: 8077.00}
""",
    ),
    "rates.csv": (
        """\
on,base,to,forward_months,source,rate
2025-01-08,GBP,USD,,bank,1.2360
2025-01-08,GBP,EUR,,bank,1.1990
2025-01-08,GBP,USD,6,bank,1.2310
2025-01-09,GBP,USD,,,1.2303
""",
        """\
- kind: rate.recorded
  on: 2025-01-09
  base: GBP
  to: USD
  source: bank
  rates:
    - {on: 2025-01-08, rate: 1.2360}
    - {on: 2025-01-09, rate: 1.2303}
- kind: rate.recorded
  on: 2025-01-08
  base: GBP
  to: EUR
  source: bank
  rates:
    - {on: 2025-01-08, rate: 1.1990}
- kind: rate.recorded
  on: 2025-01-08
  base: GBP
  to: USD
  forward_months: 6
  source: bank
  rates:
    - {on: 2025-01-08, rate: 1.2310}
""",
    ),
    "payments.csv": (
        """\
on,payment,contract,payee,towards,amount,currency,document,shipment
2025-02-24,P-1,K-1,coop,price,40253.10,USD,transfer 1,SH-1
2025-02-25,P-2,K-1,coop,organic differential,300.00,USD,"transfer 2, late",
""",
        """\
- kind: payment.made
  on: 2025-02-24
  payment: P-1
  contract: K-1
  payee: coop
  towards: price
  money: {amount: 40253.10, currency: USD}
  document: transfer 1
  shipment: SH-1
- kind: payment.made
  on: 2025-02-25
  payment: P-2
  contract: K-1
  payee: coop
  towards: organic differential
  money: {amount: 300.00, currency: USD}
  document: transfer 2, late
""",
    ),
    "parties.csv": (
        """\
on,party,country,legal_name,address,gln,registered_farmers,roles,contact_person,\
contact_phone,contact_email
2025-01-02,coop,PE,Cooperativa,"Jr. 2, Lima",9520000000011,212,grower cooperative+payee,\
desk,+51 1 555 0100,a@b.example
2025-01-02,shop,GB,,,,,customer,,,
""",
        """\
- kind: party.registered
  on: 2025-01-02
  party: coop
  country: PE
  legal_name: Cooperativa
  address: Jr. 2, Lima
  gln: 9520000000011
  registered_farmers: 212
  roles: [grower cooperative, payee]
  contacts:
    - {person: desk, phone: +51 1 555 0100, email: a@b.example}
- kind: party.registered
  on: 2025-01-02
  party: shop
  country: GB
  roles: [customer]
""",
    ),
    "counts.csv": (
        """\
on,lot,found,found_kg,pieces,counted_by,place
2025-03-12,BAR-1,198 kg,,2475,op,shelf
2025-03-12,LQ-1,,0.000,,op,
""",
        """\
- {kind: lot.counted, on: 2025-03-12, lot: BAR-1, found: 198 kg, pieces: 2475,
   counted_by: op, place: shelf}
- {kind: lot.counted, on: 2025-03-12, lot: LQ-1, found_kg: 0.000, counted_by: op}
""",
    ),
}
"""The same entries as CSV and as YAML; each CSV has every column of its sheet."""


def read(name: str, text: str) -> list[Draft]:
    return list(read_file(name, text.encode()))


@pytest.mark.parametrize("name", BOTH)
def test_csv_and_yaml_say_the_same(name: str) -> None:
    as_csv, as_yaml = BOTH[name]
    first, second = read(name, as_csv), read("same.yaml", as_yaml)

    for rows, group in zip(first, second, strict=True):
        assert (rows.kind, rows.occurred_on, rows.body) == (
            group.kind,
            group.occurred_on,
            group.body,
        )
        assert body_of(parse_draft(rows)) == body_of(parse_draft(group))


@pytest.mark.parametrize("name", BOTH)
def test_the_comparison_uses_every_column(name: str) -> None:
    header = BOTH[name][0].splitlines()[0].replace(";", ",").split(",")
    sheet = SHEETS[name.partition("-")[0].partition(".")[0]]

    assert set(header) == {
        "on",
        *sheet.in_every_row,
        *(column.name for column in sheet.columns),
    }


def fields_below(model: type[Record], kept: set[str]) -> set[str]:
    for name, field in model.model_fields.items():
        kept |= {field.alias or name, typed_key(name) or name}
    return kept


@pytest.mark.parametrize("sheet", SHEETS.values(), ids=list(SHEETS))
def test_every_column_goes_into_a_field_of_the_kind(sheet: Sheet) -> None:
    first_steps = {
        sheet.lists[kind] if path.startswith("part.") else path.partition(".")[0]
        for path in (column.path for column in sheet.columns)
        for kind in sheet.lists or [""]
    }

    assert first_steps <= fields_below(KINDS[sheet.kind], set())


def test_separators_order_of_columns_blank_rows_and_marks_do_not_matter() -> None:
    plain = read("counts.csv", bad_files.COUNTS)
    header, row = (line.split(",") for line in bad_files.COUNTS.splitlines())
    turned = "\r\n".join(";".join(reversed(cells)) for cells in (header, row))
    other = read_file(
        "counts-2.csv", f"\ufeff;;;;\r\n\r\n{turned}\r\n;;\r\n \r\n".encode()
    )

    assert [draft.body for draft in plain] == [draft.body for draft in other]
    assert other[0].where == "counts-2.csv, row 4"


def test_rows_are_numbered_as_a_spreadsheet_does_whatever_cells_hold() -> None:
    text = bad_files.COUNTS.replace("shelf-4", '"two\nlines"')
    text += "2025-03-12,BAR-2,1 kg,op-2,\n"

    assert [draft.where for draft in read("counts.csv", text)] == [
        "counts.csv, row 2",
        "counts.csv, row 3",
    ]


def test_each_cell_is_found_again_and_a_missing_one_by_its_row() -> None:
    sale, _ = read("sales.csv", bad_files.SALES)

    assert sale.locate("lines.0.claims.0.scheme") == "sales.csv, row 2, column scheme"
    assert sale.locate("lines.1.lot") == "sales.csv, row 3, column lot"
    assert sale.locate("lines.1.pieces") == "sales.csv, row 3, column pieces"
    assert sale.locate("lines.1.claims.0") == "sales.csv, row 3"
    assert sale.locate("value.amount") == "sales.csv, row 2, column value"
    assert sale.locate("site") == "sales.csv, row 2"


@pytest.mark.parametrize(
    "cell",
    ["+44 20 5550 0101", "-4.5 F", "+51 (1) 555-0100", "-12", "+3,5", "a=b", "1-2"],
)
def test_numbers_with_a_sign_are_no_formulas(cell: str) -> None:
    text = f"on,party,roles,country,contact_phone\n2025-01-02,a,customer,GB,{cell!r}\n"
    [party] = read("parties.csv", text.replace("'", '"'))

    assert party.body["contacts"] == [{"phone": cell}]


@pytest.mark.parametrize(
    "cell", ["=1", "@A1", "+A1", "-", "+", "-1+cmd", "- 1", "+1 ext 2"]
)
def test_what_a_spreadsheet_would_compute_is_refused(cell: str) -> None:
    with pytest.raises(InputError, match="looks like a formula of a spreadsheet"):
        read("counts.csv", f"on,lot,found\n2025-01-02,a,{cell}\n")


def test_a_head_cell_may_stand_in_any_row_of_the_entry() -> None:
    first = bad_files.SALES.replace("INV 202,shop,BAR-1", ",,BAR-1")
    later = first.replace(",S-202,,,LQ-1", ",S-202,INV 202,shop,LQ-1")

    assert read("sales.csv", later)[0].body["document"] == "INV 202"


def test_an_entry_that_says_nothing_is_told_what_is_missing() -> None:
    with pytest.raises(
        InputError, match=r"row 2: field payment of payment.made is missing"
    ):
        parse_draft(read("payments.csv", "on\n2025-01-02\n")[0])


CELLS = st.text("ab1;,\"' \n", max_size=6)


@given(CELLS, CELLS, st.sampled_from(",;"))
def test_whatever_a_cell_holds_is_read_back(
    place: str, lot: str, separator: str
) -> None:
    out = io.StringIO()
    writer = csv.writer(out, delimiter=separator)
    writer.writerow(["on", "lot", "place"])
    writer.writerow(["2025-01-02", lot, place])
    [draft] = read("counts.csv", out.getvalue())

    cells = {"lot": lot.strip(" "), "place": place.strip(" ")}
    assert draft.body == {name: text for name, text in cells.items() if text}


def test_blank_columns_that_a_spreadsheet_saved_at_the_end_are_not_read() -> None:
    plain = b"on,base,to,source,rate\n2025-03-03,GBP,USD,bank,1.25\n"
    beside = b"on,base,to,source,rate,,\n2025-03-03,GBP,USD,bank,1.25,,\n,,,,,,\n"

    assert read_file("rates.csv", beside) == read_file("rates.csv", plain)


@pytest.mark.parametrize(
    ("raw", "said"),
    [
        (b"on,base,,to,rate\n", "row 1: column 3 has no name; name it"),
        (b"on,base,to,rate,\n2025-03-03,GBP,USD,1.25,x\n", "row 2: column 5 holds"),
        (b"on,base,to,rate\n2025-03-03,GBP,USD,1.25,\n", "the row has 5 cells"),
    ],
)
def test_a_cell_without_a_named_column_is_refused(raw: bytes, said: str) -> None:
    with pytest.raises(InputError, match=said):
        read_file("rates.csv", raw)
