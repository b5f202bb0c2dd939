"""No English is left over on a page that a reader asks for in Spanish.

Every page is opened as each role, and what it says, shown or only told to those who do not
see it, is searched for words that no Spanish sentence has. What may stand there in English
is named below, with the reason.
"""

import re
from collections.abc import Callable, Iterator, Mapping
from html.parser import HTMLParser
from typing import Final

import pytest

from ledger.desk.demonstration_people import PEOPLE
from ledger.reports import tongue as tongues
from ledger.trade.role import Role
from ledger.web.office import Office
from tests.web.conftest import Visit, Visitor, visit_as
from tests.web.crawl import crawl
from tests.web.recorded import words_in

PERU: Final = {"accept-language": "es-PE,es;q=0.9"}
ENGLISH: Final = re.compile(
    r"(?<![\w/.-])(?:"
    "about|after|all|and|any|are|as|at|back|because|been|before|below|"
    "between|bought|by|each|entry|every|for|forward|from|had|have|how|if|"
    "in|into|is|it|its|kept|left|less|lot|lots|mean|more|most|must|"
    "none|not|nothing|of|off|on|or|other|out|outside|over|own|since|"
    "sold|such|than|that|the|their|them|then|there|these|they|this|"
    "through|to|together|under|until|up|was|were|what|when|where|which|"
    "who|why|will|with|without|yields|you|your"
    r")(?![\w/-]|\.\w)",
    re.IGNORECASE,
)
"""Small words of English, and some of the trade, that are none in Spanish.

A part of a code, such as IN-09, or of the name of a kind, such as batch.made, is no word.
"""
PAGES_IN_ENGLISH: Final = {
    "/look": "the page that packs carry; it is the same file for everybody",
}
LEFT_ON_PURPOSE: Final = {
    r"\d+ bags of [\d.]+ (?:lb|kg)": "what is typed into a field, and understood as it is",
    r"Las clases: .*": "what is typed into a field, and understood as it is",
    r"write the bank's reference here": "stands so in the entry that is to be filled in",
    r"NIST/SEMATECH e-Handbook of .*Charts": "title of a published source",
    r"The claim under .* does not count .*": "the books warn in English, as they refuse",
    r"record\.\S+ of batch .*": "the books warn in English, as they refuse",
}
"""What stays English, as patterns, and why. So do refusals: their pages are left out."""
FEWEST_WORDS: Final = 3
"""A recorded text with fewer may be a word of ours, which must be said in Spanish."""
SHOWN_BY: Final = frozenset({"aria-label", "alt", "placeholder", "title"})
NOT_READ: Final = frozenset({"script", "style", "code", "pre", "textarea"})


class _Told(HTMLParser):
    """Gathers what a page says: its texts, and what its parts are called."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.texts: list[str] = []
        self._hidden = 0
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._hidden += tag in NOT_READ
        self.texts += [value for name, value in attrs if value and name in SHOWN_BY]

    def handle_endtag(self, tag: str) -> None:
        self._hidden -= tag in NOT_READ

    def handle_data(self, data: str) -> None:
        if not self._hidden:
            self.texts.append(" ".join(data.split()))


@pytest.fixture(scope="module")
def without_data(read_office: Office) -> Callable[[str], str]:
    """Takes out of a text what people wrote: names, notes, reasons, sources."""
    with read_office.rows() as rows:
        written = words_in(rows) | {shown for _, shown, _, _ in PEOPLE}
    ours = tongues.tongue_of(PERU["accept-language"]).catalogue
    data = [
        one for one in written if len(one.split()) >= FEWEST_WORDS and one not in ours
    ]
    pattern = re.compile("|".join(map(re.escape, sorted(data, key=len, reverse=True))))
    return lambda text: pattern.sub("", text)


@pytest.fixture(scope="module")
def told(read_office: Office) -> Mapping[str, str]:
    """Every text of the pages in Spanish, with a page that says it."""
    found: dict[str, str] = {}
    for role in Role:
        for address, page in pages_of(visit_as(read_office, role)):
            assert '<html lang="es">' in page, address
            found |= dict.fromkeys(_Told(page).texts, address)
    return found


def pages_of(visitor: Visitor) -> Iterator[tuple[str, str]]:
    """Yield the pages that somebody who reads Spanish may open."""
    visitor.headers.update(PERU)
    for address, answer in crawl(visitor, per_route=1):
        is_page = "html" in answer.headers.get("content-type", "")
        if is_page and answer.is_success and address not in PAGES_IN_ENGLISH:
            yield address, answer.text


def left_over(text: str, without_data: Callable[[str], str]) -> bool:
    """Tell whether a text has English in it that nobody decided on."""
    if not ENGLISH.search(text):
        return False
    rest = without_data(text)
    for pattern in LEFT_ON_PURPOSE:
        rest = re.sub(pattern, "", rest)
    return ENGLISH.search(rest) is not None


def test_no_page_in_spanish_says_anything_in_english(
    told: Mapping[str, str], without_data: Callable[[str], str]
) -> None:
    assert len(set(told.values())) > 50
    assert {
        text: page for text, page in told.items() if left_over(text, without_data)
    } == {}


def test_all_that_is_left_on_purpose_is_there(told: Mapping[str, str]) -> None:
    together = "\n".join(told)

    assert [one for one in LEFT_ON_PURPOSE if not re.search(one, together)] == []


@pytest.fixture
def unlearn(monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[[str], None]]:
    """Takes a phrase out of the catalogue, as if nobody had translated it."""

    def _unlearn(phrase: str) -> None:
        whole = dict(tongues.tongue_of("es").catalogue)
        del whole[phrase]
        monkeypatch.setattr(tongues, "_catalogue", lambda _: whole)
        tongues.tongue_of.cache_clear()

    yield _unlearn
    tongues.tongue_of.cache_clear()


@pytest.mark.parametrize(
    ("phrase", "address"),
    [
        ("{1} {2} since {3}", "/floor"),
        ("{1} to {2}", "/batches/new/temper"),
        ("{1} (entry {2})", "/recall?of=lot:PE-25-04"),
        ("From {1} to {2}: {3} kg.", "/flow"),
        ("Outside: {1}.", "/yields/roast"),
        ("Trace of {1} back to growers: {2} kg", "/trace?of=lot:C66-30"),
        ("sold {1}", "/trace?of=lot:BU-03"),
        ("Not sold: {1}.", "/trace?of=lot:BU-03"),
    ],
)
def test_a_phrase_that_nobody_translated_is_found(
    reader: Visit,
    without_data: Callable[[str], str],
    unlearn: Callable[[str], None],
    phrase: str,
    address: str,
) -> None:
    def found() -> list[str]:
        page = reader(Role.COMPLIANCE).get(address, headers=PERU).text
        return [one for one in _Told(page).texts if left_over(one, without_data)]

    assert found() == []
    unlearn(phrase)
    assert found() != []
