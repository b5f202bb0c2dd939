"""A catalogue of phrases: what a sentence is called in another language.

Reports are written in English, figures and names already in their places. A phrase of the
catalogue may hold `{1}`, `{2}` where these stand: it then fits every sentence that has the
same words around them, and what stood there moves to its place in the translation.
"""

import re
from collections.abc import Callable, Mapping
from functools import lru_cache
from typing import Final

_PLACE: Final = re.compile(r"\{(\d+)\}")
_FEWEST_LETTERS: Final = 3
"""A phrase with fewer letters of its own would fit what it does not mean."""
_NARROW: Final = 9
"""In a phrase with fewer letters of its own a place takes one word, or another phrase:
"{1} from {2}" fits figures and days, and not every text that says "from", such as a
reason that was typed.
A colon, as in "lost: {1}", says enough of what follows."""
_ROWS: Final = ((re.compile(r"(?<=\.) "), " "), (re.compile("; "), "; "))
"""What stands between sentences, and between the parts of a list."""
_LONGEST: Final = 2_000


class Phrases:
    """Finds what a text is called in another language."""

    def __init__(
        self,
        catalogue: Mapping[str, str],
        *,
        piece: Callable[[str], str],
        other: Callable[[str], str],
    ) -> None:
        """Take a catalogue.

        Args:
            catalogue: Translations by phrase.
            piece: Says what stands in a place of a phrase, such as a figure or a day.
            other: Says a text that no phrase fits.
        """
        self._exact = dict(catalogue)
        self._piece = piece
        self._other = other
        self._patterns = [
            (_pattern(phrase), _is_narrow(phrase), translation)
            for phrase, translation in sorted(
                catalogue.items(), key=lambda item: -_letters(item[0])
            )
            if _PLACE.search(phrase) and _is_telling(phrase)
        ]
        self.says = lru_cache(maxsize=8192)(self._says)

    def _says(self, text: str) -> str:
        found = self._exact.get(text)
        if found is not None:
            return found
        small = self._exact.get(text[:1].lower() + text[1:])
        if small is not None:
            return small[:1].upper() + small[1:]
        if " " not in text or len(text) > _LONGEST:
            return text
        for pattern, is_narrow, translation in self._patterns:
            fitted = pattern.fullmatch(text)
            if fitted and (not is_narrow or all(map(self._is_small, fitted.groups()))):
                pieces = [self._piece(piece) for piece in fitted.groups()]
                return told(translation, *pieces)
        return self._in_parts(text) or self._other(text)

    def _is_small(self, piece: str) -> bool:
        """Tell whether a text may stand in a phrase that says little by itself."""
        return " " not in piece or piece in self._exact

    def _in_parts(self, text: str) -> str:
        """Return sentences in a row, or names with figures in a row, if all are known."""
        for part_of, between in _ROWS:
            parts = part_of.split(text)
            said = [self._part(part) for part in parts] if len(parts) > 1 else []
            if said and None not in said:
                return between.join(filter(None, said))
        return ""

    def _part(self, text: str) -> str | None:
        said = self.says(text)
        if said != text:
            return said
        name, colon, piece = text.partition(": ")
        known = self.says(name)
        return f"{known}: {self._piece(piece)}" if colon and known != name else None


def told(phrase: str, *pieces: str) -> str:
    """Return a phrase with `{1}`, `{2}` … filled in."""
    return _PLACE.sub(lambda place: pieces[int(place[1]) - 1], phrase)


def places_of(phrase: str) -> list[str]:
    """Return the places that a phrase holds, in order of their number."""
    return sorted(_PLACE.findall(phrase), key=int)


def _is_telling(phrase: str) -> bool:
    """Tell whether a phrase has enough of its own to fit only what it means."""
    fewest = _FEWEST_LETTERS if phrase.startswith("{") else _FEWEST_LETTERS - 1
    return _letters(phrase) >= fewest


def _letters(phrase: str) -> int:
    return sum(map(str.isalpha, _PLACE.sub("", phrase)))


def _is_narrow(phrase: str) -> bool:
    return _letters(phrase) < _NARROW and ":" not in phrase


def _pattern(phrase: str) -> re.Pattern[str]:
    literals = _PLACE.split(phrase)[::2]
    return re.compile("(.*?)".join(map(re.escape, literals)), re.DOTALL)
