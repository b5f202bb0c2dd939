"""The reader's language: words, days and figures, on pages and on statements."""

import re
from datetime import date

import pytest
from babel.numbers import get_decimal_symbol

from ledger.reports.tongue import tongue_of
from ledger.trade.role import Role
from tests.web.conftest import Visit

PERU, SPAIN, BRITAIN = "es-PE,es;q=0.9", "es-ES", "en-GB"


@pytest.mark.parametrize(
    ("wishes", "language", "locale"),
    [
        ("", "en", "en_GB"),
        ("en-US,en;q=0.8", "en", "en_US"),
        (PERU, "es", "es_PE"),
        ("de-CH,fr;q=0.5", "en", "en_GB"),
        ("xx-not-a-locale;;,=,", "en", "en_GB"),
        ("de, es-419", "es", "es_419"),
    ],
)
def test_the_browser_s_wishes_are_heard(
    wishes: str, language: str, locale: str
) -> None:
    """RFC 9110, 12.5.4; the first language that there is a catalogue of wins."""
    tongue = tongue_of(wishes)

    assert (tongue.language, str(tongue.locale)) == (language, locale)


def test_what_was_chosen_on_a_page_wins() -> None:
    assert tongue_of(BRITAIN, "es").language == "es"
    assert tongue_of(PERU, "tlh").language == "es"


def test_days_are_written_as_the_cldr_says() -> None:
    """Unicode CLDR, by way of Babel: medium dates."""
    assert tongue_of(BRITAIN).day(date(2026, 3, 2)) == "2 Mar 2026"
    assert tongue_of(SPAIN).day(date(2026, 3, 2)) == "2 mar 2026"


@pytest.mark.parametrize("wishes", [PERU, SPAIN, BRITAIN, "en-US"])
@pytest.mark.parametrize("figure", ["1250.500", "-0.001", "12345678.900", "7", "0.000"])
def test_no_figure_is_mistaken_for_a_thousand_times_more(
    wishes: str, figure: str
) -> None:
    """Whole digits are parted by a space, so that the one sign is the decimal one."""
    tongue = tongue_of(wishes)
    written = tongue.figure(figure)

    sign = get_decimal_symbol(tongue.locale)
    assert re.fullmatch(rf"-?\d{{1,3}}(\u202f\d{{3}})*({re.escape(sign)}\d+)?", written)
    assert written.replace("\u202f", "").replace(sign, ".") == figure


def test_a_page_in_spanish_says_nothing_in_english(reader: Visit) -> None:
    headers = {"accept-language": PERU}
    page = (
        reader(Role.COMPLIANCE).get("/balance?as_of=2026-09-30", headers=headers).text
    )

    assert '<html lang="es">' in page
    assert "Balance de masas" in page
    assert "Balance de masas, kg de equivalente en grano hasta 30 set. 2026" in page
    for english in (
        "Mass balance",
        "Opening",
        "Received",
        "Claimed",
        "Show<",
        "Sign out",
    ):
        assert english not in page


def test_a_recall_in_spanish_defers_to_the_food_authority(reader: Visit) -> None:
    page = reader(Role.COMPLIANCE).get(
        "/recall?of=PE-25-04&as_of=2026-09-30", headers={"accept-language": SPAIN}
    )

    assert "avise de inmediato a la autoridad alimentaria competente" in page.text


def test_sentences_in_a_row_are_each_said_and_a_long_row_too() -> None:
    row = "Mean 96.5, lower limit 94.5, upper limit 98.5. Outside: none."
    said = "Media 96.5, límite inferior 94.5, límite superior 98.5. Fuera: ninguno."

    assert tongue_of(PERU).says(row) == said
    assert tongue_of(PERU).says(" ".join([row] * 100)) == " ".join([said] * 100)


def test_a_row_with_one_unknown_sentence_is_left_but_for_its_figures() -> None:
    """A row half in one language and half in another would be hard to read."""
    row = "Mean 1.5 of it, weighed by hand. Outside: 2.5 kg."

    assert (
        tongue_of(SPAIN).says(row)
        == "Mean 1.5 of it, weighed by hand. Outside: 2,5 kg."
    )


def test_names_in_a_list_are_said_where_all_are_known() -> None:
    says = tongue_of(PERU).says

    assert says("cust-01 (entry 7), cust-02 (entry 8)") == (
        "cust-01 (entrada 7), cust-02 (entrada 8)"
    )
    assert says("beans, wet, from the north") == "beans, wet, from the north"


def test_what_says_little_by_itself_needs_a_day_behind_it() -> None:
    says = tongue_of(PERU).says

    assert says("beans-usd on 2026-01-12") == "beans-usd, 12 ene. 2026"
    assert says("bags on pallets") == "bags on pallets"


def test_a_minute_in_a_sentence_is_written_as_the_reader_does() -> None:
    assert tongue_of(PERU).piece("2026-03-02 09:30") == "2 mar. 2026, 09:30"
    assert tongue_of(BRITAIN).piece("2026-03-02 09:30") == "2 Mar 2026, 09:30"


def test_the_same_figures_stand_on_a_page_in_every_language(reader: Visit) -> None:
    path = "/balance?as_of=2026-09-30"

    def cells(wishes: str) -> list[str]:
        headers = {"accept-language": wishes}
        page = reader(Role.COMPLIANCE).get(path, headers=headers).text
        return re.findall(r'class="figure" data-is="([^"]*)"', page)

    assert cells(PERU) == cells(BRITAIN) != []


def test_a_sheet_is_foreseen_in_spanish_with_an_example_that_can_be_typed(
    reader: Visit,
) -> None:
    """What is typed parts decimals by a point, whatever the pages part them by."""
    visit = reader(Role.FLOOR)

    def told(mass: str) -> str:
        typed = {"on": "2026-10-01", "batch": "B", "inputs.0.lot": "DO-26-01"}
        return visit.post(
            "/batches/new/roast/preview",
            data={"proof": visit.proof, **typed, "inputs.0.mass": mass},
            headers={"accept-language": SPAIN, "x-part": "foresight"},
        ).text

    assert "<dt>Entra</dt><dd>9,500 kg</dd>" in told("9.5")
    assert "1250.5 kg" in told("9,5 kg")


def test_a_drawing_parts_decimals_as_the_page_around_it_does() -> None:
    tongue = tongue_of(SPAIN)

    assert tongue.drawn("46\u202f906.20") == "46\u202f906,20"
    assert tongue.drawn("0.00") == "0,00"
    assert tongue.drawn("K-05.1") == "K-05.1"
    assert tongue.drawn("price") == "precio"
    assert tongue_of(BRITAIN).drawn("0.00") == "0.00"


def test_how_sales_were_drawn_is_said_in_words(reader: Visit) -> None:
    page = reader(Role.COMPLIANCE).get(
        "/samples?rule=random&count=5&seed=dice-3-4-1",
        headers={"accept-language": SPAIN},
    )

    assert "al azar, semilla dice-3-4-1, 5 como máximo, cabeza del árbol" in page.text
