"""ledger.intake.reading: good files become drafts, bad ones one clear sentence."""

from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.books.effect import Recorded
from ledger.books.finding import EntryRefusedError
from ledger.books.judge import judge
from ledger.books.memory import MemoryShelf
from ledger.errors import InputError, LedgerError
from ledger.intake.draft import Draft, in_its_place, parse_draft
from ledger.intake.reading import is_readable, read_file
from ledger.trade.record import Record
from tests.intake import bad_files
from tests.intake.bad_files import BAD_FILES, REFUSED_BY_BOOKS, BadFile, BookCase
from tests.intake.reference import examples_of_kinds

RECORDED_AT = datetime(2026, 3, 1, 12, tzinfo=UTC)


def records_of(name: str, raw: bytes) -> list[Record]:
    return [parse_draft(draft) for draft in read_file(name, raw)]


@pytest.mark.parametrize("bad", BAD_FILES, ids=lambda bad: bad.about)
def test_a_bad_file_gets_one_sentence_with_place_value_rule_and_way_out(
    bad: BadFile,
) -> None:
    with pytest.raises(InputError) as refusal:
        records_of(bad.name, bad.raw)

    sentence = str(refusal.value)
    assert [part for part in bad.said if part not in sentence] == []
    assert sentence.startswith(bad.name)
    assert sentence.isprintable()


def test_the_bad_files_are_distinct_and_many() -> None:
    assert len({bad.about for bad in BAD_FILES}) == len(BAD_FILES)
    assert len({(bad.name, bad.raw) for bad in BAD_FILES}) == len(BAD_FILES)
    assert len(BAD_FILES) >= 45


class Books:
    """The books after the examples of the reference page."""

    def __init__(self) -> None:
        self.shelf = MemoryShelf()
        self.seq = 0
        for name, raw in examples_of_kinds():
            self.let_in(read_file(name, raw))

    def let_in(self, drafts: tuple[Draft, ...]) -> None:
        for draft in drafts:
            record = parse_draft(draft)
            with in_its_place(draft):
                judge(
                    self.shelf,
                    Recorded(
                        seq=self.seq,
                        slot=self.seq,
                        occurred_on=draft.occurred_on,
                        recorded_at=RECORDED_AT,
                        recorded_by="certifier-1",
                        record=record,
                    ),
                )
            self.seq += 1


@pytest.mark.parametrize("case", REFUSED_BY_BOOKS, ids=lambda case: case.about)
def test_what_the_books_refuse_is_told_with_its_place(case: BookCase) -> None:
    books = Books()
    books.let_in(case.setup)
    drafts = read_file(case.file.name, case.file.raw)

    with pytest.raises(EntryRefusedError) as refusal:
        books.let_in(drafts)

    sentence = str(refusal.value)
    assert [part for part in case.file.said if part not in sentence] == []


GOOD_FILES = {
    "receipt.yaml": bad_files.RECEIPT,
    "contract.yaml": bad_files.CONTRACT,
    "batch.yml": bad_files.BATCH,
    "dispatch.yaml": bad_files.DISPATCH,
    "correction.yaml": bad_files.CORRECTION,
    "sales-1.csv": bad_files.SALES,
    "batches.csv": bad_files.BATCHES,
    "quotes-1.csv": bad_files.QUOTES,
    "payments.csv": bad_files.PAYMENTS,
    "counts.csv": bad_files.COUNTS,
    "parties.csv": bad_files.PARTIES,
}


@pytest.mark.parametrize("name", GOOD_FILES)
def test_the_files_that_are_spoilt_are_good_before(name: str) -> None:
    assert records_of(name, GOOD_FILES[name].encode()) != []


@pytest.mark.parametrize("name", ["a.yaml", "b/a.YML", "sales.csv", "SALES.CSV"])
def test_readable_files_are_told_by_the_end_of_their_name(name: str) -> None:
    assert is_readable(name)


@pytest.mark.parametrize("name", ["yaml", "a.json", "a.yaml.bak", ""])
def test_other_files_are_not_readable(name: str) -> None:
    assert not is_readable(name)


def test_a_name_that_cannot_be_printed_is_shown_escaped() -> None:
    with pytest.raises(InputError, match=r'"two\\nlines.txt": a file of entries ends'):
        read_file("two\nlines.txt", b"")


NAMES = st.sampled_from([*GOOD_FILES, "rates.csv", "returns.csv", "other.csv", "x"])


def refused_or_read(name: str, raw: bytes) -> None:
    try:
        records_of(name, raw)
    except LedgerError as error:
        assert len(str(error).splitlines()) == 1  # noqa: PT017 - either way is right


@given(NAMES, st.binary(max_size=200))
def test_random_bytes_raise_nothing_but_our_errors(name: str, raw: bytes) -> None:
    refused_or_read(name, raw)


@given(NAMES, st.text(max_size=200))
def test_random_text_raises_nothing_but_our_errors(name: str, text: str) -> None:
    refused_or_read(name, text.encode("utf-8", "surrogatepass"))


MARKS = (*":[{]}|#,;+=*\n\"'", "- ", "  ", "? ", "---\n", "&a")
WORDS = ("1e5", "null", "on", '"\\ud800"', '"\\Uffffffff"', "%YAML 1.9")
PIECES = st.text(max_size=5) | st.sampled_from((*MARKS, *WORDS))


@given(st.data())
def test_random_edits_of_good_files_raise_nothing_but_our_errors(
    data: st.DataObject,
) -> None:
    name = data.draw(st.sampled_from(list(GOOD_FILES)))
    text = GOOD_FILES[name]
    for _ in range(data.draw(st.integers(1, 4))):
        start = data.draw(st.integers(0, len(text)))
        end = data.draw(st.integers(start, min(len(text), start + 12)))
        text = text[:start] + data.draw(PIECES) + text[end:]

    refused_or_read(name, text.encode("utf-8", "surrogatepass"))
