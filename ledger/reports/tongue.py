"""The reader's language, and how the reader writes numbers and days.

Words come from a catalogue of the language; days and the decimal sign from the Unicode
CLDR by way of Babel, for the whole locale: Spain writes 0,5 where Peru writes 0.5.
Thousands are parted by a narrow space in every language, so that a point or a comma only
ever parts decimals and nobody takes 1250 kilograms for one and a quarter (BIPM, The
International System of Units, 9th edition, 5.4.4: neither dots nor commas are inserted in
the spaces between groups of three digits).
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import cached_property, lru_cache
from importlib.resources import files
from typing import Final

from babel import Locale, UnknownLocaleError, negotiate_locale
from babel.dates import format_date, format_datetime
from babel.messages.pofile import read_po
from babel.numbers import get_decimal_symbol

from ledger.errors import InputError
from ledger.reports.figures import grouped
from ledger.reports.phrases import Phrases, told
from ledger.reports.tables import PLAIN_NUMBER, Column

LANGUAGES: Final[Mapping[str, str]] = {"en": "English", "es": "Español"}
"""Languages that there is a catalogue of, and what each calls itself."""
_ISO_DAY: Final = re.compile(r"\d{4}-\d{2}-\d{2}")
_ISO_MINUTE: Final = re.compile(rf"({_ISO_DAY.pattern}) (\d{{2}}:\d{{2}})")
_MEASURE: Final = re.compile(
    r"(?<![\w.,])(-?[0-9\u202f]*[0-9])\.([0-9]+)"
    r"(?=…?[ \u00a0](?:kg|%|t|[A-Z]{3})(?![\w-]))"
)
"""A figure with decimals and its unit behind it, inside a text."""
_DRAWN_FIGURE: Final = re.compile(r"-?[0-9\u202f]*[0-9]\.[0-9]+")
_MOST_WISHES: Final = 8


@dataclass(frozen=True)
class Tongue:
    """How to speak to a reader.

    Attributes:
        language: Language of the words, a key of `LANGUAGES`.
        locale: Locale of numbers and days.
        catalogue: Translations by phrase (`ledger.reports.phrases`).
        is_plain: Whether days stay as ISO 8601 writes them and figures as they are
            reckoned, as at a terminal.
    """

    language: str
    locale: Locale
    catalogue: Mapping[str, str] = field(repr=False)
    is_plain: bool = False

    def says(self, text: str) -> str:
        """Return a text in the reader's language; unchanged where none is known."""
        return self._phrases.says(text)

    @cached_property
    def _phrases(self) -> Phrases:
        return Phrases(self.catalogue, piece=self.piece, other=self._measures)

    def piece(self, text: str) -> str:
        """Return what stands inside a sentence: a figure, a day or minute, or words."""
        if _ISO_DAY.fullmatch(text):
            return self.day(date.fromisoformat(text))
        if minute := _ISO_MINUTE.fullmatch(text):
            return f"{self.piece(minute[1])}, {minute[2]}"
        return self.figure(text) if PLAIN_NUMBER.fullmatch(text) else self.says(text)

    def day(self, on: date | None) -> str:
        """Return a day in the reader's way; nothing for none."""
        if on is not None and self.is_plain:
            return on.isoformat()
        return "" if on is None else format_date(on, "medium", locale=self.locale)

    def moment(self, at: datetime) -> str:
        """Return a moment in UTC in the reader's way."""
        return f"{format_datetime(at, 'medium', locale=self.locale)} UTC"

    def figure(self, text: str) -> str:
        """Return a plain number in the reader's way, with all its decimals.

        What is not a plain number comes back as it is.
        """
        if self.is_plain or not PLAIN_NUMBER.fullmatch(text):
            return text
        return grouped(text.removeprefix("+")).replace(".", self.decimal_sign)

    @cached_property
    def decimal_sign(self) -> str:
        """What parts the decimals of a figure from the rest: a point or a comma."""
        return str(get_decimal_symbol(self.locale))

    @property
    def example(self) -> str:
        """How figures are written here, by one that could be misread."""
        said = self.says(
            "Figures are written like this: {1} kg is one thousand two hundred and fifty "
            "kilograms and a half."
        )
        return told(said, self.figure("1250.500"))

    def _measures(self, text: str) -> str:
        """Return a text that no phrase fits, its figures in the reader's way."""
        if self.decimal_sign == ".":
            return text
        return _MEASURE.sub(rf"\1{self.decimal_sign}\2", text)

    def drawn(self, text: str) -> str:
        """Return what stands in a drawing, where a bare figure is grouped already."""
        if _DRAWN_FIGURE.fullmatch(text) and not self.is_plain:
            return text.replace(".", self.decimal_sign)
        return self.says(text)

    def label(self, column: Column) -> str:
        """Return the heading of a column with its unit."""
        heading = self.says(column.heading)
        return f"{heading}, {column.unit}" if column.unit else heading

    def cell(self, column: Column, text: str) -> str:
        """Return a cell of a table in the reader's way."""
        if column.is_figure:
            return self.figure(text)
        return self.piece(text) if _ISO_DAY.fullmatch(text) else self.says(text)


PLAIN: Final = Tongue("en", Locale("en", "GB"), {}, is_plain=True)
"""How to speak where no reader is known, such as at a terminal."""


def written_for(wish: str, origin: str) -> Tongue:
    """Return how to write to a grower.

    Args:
        wish: A language of ours, such as "es", or a locale of it, such as "es-PE".
        origin: Country of the grower, ISO 3166-1 alpha-2: its way of writing figures
            and days counts where the wish names no country and the language is
            written there (Unicode CLDR).

    Raises:
        InputError: There is no catalogue of the language.
    """
    language = wish.replace("_", "-").partition("-")[0].lower()
    if language not in LANGUAGES:
        raise InputError(
            f"language is {wish!r}; statements are written in {', '.join(LANGUAGES)}, "
            "or as in a country, such as es-PE"
        )
    at_home = f"{language}-{origin}" if language != "en" else ""
    return tongue_of(f"{wish if '-' in wish or '_' in wish else at_home},{language}")


@lru_cache(maxsize=64)
def tongue_of(wishes: str, chosen: str = "") -> Tongue:
    """Return how to speak to a reader.

    Args:
        wishes: What the browser says in Accept-Language (RFC 9110, 12.5.4).
        chosen: Language that the reader chose on a page; wins where it is known.
    """
    wished = [part.partition(";")[0].strip() for part in wishes.split(",")]
    codes = [code.replace("-", "_") for code in wished[:_MOST_WISHES] if code]
    language = chosen if chosen in LANGUAGES else ""
    if not language:
        language = negotiate_locale([c[:2] for c in codes], list(LANGUAGES)) or "en"
    locale = next(
        (one for code in codes if (one := _locale(code)) and one.language == language),
        None,
    )
    # English of nowhere in particular would write days as the United States do.
    fallback = Locale("en", "GB") if language == "en" else Locale(language)
    return Tongue(language, locale or fallback, _catalogue(language))


def _locale(code: str) -> Locale | None:
    try:
        found = Locale.parse(code)
    except (ValueError, UnknownLocaleError, TypeError):
        return None
    return found if found.territory or found.language != "en" else None


@lru_cache(maxsize=8)
def _catalogue(language: str) -> Mapping[str, str]:
    file = files("ledger.reports") / "locale" / f"{language}.po"
    if not file.is_file():
        return {}
    with file.open("rb") as lines:
        read = read_po(lines, locale=language)
    return {str(one.id): str(one.string) for one in read if one.id and one.string}
