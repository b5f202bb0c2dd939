"""A tank drawn with what is in it: a layer for each lot bought, as high as its share.

The content is well mixed, so layers show shares and not places. They differ in grey and
are named beside the tank, so that nothing hangs on a shade.
"""

from collections.abc import Sequence
from fractions import Fraction
from itertools import cycle
from typing import Final

from ledger.books.tank import Portion, Tank
from ledger.reports.figures import grouped, kg_text, mass_words, share_words
from ledger.reports.phrases import Says, told
from ledger.reports.svg import Drawing, Sheet

WIDTH: Final = 3500
_MOST_LAYERS: Final = 7
_LEAST_SHOWN: Final = Fraction(1, 1000)
_LEFT, _RIGHT, _TOP, _HEIGHT = 60, 760, 640, 1900
_BOTTOM: Final = _TOP + _HEIGHT
_NAMES: Final = 1060
_APART: Final = 350
_THINNEST: Final = 14
_GREYS: Final = ("#cfcfcf", "#ffffff", "#9a9a9a", "#e6e6e6", "#b4b4b4")
_SMALL: Final = 125
_LONGEST: Final = 20


def tank_picture(tank: Tank, says: Says = str) -> Drawing:
    """Return a tank as a drawing, the same bytes for the same content.

    Args:
        tank: The tank.
        says: Says words in the reader's language.
    """
    layers = _layers(tank, says)
    bottom = max(_BOTTOM, _TOP + _APART * len(layers))
    sheet = Sheet(
        WIDTH,
        bottom + 280,
        title=f"Tank {tank.place}",
        description=description_of(tank, says),
    )
    heading = f"{tank.place}: {mass_words(Fraction(tank.grams))}"
    sheet.text((_LEFT, 190), heading, size=185, weight="bold")
    sheet.text((_LEFT, 360), _cut(_lots(tank, says), 52), size=_SMALL)
    if tank.hold is not None:
        sheet.text((_LEFT, 520), f"ON HOLD: {tank.hold}", size=150, weight="bold")
    _draw_layers(sheet, layers)
    _draw_wall(sheet)
    sheet.text((_LEFT, bottom + 190), _KEY, size=_SMALL)
    return sheet.finished()


_KEY: Final = "Well mixed: layers show shares by mass, not places."


def description_of(tank: Tank, says: Says = str) -> str:
    """Return in words what the drawing of a tank shows."""
    parts = "; ".join(
        f"{name}, {says(share_words(share))}, {says(mass_words(grams))}"
        for name, _, share, grams in _layers(tank, says)
    )
    sentences = [
        f"{_lots(tank, says)}.",
        told(says("{1} kg, by lot bought: {2}."), kg_text(tank.grams), parts),
        *([] if tank.hold is None else [says(f"On hold: {tank.hold}.")]),
    ]
    return " ".join(sentences)


_Layer = tuple[str, str, Fraction, Fraction]
"""Name, what it is, share, and grams."""


def _layers(tank: Tank, says: Says) -> list[_Layer]:
    """Return what is drawn: the larger portions, and all that is too small as one."""
    shown = [one for one in tank.portions if one.share >= _LEAST_SHOWN]
    if len(shown) > _MOST_LAYERS:
        shown = shown[: _MOST_LAYERS - 1]
    layers = [(p.source.lot, _what(p, says), p.share, p.grams) for p in shown]
    rest = tank.portions[len(shown) :]
    if rest:
        share, grams = sum(p.share for p in rest), sum(p.grams for p in rest)
        lots = says("1 more lot" if len(rest) == 1 else f"{len(rest)} more lots")
        layers.append((lots, "", Fraction(share), Fraction(grams)))
    return layers


def _what(portion: Portion, says: Says) -> str:
    source = portion.source
    what = source.form.value if source.commodity == "cocoa" else source.commodity.value
    if source.origin:
        place = says(what), source.origin, source.supplier
        return told(says("{1}, {2}, from {3}"), *place)
    return told(says("{1}, from {2}"), says(what), source.supplier)


def _lots(tank: Tank, says: Says) -> str:
    return ", ".join(
        says(f"{held.lot} {held.form} since {held.since}")
        if held.since
        else f"{held.lot} {says(str(held.form))}"
        for held in tank.lots
    )


def _draw_layers(sheet: Sheet, layers: Sequence[_Layer]) -> None:
    down, greys = Fraction(_TOP), cycle(_GREYS)
    for place, (name, what, share, grams) in enumerate(layers):
        upper = int(down)
        down += share * _HEIGHT
        height = max(int(down) - upper, _THINNEST)
        sheet.box((_LEFT, upper), (_RIGHT - _LEFT, height), fill=next(greys))
        words_at = _TOP + 60 + place * _APART
        middle = upper + height // 2
        sheet.path(
            [
                (_RIGHT, middle),
                (_RIGHT + 60, middle),
                (_NAMES - 130, words_at - 45),
                (_NAMES - 40, words_at - 45),
            ],
            width=6,
        )
        told = f"{_cut(name, _LONGEST)}  {share_words(share)}"
        sheet.text((_NAMES, words_at), told, size=145, weight="bold")
        below = f"{grouped(kg_text(round(grams)))} kg  {what}".rstrip()
        sheet.text((_NAMES, words_at + 145), _cut(below, 38), size=_SMALL)


def _draw_wall(sheet: Sheet) -> None:
    """Draw the wall of the tank round its content, open above."""
    sheet.path(
        [
            (_LEFT, _TOP - 80),
            (_LEFT, _BOTTOM),
            (_RIGHT, _BOTTOM),
            (_RIGHT, _TOP - 80),
        ],
        width=30,
    )


def _cut(words: str, longest: int) -> str:
    return words if len(words) <= longest else f"{words[: longest - 1]}…"
