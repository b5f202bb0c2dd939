"""Files that must be refused, each with what its sentence has to say.

`BAD_FILES` cannot be read as what they should be, whatever the ledger holds.
`REFUSED_BY_BOOKS` are well written; only the books can say no, after the examples of
docs/reference/files.md and a setup of drafts have been recorded.
Most are a good file with one change.
"""

from dataclasses import dataclass
from datetime import date

from ledger.chain.canonical import JsonValue
from ledger.intake.draft import Draft
from ledger.intake.text import LARGEST_FILE


@dataclass(frozen=True)
class BadFile:
    """A file that must be refused."""

    about: str
    """What is wrong with it; unique."""
    name: str
    """Name of the file."""
    raw: bytes
    """Its content."""
    said: tuple[str, ...]
    """What the sentence says: place, field, value, rule, way out."""


RECEIPT = """\
kind: shipment.received
on: 2025-03-02
shipment: SH-2025-03
contract: K-12
lots:
  - lot: B-031
    bags: 181
    net_shipped: 27557.8 lb
    net_landed_kg: 12450.000
    quality:
      moisture_percent: 7.1
"""
CONTRACT = """\
kind: contract.signed
on: 2025-01-10
contract: K-12
seller: alto-verde
origin: PE
crop: 2024/25
quantity: 12.5 t
price:
  basis: fixed
  price:
    amount: 3600.00
    unit: USD/t
delivery: FOB
delivery_place: Callao
weight_basis: landed
"""
PRICE = """\
price:
  basis: fixed
  price:
    amount: 3600.00
    unit: USD/t
"""
BATCH = """\
kind: batch.made
on: 2025-03-04
batch: R-101
step: roast
inputs:
  - lot: B-031
    mass_kg: 200.000
outputs:
  - lot: RB-101
    form: roasted bean
    mass_kg: 188.400
losses:
  - reason: moisture
    mass_kg: 11.600
"""
DISPATCH = """\
kind: shipment.dispatched
on: 2025-01-24
shipment: SH-2025-03
contract: K-12
carriage:
  bill_of_lading: CLL-778120
  container: CSQU3054383
net_shipped_kg: 12500.000
"""
CORRECTION = """\
kind: correction
on: 2025-03-25
target: 35
reason: weighed with the tray
replacement:
  entry_kind: lot.written_off
  occurred_on: 2025-03-12
  body:
    lot: LQ-101
    mass_kg: 0.030
    reason: spillage
"""
SALES = """\
on,sale,document,customer,lot,mass_kg,pieces,gtin,scheme,custody,value,currency
2025-03-17,S-202,INV 202,shop,BAR-1,16.000,200,9521234567899,steady,mass balance,440.00,GBP
,S-202,,,LQ-1,5.000,,,,,,
2025-03-18,S-203,INV 203,shop,BAR-1,8.000,100,,,,,
"""
BATCHES = """\
on,batch,step,part,lot,form,mass_kg,reason,exit_temperature,tastings
2025-03-05,W-101,winnow,input,RB-101,,188.400,,,
,W-101,,output,NIB-101,nib,162.000,,257 F,0.5: clean
,W-101,,loss,,,26.400,shell,,
"""
QUOTES = """\
on,market,unit,source,level
2025-01-08,east,USD/t,bulletin,8101.00
2025-01-09,east,,,8140.25
"""
PAYMENTS = """\
on,payment,contract,payee,towards,amount,currency,document
2025-02-24,PAY-32,K-12,alto-verde,price,40253.10,USD,transfer 224
"""
COUNTS = """\
on,lot,found,counted_by,place
2025-03-12,BAR-101,198 kg,op-2,shelf-4
"""
PARTIES = """\
on,party,roles,country,gln
2025-01-02,corner-shop,customer,GB,9520000000011
"""


def changed(good: str, old: str, new: str) -> bytes:
    """A good file with one change."""
    if good.count(old) != 1:
        raise ValueError(f"{old!r} stands {good.count(old)} times in the good file")
    return good.replace(old, new).encode()


def _bad(about: str, name: str, raw: bytes, *said: str) -> BadFile:
    return BadFile(about, name, raw, (name, *said))


_ENCODING = (
    _bad(
        "oversized file",
        "big.yaml",
        b"#" * (LARGEST_FILE + 1),
        "the file has 4194305 bytes; at most 4194304 are read, so split it",
    ),
    _bad(
        "Latin-1",
        "latin.yaml",
        changed(RECEIPT, "B-031", "B-é").replace("é".encode(), b"\xe9"),
        "line 6: the byte 0xE9 is not UTF-8; save the file again with the encoding UTF-8",
    ),
    _bad(
        "UTF-16",
        "wide.csv",
        COUNTS.encode("utf-16"),
        "line 1: the byte 0xFF is not UTF-8; save the file again",
    ),
    _bad(
        "bad byte after a byte order mark",
        "marked.csv",
        b"\xef\xbb\xbfon,lot\n2025-03-12,\x80\n",
        "line 2: the byte 0x80 is not UTF-8",
    ),
    _bad(
        "NUL",
        "nul.yaml",
        changed(RECEIPT, "K-12", "K\0-12"),
        "line 4: the invisible character U+0000 stands here; take it out",
    ),
    _bad(
        "text turned round",
        "bidi.csv",
        changed(COUNTS, "op-2", "op\u202e-2"),
        "line 2: the invisible character U+202E stands here; take it out",
    ),
    _bad(
        "tab in YAML",
        "tab.yaml",
        changed(RECEIPT, "  - lot", "\t- lot"),
        "line 6: a tab stands here; write spaces in YAML",
    ),
    _bad(
        "tabs in CSV",
        "counts-tabs.csv",
        COUNTS.replace(",", "\t").encode(),
        "line 1: a tab stands here",
        "separate the cells of a CSV file by comma or semicolon",
    ),
)

_NAMES = (
    _bad(
        "unknown ending",
        "receipt.json",
        b'{"kind": "lot.moved"}',
        "a file of entries ends in .yaml, .yml or .csv; name it so",
    ),
    _bad(
        "no ending",
        "receipt",
        RECEIPT.encode(),
        "a file of entries ends in .yaml, .yml",
    ),
    _bad(
        "unknown sheet",
        "sale-2025-01.csv",
        SALES.encode(),
        '"sale" is not known; did you mean "sales"?',
    ),
    _bad(
        "sheet far from any",
        "new folder/export.csv",
        SALES.encode(),
        '"export" is not known; use one of sales, returns, batches, quotes',
    ),
)

_YAML = (
    _bad("nothing in it", "empty.yaml", b"", "the file holds no entry; write one"),
    _bad("remarks only", "remark.yml", b"# nothing yet\n---\n", "holds no entry"),
    _bad(
        "bracket left open",
        "open.yaml",
        changed(RECEIPT, "lots:", "lots: ["),
        "the file cannot be read as YAML from here on",
        "check colons, dashes, indentation and quotes here and on the line above",
    ),
    _bad(
        "colon in a text",
        "colon.yaml",
        changed(RECEIPT, "K-12", "K-12: second"),
        "line 4: the file cannot be read as YAML from here on "
        "(mapping values are not allowed",
    ),
    _bad(
        "indentation that fits nothing",
        "indent.yaml",
        changed(RECEIPT, "    bags: 181", "   bags: 181"),
        "line 7: the file cannot be read as YAML from here on",
    ),
    _bad(
        "character that YAML excludes",
        "exclude.yaml",
        changed(RECEIPT, "K-12", "K\uffff"),
        "(a character that YAML excludes); check",
    ),
    _bad(
        "field given twice",
        "twice.yaml",
        changed(RECEIPT, "    bags: 181", "    lot: B-032"),
        "line 7: the field lots.0.lot was given before, at twice.yaml, line 6; keep one",
    ),
    _bad(
        "anchor",
        "anchor.yaml",
        changed(RECEIPT, "K-12", "&k K-12"),
        "line 4: an anchor (&) or alias (*) stands here",
        "write the value out",
    ),
    _bad(
        "aliases that multiply",
        "bomb.yaml",
        b"a: &a [x, x]\nb: &b [*a, *a]\nc: &c [*b, *b]\nd: [*c, *c]\n",
        "line 1: an anchor (&) or alias (*) stands here",
    ),
    _bad(
        "tag",
        "tag.yaml",
        changed(RECEIPT, "K-12", "!!python/object/apply:os.getcwd []"),
        "line 4: a tag (!) stands here, but every value is read as text; take the tag out",
    ),
    _bad(
        "merge",
        "merge.yaml",
        changed(RECEIPT, "contract: K-12", "<<: {contract: K-12}"),
        "line 4: a merge (<<) stands here",
        "write the fields out",
    ),
    _bad(
        "list as the name of a field",
        "key.yaml",
        changed(RECEIPT, "contract: K-12", "? [contract]\n: K-12"),
        "line 4: a list or group stands where the name of a field belongs; write a name",
    ),
    _bad(
        "number as the name of a field",
        "number.yaml",
        changed(RECEIPT, "contract: K-12", "12: K-12"),
        'line 4: "12" stands where the name of a field belongs; write a name of letters',
    ),
    _bad(
        "too deep",
        "deep.yaml",
        changed(RECEIPT, "K-12", "[" * 40 + "]" * 40),
        "line 4: more than 16 lists and groups stand inside one another",
        "check the brackets or indentation",
    ),
    _bad(
        "plain text",
        "prose.yaml",
        b"The beans came today.\n",
        'line 1: "The beans came today." stands where an entry belongs; an entry is a '
        "group of fields, so write kind: and on:",
    ),
    _bad(
        "list of lists",
        "nested.yaml",
        b"- - kind: lot.moved\n",
        "line 1: a list stands where an entry belongs",
    ),
    _bad(
        "empty item",
        "item.yaml",
        changed(RECEIPT, "lots:\n", "lots:\n  -\n"),
        "line 6: the item lots.0 of the list is empty; write it, or take its dash",
    ),
    _bad(
        "no kind",
        "kindless.yaml",
        changed(RECEIPT, "kind: shipment.received\n", ""),
        "line 1: field kind of the entry is missing (Kind of the entry",
        "add it",
    ),
    _bad(
        "no date",
        "dateless.yaml",
        changed(RECEIPT, "on: 2025-03-02\n", ""),
        "line 1: field on of the entry is missing (The day it happened in the trade",
    ),
    _bad(
        "date of another order",
        "order.yaml",
        changed(RECEIPT, "2025-03-02", "02.03.2025"),
        'line 2: field on of the entry: "02.03.2025" is not a date; write year-month-day',
    ),
    _bad(
        "day that is not in the calendar",
        "calendar.yaml",
        changed(RECEIPT, "2025-03-02", "2025-02-29"),
        'line 2: field on of the entry: "2025-02-29" is not in the calendar; check month',
    ),
)

_FIELDS = (
    _bad(
        "misspelt kind",
        "kind.yaml",
        changed(RECEIPT, "shipment.received", "shipment.recieved"),
        'line 1: kind "shipment.recieved" is not one that a ledger records; did you mean '
        '"shipment.received"?',
    ),
    _bad(
        "unknown kind",
        "unknown.yaml",
        changed(RECEIPT, "shipment.received", "invoice"),
        'line 1: kind "invoice" is not one that a ledger records; use one of '
        "access.ended,",
    ),
    _bad(
        "misspelt field",
        "field.yaml",
        changed(RECEIPT, "net_landed_kg", "net_landet_kg"),
        'line 9: field lots.0.net_landet_kg of shipment.received ("12450.000") is not '
        'known; did you mean "net_landed_kg"?',
        "line 6: field lots.0.net_landed_kg of shipment.received is missing (Net weight "
        "of the lot as weighed at arrival); add it, or net_landed with its unit",
    ),
    _bad(
        "unknown field",
        "weather.yaml",
        changed(RECEIPT, "K-12", "K-12\nweather: fine"),
        'line 5: field weather of shipment.received ("fine") is not known; use one of '
        "shipment, contract, supplier, site, document, lots",
    ),
    _bad(
        "missing field",
        "missing.yaml",
        changed(CONTRACT, "origin: PE\n", ""),
        "line 1: field origin of contract.signed is missing (Country of origin, ISO "
        "3166-1 alpha-2); add it",
    ),
    _bad(
        "missing price",
        "price.yaml",
        changed(CONTRACT, PRICE, ""),
        "line 1: field price of contract.signed is missing (Price or price basis",
    ),
    _bad(
        "unknown price basis",
        "basis.yaml",
        changed(CONTRACT, "basis: fixed", "basis: fix"),
        'line 8: field price of contract.signed has basis "fix", which is not known; did '
        'you mean "fixed"?',
    ),
    _bad(
        "no price basis",
        "no-basis.yaml",
        changed(CONTRACT, "  basis: fixed\n", ""),
        "line 8: field price of contract.signed does not say its basis",
        "add it",
    ),
    _bad(
        "price in an unknown unit",
        "unit-price.yaml",
        changed(CONTRACT, "USD/t", "USD/bag"),
        'line 12: field price.price.unit of contract.signed: "USD/bag" is not a unit of '
        "price; write a currency and t, kg, lb",
    ),
    _bad(
        "unknown country",
        "country.yaml",
        changed(CONTRACT, "origin: PE", "origin: Peru"),
        'line 5: field origin of contract.signed: "Peru" is not a country; write two',
    ),
    _bad(
        "unknown word",
        "word.yaml",
        changed(CONTRACT, "landed", "arrived"),
        'field weight_basis of contract.signed is "arrived", which is not one of its '
        "words; use one of shipped, landed",
    ),
    _bad(
        "list where one value belongs",
        "list.yaml",
        changed(RECEIPT, "SH-2025-03", "[SH-1, SH-2]"),
        "line 3: field shipment of shipment.received is a list, where one text belongs; "
        "write a single value",
    ),
    _bad(
        "one value where a list belongs",
        "single.yaml",
        changed(CORRECTION, "    lot: LQ-101", "    lots: LQ-101").replace(
            b"lot.written_off", b"hold.placed"
        ),
        "line 9: field lots of hold.placed is",
        '"LQ-101", where a list belongs; write each item on a line of its own after "- "',
    ),
    _bad(
        "one value where a group belongs",
        "group.yaml",
        changed(
            CONTRACT, "  price:\n    amount: 3600.00\n", "  price: 3600.00 USD/t\n"
        ).replace(b"    unit: USD/t\n", b""),
        'line 10: field price.price of contract.signed is "3600.00 USD/t", where a group '
        "of fields belongs; give it amount, unit",
    ),
    _bad(
        "exponent",
        "exponent.yaml",
        changed(RECEIPT, "12450.000", "1.245e4"),
        'line 9: field lots.0.net_landed_kg of shipment.received: "1.245e4" is not a '
        "plain decimal number; write digits with at most one point",
        "without unit, exponent or thousands separator",
    ),
    _bad(
        "separator of thousands",
        "thousands.yaml",
        changed(RECEIPT, "12450.000", "12,450.000"),
        'line 9: field lots.0.net_landed_kg of shipment.received: "12,450.000" is not a',
    ),
    _bad(
        "finer than a gram",
        "gram.yaml",
        changed(RECEIPT, "12450.000", "12450.0004"),
        'line 9: field lots.0.net_landed_kg of shipment.received: "12450.0004" has more '
        "than three decimals; masses are kept to the gram, so round it",
    ),
    _bad(
        "unknown unit",
        "unit.yaml",
        changed(RECEIPT, "27557.8 lb", "27557.8 lbx"),
        'line 8: field lots.0.net_shipped of shipment.received: "lbx" is not a unit of '
        "mass known here; use kg, g, t, lb",
    ),
    _bad(
        "unit with two meanings",
        "ton.yaml",
        changed(RECEIPT, "27557.8 lb", "12.5 ton"),
        'line 8: field lots.0.net_shipped of shipment.received: "ton" is 907 kg, 1000 kg '
        'or 1016 kg; write "short ton", "t" or "long ton"',
    ),
    _bad(
        "figure with and without unit",
        "both.yaml",
        changed(RECEIPT, "    bags: 181", "    net_landed: 1 t"),
        'line 6: field lots.0 of shipment.received: both "net_landed" and '
        '"net_landed_kg" are given; give one of them',
    ),
    _bad(
        "more than a hundred per cent",
        "moisture.yaml",
        changed(RECEIPT, "7.1", "107.1"),
        "line 11: field lots.0.quality.moisture_percent of shipment.received: "
        '"107.1" lies outside 0 to 100',
    ),
    _bad(
        "part of a bag",
        "bags.yaml",
        changed(RECEIPT, "181", "181.5"),
        'line 7: field lots.0.bags of shipment.received: "181.5" is not a whole number; '
        "write digits only",
    ),
    _bad(
        "name with a space",
        "name.yaml",
        changed(RECEIPT, "B-031", "B 031"),
        'line 6: field lots.0.lot of shipment.received: "B 031" is not an identifier; '
        "use 1 to 64 of the characters",
    ),
    _bad(
        "blank text",
        "blank.yaml",
        changed(RECEIPT, "K-12", 'K-12\ndocument: "  "'),
        'line 5: field document of shipment.received: "  " is blank; write something',
    ),
    _bad(
        "text of several lines",
        "lines.yaml",
        changed(RECEIPT, "K-12", "K-12\ndocument: |\n  one\n  two"),
        "line 5: field document of shipment.received:",
        "U+000A; write one line without control characters",
    ),
    _bad(
        "neither contract nor supplier",
        "title.yaml",
        changed(RECEIPT, "contract: K-12\n", ""),
        "line 3: shipment.received: shipment SH-2025-03 must name either its contract or",
    ),
    _bad(
        "check digit of a container",
        "container.yaml",
        changed(DISPATCH, "CSQU3054383", "CSQU3054384"),
        'line 7: field carriage.container of shipment.dispatched: "CSQU3054384" ends in '
        "check digit 4, but the rest gives 3; read the container's door again",
    ),
    _bad(
        "mass not conserved",
        "mass.yaml",
        changed(BATCH, "11.600", "11.500"),
        "line 3: batch.made: batch R-101 takes 200.000 kg but gives 188.400 kg and loses "
        "11.500 kg; inputs must equal outputs plus losses to the gram, so weigh again or "
        "declare the loss of 0.100 kg",
    ),
    _bad(
        "lot into itself",
        "itself.yaml",
        changed(BATCH, "RB-101", "B-031"),
        "lot B-031 stands more than once in batch R-101; add its masses up",
    ),
    _bad(
        "no outputs",
        "outputs.yaml",
        changed(
            BATCH,
            BATCH[BATCH.index("outputs:") : BATCH.index("losses:")],
            "outputs: []\n",
        ),
        "field outputs of batch.made is empty; give at least 1",
    ),
    _bad(
        "wrong field in a replacement",
        "replacement.yaml",
        changed(CORRECTION, "mass_kg: 0.030", "mass: 30"),
        'line 10: field mass of lot.written_off: "30" is not a mass; write a number and',
    ),
    _bad(
        "unknown kind in a replacement",
        "inner-kind.yaml",
        changed(CORRECTION, "lot.written_off", "lot.writen_off"),
        'line 6: kind "lot.writen_off" is not one that a ledger records; did you mean '
        '"lot.written_off"?',
    ),
    _bad(
        "many problems at once",
        "many.yaml",
        b"kind: contract.signed\non: 2025-01-10\ncrop: 2024/25\n",
        "field contract of contract.signed is missing",
        "; and 1 more",
    ),
)

_CSV = (
    _bad("nothing under the header", "sales.csv", b"on,sale\n\n", "holds no entry"),
    _bad(
        "too few cells",
        "sales-few.csv",
        changed(SALES, ",S-202,,,LQ-1,5.000,,,,,,", ",S-202,,,LQ-1,5.000"),
        "row 3: the row has 6 cells, but the header names 12 columns; put a text that "
        "holds the separator in quotes",
    ),
    _bad(
        "too many cells",
        "sales-many.csv",
        changed(SALES, "INV 203", "INV, 203"),
        "row 4: the row has 13 cells, but the header names 12 columns",
    ),
    _bad(
        "unknown column",
        "sales-column.csv",
        changed(SALES, "customer", "custumer"),
        'row 1: column "custumer" is not known for sale.dispatched; did you mean '
        '"customer"?',
    ),
    _bad(
        "column without a name",
        "counts-name.csv",
        changed(COUNTS, "place", ""),
        'row 2: column 5 holds "shelf-4", but has no name in the first row',
    ),
    _bad(
        "column twice",
        "counts-twice.csv",
        changed(COUNTS, "place", "lot"),
        "row 1: column lot stands more than once; keep one of them",
    ),
    _bad(
        "column that is needed",
        "counts-on.csv",
        changed(COUNTS, "on,", "").replace(b"2025-03-12,", b""),
        "row 1: column on is missing; lot.counted cannot be read without it, so add it",
    ),
    _bad(
        "quote left open",
        "counts-quote.csv",
        changed(COUNTS, "shelf-4", '"shelf-4'),
        "row 2: the row cannot be read as CSV",
        "check its quotes: a text in quotes ends with one, and a quote inside is doubled",
    ),
    _bad(
        "text after a quote",
        "counts-after.csv",
        changed(COUNTS, "shelf-4", '"shelf"-4'),
        "row 2: the row cannot be read as CSV",
    ),
    _bad(
        "formula",
        "counts-formula.csv",
        changed(COUNTS, "198 kg", "=A1+B1"),
        'row 2, column found: "=A1+B1" looks like a formula of a spreadsheet; write the '
        "value that it gives",
    ),
    _bad(
        "formula behind a sign",
        "counts-sign.csv",
        changed(COUNTS, "shelf-4", "-2+3+cmd|' /C calc'!A0"),
        "row 2, column place:",
        "looks like a formula of a spreadsheet",
    ),
    _bad(
        "sale without a name",
        "sales-nameless.csv",
        changed(SALES, ",S-202,,,", ",,,,"),
        "row 3, column sale: the cell is blank, but every row says its sale; fill it in",
    ),
    _bad(
        "sale that contradicts itself",
        "sales-two.csv",
        changed(SALES, ",S-202,,,", ",S-202,,other-shop,"),
        'row 3, column customer: "other-shop" contradicts "shop" in '
        "sales-two.csv, row 2, which is of the same entry; correct one of them, or leave",
    ),
    _bad(
        "row without a line",
        "sales-line.csv",
        changed(SALES, ",S-202,,,LQ-1,5.000", ",S-202,,,,"),
        "row 3: the row says nothing of its own; fill in what it is about (lot, mass",
    ),
    _bad(
        "claim without a custody model",
        "sales-claim.csv",
        changed(SALES, ",steady,", ",steady+other,"),
        "row 2: field lines.0.claims.1.custody of sale.dispatched is missing "
        "(Chain-of-custody model",
    ),
    _bad(
        "check digit of a trade item",
        "sales-gtin.csv",
        changed(SALES, "9521234567899", "9521234567890"),
        "row 2, column gtin: field lines.0.gtin of sale.dispatched: "
        '"9521234567890" ends in check digit 0, but the digits before it give 9; read',
    ),
    _bad(
        "trade item number that a spreadsheet rounded",
        "sales-rounded.csv",
        changed(SALES, "9521234567899", "9.52123E+12"),
        'row 2, column gtin: field lines.0.gtin of sale.dispatched: "9.52123E+12" is not '
        "a GTIN; write its 8 or 12 or 13 or 14 digits",
    ),
    _bad(
        "unknown currency",
        "sales-currency.csv",
        changed(SALES, "440.00,GBP", "440.00,QQQ"),
        "row 2, column currency: field value.currency of sale.dispatched: "
        '"QQQ" is not a currency; write three capitals of ISO 4217',
    ),
    _bad(
        "half a penny",
        "sales-penny.csv",
        changed(SALES, "440.00,GBP", "440.005,GBP"),
        "row 2, column value: field value.amount of sale.dispatched: "
        '"440.005" has more than two decimals; the currency has no smaller unit',
    ),
    _bad(
        "decimal comma",
        "counts-comma.csv",
        changed(COUNTS, "198 kg", "198,5 kg")
        .replace(b",", b";")
        .replace(b"198;", b"198,"),
        "row 2, column found: field found of lot.counted:",
        '"198,5 kg" is not a mass; write a number and a unit',
    ),
    _bad(
        "unknown part",
        "batches-part.csv",
        changed(BATCHES, ",W-101,,loss", ",W-101,,waste"),
        'row 4, column part: "waste" is not a part of batch.made; use one of input, '
        "output, loss",
    ),
    _bad(
        "cell that is not of the part",
        "batches-cell.csv",
        changed(BATCHES, "input,RB-101,,", "input,RB-101,bean,"),
        'row 2, column form: field inputs.0.form of batch.made ("bean") is not known; '
        "use one of lot, mass_kg, mass",
    ),
    _bad(
        "batch that loses mass",
        "batches-mass.csv",
        changed(BATCHES, "26.400", "26.300"),
        "row 2, column batch: batch.made: batch W-101 takes 188.400 kg but gives",
        "declare the loss of 0.100 kg",
    ),
    _bad(
        "temperature without a scale",
        "batches-scale.csv",
        changed(BATCHES, "257 F", "257"),
        "row 3, column exit_temperature: field record.temperatures.0.value of batch.made:",
        '"257" is not a temperature; write a number and C or F',
    ),
    _bad(
        "tasting without a note",
        "batches-tasting.csv",
        changed(BATCHES, "0.5: clean", "0.5 clean"),
        "row 3, column tastings: field record.tastings.0.after_hours of batch.made: "
        '"0.5 clean" is not a plain decimal number',
        "field record.tastings.0.note of batch.made is missing (What was found); add it",
    ),
    _bad(
        "quote without a figure",
        "quotes-level.csv",
        changed(QUOTES, "8140.25", ""),
        "row 3: the row says nothing of its own; fill in what it is about (level) or",
    ),
    _bad(
        "day of a quote",
        "quotes-day.csv",
        changed(QUOTES, "2025-01-08", "2025-01-00"),
        'row 2, column on: field quotes.0.on of quote.recorded: "2025-01-00" is not in the',
    ),
    _bad(
        "last day of the quotes",
        "quotes-last.csv",
        changed(QUOTES, "2025-01-09", "9 January"),
        'row 3, column on: field on of the entry: "9 January" is not a date',
    ),
    _bad(
        "payment of nothing",
        "payments-0.csv",
        changed(PAYMENTS, "40253.10", "0.00"),
        "payment.made: 0 was paid; a payment is more than 0, so leave the entry out",
    ),
    _bad(
        "payment without its date",
        "payments-on.csv",
        changed(PAYMENTS, "2025-02-24", ""),
        "row 2, column on: field on of the entry is missing",
    ),
    _bad(
        "duty that nobody owes",
        "payments-duty.csv",
        changed(PAYMENTS, ",price,", ",prize,"),
        'row 2, column towards: field towards of payment.made is "prize", which is not '
        'one of its words; did you mean "price"?',
    ),
    _bad(
        "role left blank between two",
        "parties-role.csv",
        changed(PARTIES, ",customer,", ",customer++payee,"),
        'row 2, column roles: field roles.1 of party.registered is "", which is not one',
    ),
)

BAD_FILES: tuple[BadFile, ...] = (*_ENCODING, *_NAMES, *_YAML, *_FIELDS, *_CSV)
"""Files that cannot be read, or whose entries do not follow their models."""


@dataclass(frozen=True)
class BookCase:
    """A well-written file that the books refuse, once the setup is recorded."""

    about: str
    """Which rule refuses it; unique."""
    setup: tuple[Draft, ...]
    """What is recorded first, after the examples of docs/reference/files.md."""
    file: BadFile
    """The file; its sentence names the rule of the books."""


def _draft(kind: str, on: str, **body: JsonValue) -> Draft:
    return Draft(kind, date.fromisoformat(on), body, "setup")


_LIQUOR = _draft(
    "shipment.received",
    "2025-04-07",
    shipment="UC-1",
    supplier="canefield",
    lots=[
        {
            "lot": "LQ-900",
            "commodity": "cocoa",
            "form": "liquor",
            "net_shipped": "20 t",
            "net_landed": "20 t",
        }
    ],
)
"""Plenty of liquor that nobody certified."""
_SALE_HEADER = "on,sale,document,customer,lot,mass_kg,scheme,custody\n"


def _sale(
    lot: str, mass_kg: str, claim: str = ",", customer: str = "corner-shop"
) -> bytes:
    row = f"2025-04-14,S-301,INV 301,{customer},{lot},{mass_kg},{claim}\n"
    return (_SALE_HEADER + row).encode()


def _refused(
    about: str, name: str, raw: bytes, *said: str, after: Draft | None = None
) -> BookCase:
    setup = () if after is None else (after,)
    return BookCase(about, setup, BadFile(about, name, raw, (name, *said)))


REFUSED_BY_BOOKS: tuple[BookCase, ...] = (
    _refused(
        "unknown lot",
        "sales-unknown.csv",
        _sale("BAR-404", "1.000"),
        "row 2, column lot: ",
        "BAR-404",
    ),
    _refused(
        "unknown customer",
        "sales-customer.csv",
        _sale("BAR-101", "1.000", customer="nobody"),
        "row 2, column customer: ",
        "nobody",
    ),
    _refused(
        "more sold than there is",
        "sales-stock.csv",
        _sale("BAR-101", "500.000"),
        "row 2",
        "lot BAR-101 would be 347.600 kg below zero on 2025-04-14",
    ),
    _refused(
        "more claimed than certified",
        "sales-claim.csv",
        _sale("LQ-900", "15000.000", "steady,mass balance"),
        "row 2",
        "kg of bean equivalent below zero on 2025-04-14; claims may never exceed",
        after=_LIQUOR,
    ),
    _refused(
        "claimed twice under one scheme",
        "sales-double.csv",
        _sale("BAR-101", "1.000", "steady+steady,mass balance+mass balance"),
        "row 2: ",
        "claims steady more than once for lot BAR-101; a kilogram is claimed once",
    ),
    _refused(
        "custody model that the terms do not allow",
        "sales-custody.csv",
        _sale("BAR-101", "1.000", "steady,identity preserved"),
        "row 2",
        "claims identity preserved, but the terms 2025-1 of steady allow segregated, mass",
    ),
    _refused(
        "lot on hold",
        "sales-hold.csv",
        _sale("BAR-101", "1.000"),
        "row 2, column lot: ",
        "may not move on 2025-04-14 under hold H-2; release the hold",
        after=_draft(
            "hold.placed", "2025-04-10", hold="H-2", lots=["BAR-101"], reason="odd"
        ),
    ),
    _refused(
        "closed period",
        "sales-closed.csv",
        _sale("BAR-101", "1.000").replace(b"2025-04-14", b"2025-03-30"),
        "row 2, column on: occurred_on is 2025-03-30, but the books are closed up to "
        "2025-03-31; date it in the open period",
    ),
    _refused(
        "day to come",
        "future.yaml",
        b"kind: lot.moved\non: 2199-01-01\nlot: BAR-101\nto_place: shelf-1\n",
        "line 2: occurred_on is 2199-01-01, but it is recorded on",
    ),
    _refused(
        "unknown contract",
        "contract.yaml",
        changed(RECEIPT, "K-12", "K-404").replace(b"2025-03-02", b"2025-04-14"),
        "line 4: ",
        "K-404",
    ),
    _refused(
        "shipment recorded before",
        "again.yaml",
        changed(RECEIPT, "2025-03-02", "2025-04-14"),
        "SH-2025-03",
    ),
    _refused(
        "bar without a recipe",
        "recipe.yaml",
        changed(BATCH, "form: roasted bean", "form: bar").replace(b"-03-04", b"-04-14"),
        "line 9: ",
        "outputs.0.recipe is missing: lot RB-101 is bar, whose content is counted by its "
        "recipe; name the recipe it was made to",
    ),
    _refused(
        "second figure for one day",
        "quotes-again.csv",
        QUOTES.encode(),
        "east",
        "2025-01-08",
    ),
    _refused(
        "certificate that is not recorded",
        "suspend.yaml",
        b"kind: certificate.suspended\non: 2025-04-14\ncertificate: nowhere-1\n"
        b"from_on: 2025-04-14\nreason: audit overdue\n",
        "line 3: ",
        "nowhere-1",
    ),
    _refused(
        "correction of nothing",
        "correct.yaml",
        changed(CORRECTION, "target: 35", "target: 9999"),
        "line 3: target is 9999, but what entry 9999 recorded does not count",
    ),
)
"""What only the books refuse."""
