"""Everything that pages and reports say stands in the catalogue, in Spanish too."""

import pytest

from ledger.reports.phrases import places_of
from ledger.reports.tongue import LANGUAGES as SPOKEN
from tests.docs.words import LANGUAGES, LOCALES, catalogue_text, read_catalogue


def test_there_is_a_catalogue_of_every_language_but_the_code_s_own() -> None:
    assert {"en", *LANGUAGES} == set(SPOKEN)


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_catalogue_holds_what_is_said_and_nothing_else(language: str) -> None:
    kept = (LOCALES / f"{language}.po").read_bytes()

    assert kept == catalogue_text(language), "run `make words` and translate"


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_phrase_is_translated_with_all_its_places(language: str) -> None:
    phrases = [one for one in read_catalogue(language) if one.id]

    assert [one.id for one in phrases if not one.string] == []
    assert [
        (one.id, one.string)
        for one in phrases
        if sorted(places_of(str(one.id))) != sorted(places_of(str(one.string)))
    ] == []
