"""A catalogue of phrases: what a sentence is called in another language.

Reports are written in English, figures and names already in their places. A phrase of the
catalogue may hold `{1}`, `{2}` where these stand: it then fits every sentence that has the
same words around them, and what stood there moves to its place in the translation.
"""

import re
from collections.abc import Callable, Mapping, Sequence
from functools import lru_cache
from typing import Final

Says = Callable[[str], str]
"""Says words in the reader's language."""
_PLACE: Final = re.compile(r"\{(\d+)\}")
_FEWEST_LETTERS: Final = 3
"""A phrase with fewer letters of its own would fit what it does not mean."""
_NARROW: Final = 9
"""In a phrase with fewer letters of its own a place takes one word, or another phrase:
"{1} from {2}" fits figures and days, and not every text that says "from", such as a
reason that was typed.
A colon, as in "lost: {1}", says enough of what follows."""
_DATED: Final = "{1} on {2}"
"""Says less than any other, and is of use: what it ends with must be a day."""
_DAY: Final = re.compile(r"\d{4}-\d{2}-\d{2}")
_SENTENCES: Final = (re.compile(r"(?<=\.) "), " ")
"""What stands between sentences."""
_LISTS: Final = ((re.compile("; "), "; "), (re.compile(", "), ", "))
"""What stands between the parts of a list."""
_LONGEST: Final = 2_000
"""A longer text fits no phrase; of many sentences each is looked at by itself."""


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
            (_pattern(phrase), _fits(phrase, catalogue), translation)
            for phrase, translation in sorted(
                catalogue.items(), key=lambda item: -_letters(item[0])
            )
            if _PLACE.search(phrase) and (_is_telling(phrase) or phrase == _DATED)
        ]
        self.says = lru_cache(maxsize=8192)(self._says)
        self._known = lru_cache(maxsize=8192)(self._find)

    def _says(self, text: str) -> str:
        known = self._known(text)
        if known is not None:
            return known
        return self._other(text) if " " in text and len(text) <= _LONGEST else text

    def _find(self, text: str) -> str | None:
        """Return what a text is called, or None where no phrase fits it."""
        found = self._exact.get(text)
        if found is not None:
            return found
        small = self._exact.get(text[:1].lower() + text[1:])
        if small is not None:
            return small[:1].upper() + small[1:]
        if " " not in text:
            return None
        # A place takes all that follows: the first sentence would swallow the others.
        sentences = self._in_parts(text, *_SENTENCES)
        if sentences or len(text) > _LONGEST:
            return sentences
        for pattern, fits, translation in self._patterns:
            fitted = pattern.fullmatch(text)
            if fitted and fits(fitted.groups()):
                pieces = [self._piece(piece) for piece in fitted.groups()]
                return told(translation, *pieces)
        lists = (self._in_parts(text, *row) for row in _LISTS)
        return next(filter(None, lists), None)

    def _in_parts(
        self, text: str, part_of: re.Pattern[str], between: str
    ) -> str | None:
        """Return sentences in a row, or names with figures in a row, if all are known."""
        parts = part_of.split(text)
        said = [self._part(part) for part in parts] if len(parts) > 1 else []
        return None if not said or None in said else between.join(filter(None, said))

    def _part(self, text: str) -> str | None:
        said = self._known(text)
        if said is not None:
            return said
        name, colon, piece = text.partition(": ")
        known = self._known(name) if colon else None
        return None if known is None else f"{known}: {self._piece(piece)}"


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


def _fits(phrase: str, catalogue: Mapping[str, str]) -> Callable[[Sequence[str]], bool]:
    """Return what tells whether texts may stand in the places of a phrase."""

    def are_small(pieces: Sequence[str]) -> bool:
        return all(" " not in piece or piece in catalogue for piece in pieces)

    def are_dated(pieces: Sequence[str]) -> bool:
        return are_small(pieces) and _DAY.fullmatch(pieces[-1]) is not None

    if phrase == _DATED:
        return are_dated
    return are_small if _is_narrow(phrase) else lambda _: True


def _letters(phrase: str) -> int:
    return sum(map(str.isalpha, _PLACE.sub("", phrase)))


def _is_narrow(phrase: str) -> bool:
    return _letters(phrase) < _NARROW and ":" not in phrase


def _pattern(phrase: str) -> re.Pattern[str]:
    literals = _PLACE.split(phrase)[::2]
    return re.compile("(.*?)".join(map(re.escape, literals)), re.DOTALL)
