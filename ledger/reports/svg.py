"""Drawing in SVG: a few shapes, whole-number coordinates, text always escaped.

A drawing is ten units to the pixel, so that no coordinate needs a fraction and the same
figures always give the same bytes. It carries a title and a description for those who
do not see it, and it is black, white and grey: colour never carries meaning.
"""

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from html import escape, unescape
from itertools import pairwise
from typing import Final
from xml.etree.ElementTree import Element, SubElement, fromstring, tostring

NAMESPACE: Final = "http://www.w3.org/2000/svg"
FONT: Final = "'DejaVu Sans', sans-serif"
UNITS_PER_PIXEL: Final = 10

Point = tuple[int, int]
"""Across and down, in units."""

_WORDS: Final = re.compile(r"(?<=>)[^<>]+(?=</(?:text|title|desc)>)")
_CALLED: Final = re.compile(r'(?<= aria-label=")[^"]*')
_NOT_XML: Final = re.compile("[^\t\n\r -\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


@dataclass(frozen=True, slots=True)
class Drawing:
    """A finished drawing.

    Attributes:
        title: What it shows.
        description: What there is to see, in words.
        svg: The drawing itself.
    """

    title: str
    description: str
    svg: str


class Sheet:
    """A sheet to draw on."""

    def __init__(
        self, width: int, height: int, *, title: str, description: str, top: int = 0
    ) -> None:
        """Take a sheet of a size in units; what is drawn above `top` is cut off."""
        self._title = title
        self._description = description
        self._root = Element(
            "svg",
            {
                "xmlns": NAMESPACE,
                "viewBox": f"0 {top} {width} {height - top}",
                "width": str(width // UNITS_PER_PIXEL),
                "height": str((height - top) // UNITS_PER_PIXEL),
                "role": "img",
                "font-family": FONT,
            },
        )
        SubElement(self._root, "title").text = _xml_text(title)
        SubElement(self._root, "desc").text = _xml_text(description)
        self._inside = self._root
        self._add("rect", {"width": width, "height": height, "fill": "white"})

    @contextmanager
    def group(self, marks: Mapping[str, str]) -> Iterator[None]:
        """Keep what is drawn meanwhile together, marked for whoever finds it."""
        with self._within("g", marks):
            yield

    @contextmanager
    def link(
        self, address: str, *, says: str, marks: Mapping[str, str]
    ) -> Iterator[None]:
        """Let what is drawn meanwhile lead somewhere.

        A drawing with links is no picture to the browser, but a group of what it holds;
        else nobody who does not see it would find them.

        Args:
            address: Where it leads.
            says: What it is called, for those who do not see it.
            marks: Further attributes, for whoever finds it.
        """
        self._root.set("role", "group")
        named = {"href": _xml_text(address), "aria-label": _xml_text(says)}
        with self._within("a", {**named, **marks}):
            yield

    @contextmanager
    def _within(self, tag: str, marks: Mapping[str, str]) -> Iterator[None]:
        outside = self._inside
        self._inside = SubElement(outside, tag, dict(marks))
        try:
            yield
        finally:
            self._inside = outside

    def line(
        self, start: Point, end: Point, *, width: int = 10, ink: str = "black"
    ) -> None:
        """Draw a straight line."""
        (x1, y1), (x2, y2) = start, end
        drawn: dict[str, object] = {"x1": x1, "y1": y1, "x2": x2, "y2": y2}
        self._add("line", drawn | _stroke(width, ink))

    def path(
        self, corners: Iterable[Point], *, width: int = 10, dashes: str = "none"
    ) -> None:
        """Draw a line through corners."""
        drawn: dict[str, object] = {"points": _points(corners), "fill": "none"}
        drawn["stroke-dasharray"] = dashes
        self._add("polyline", drawn | _stroke(width))

    def shape(self, corners: Iterable[Point], *, fill: str = "black") -> None:
        """Draw a shape with corners, outlined in black."""
        drawn: dict[str, object] = {"points": _points(corners), "fill": fill}
        self._add("polygon", drawn | _stroke(8))

    def stream(self, stations: Sequence[Point], *, width: int, ink: str) -> None:
        """Draw a smooth line through stations, level at each of them."""
        steps = [f"M {stations[0][0]} {stations[0][1]}"]
        for (x1, y1), (x2, y2) in pairwise(stations):
            middle = (x1 + x2) // 2
            steps.append(f"C {middle} {y1} {middle} {y2} {x2} {y2}")
        drawn: dict[str, object] = {"d": " ".join(steps), "fill": "none"}
        self._add("path", drawn | _stroke(width, ink))

    def ribbon(self, start: Point, end: Point, *, height: int, ink: str) -> None:
        """Draw a smooth band of one height, from its upper left to its upper right end.

        Thin white edges part it from what lies above and below.
        """
        (x1, y1), (x2, y2) = start, end
        middle, low1, low2 = (x1 + x2) // 2, y1 + height, y2 + height
        over = f"C {middle} {y1} {middle} {y2} {x2} {y2}"
        back = f"C {middle} {low2} {middle} {low1} {x1} {low1}"
        band: dict[str, object] = {"d": f"M {x1} {y1} {over} V {low2} {back} Z"}
        self._add("path", band | {"fill": ink})
        edges: dict[str, object] = {"d": f"M {x1} {y1} {over} M {x2} {low2} {back}"}
        self._add("path", edges | {"fill": "none"} | _stroke(4, "white"))

    def blank(self, corner: Point, size: Point) -> None:
        """Cover what was drawn, so that words stand on white."""
        (x, y), (across, down) = corner, size
        self._add(
            "rect", {"x": x, "y": y, "width": across, "height": down, "fill": "white"}
        )

    def box(
        self,
        corner: Point,
        size: Point,
        *,
        fill: str = "white",
        width: int = 8,
        rounding: int = 0,
        dashes: str = "none",
    ) -> None:
        """Draw a box from its upper left corner, outlined in black."""
        (x, y), (across, down) = corner, size
        drawn: dict[str, object] = {"x": x, "y": y, "width": across, "height": down}
        drawn |= {"rx": rounding, "fill": fill, "stroke-dasharray": dashes}
        self._add("rect", drawn | _stroke(width))

    def ring(self, middle: Point, *, radius: int) -> None:
        """Draw an open circle around a point."""
        drawn: dict[str, object] = {"cx": middle[0], "cy": middle[1], "r": radius}
        self._add("circle", drawn | {"fill": "none"} | _stroke(12))

    def text(
        self,
        at: Point,
        words: str,
        *,
        size: int = 100,
        anchor: str = "start",
        weight: str = "normal",
    ) -> None:
        """Write a line of text; `at` is on its baseline."""
        x, y = at
        drawn: dict[str, object] = {"x": x, "y": y, "font-weight": weight}
        drawn |= {"font-size": size, "text-anchor": anchor}
        self._add("text", drawn).text = _xml_text(words)

    def place(self, drawn: Element, corner: Point, size: Point) -> None:
        """Put a whole drawing into this one, in the same units."""
        (x, y), (width, height) = corner, size
        inner = self._add("svg", {"x": x, "y": y, "width": width, "height": height})
        inner.set("viewBox", drawn.attrib["viewBox"])
        for element in drawn.iter():
            element.tag = element.tag.removeprefix(f"{{{NAMESPACE}}}")
        inner.extend(list(drawn))

    def finished(self) -> Drawing:
        """Return the drawing."""
        return Drawing(
            self._title, self._description, tostring(self._root, encoding="unicode")
        )

    def _add(self, shape: str, drawn: dict[str, object]) -> Element:
        return SubElement(
            self._inside, shape, {name: str(value) for name, value in drawn.items()}
        )


def spoken(drawing: Drawing, says: Callable[[str], str]) -> Drawing:
    """Return a drawing with its words as a reader calls them."""

    def said(found: re.Match[str]) -> str:
        # Two blanks part what stands beside each other, such as a name and its share.
        return escape("  ".join(map(says, unescape(found[0]).split("  "))))

    return Drawing(
        says(drawing.title),
        says(drawing.description),
        _CALLED.sub(said, _WORDS.sub(said, drawing.svg)),
    )


def stacked(drawings: Sequence[Drawing]) -> Drawing:
    """Return drawings below each other as one; a single one stays as it is.

    Raises:
        ValueError: There is none.
    """
    if not drawings:
        raise ValueError("nothing to draw")
    if len(drawings) == 1:
        return drawings[0]
    roots = [fromstring(one.svg) for one in drawings]  # noqa: S314 - drawn here
    sizes = [list(map(int, root.attrib["viewBox"].split()[2:])) for root in roots]
    sheet = Sheet(
        max(width for width, _ in sizes),
        sum(height for _, height in sizes),
        title="; ".join(drawing.title for drawing in drawings),
        description=" ".join(f"{d.title}: {d.description}" for d in drawings),
    )
    down = 0
    for root, (width, height) in zip(roots, sizes, strict=True):
        sheet.place(root, (0, down), (width, height))
        down += height
    return sheet.finished()


def triangle(at: Point, *, size: int = 40, up: bool = True) -> tuple[Point, ...]:
    """Return the corners of a triangle whose tip is at a point."""
    x, y = at
    base = y + 2 * size if up else y - 2 * size
    return (x, y), (x + size, base), (x - size, base)


def diamond(at: Point, *, size: int = 40) -> tuple[Point, ...]:
    """Return the corners of a diamond around a point."""
    x, y = at
    return (x, y - size), (x + size, y), (x, y + size), (x - size, y)


def _points(corners: Iterable[Point]) -> str:
    return " ".join(f"{x},{y}" for x, y in corners)


def _stroke(width: int, ink: str = "black") -> dict[str, object]:
    return {"stroke": ink, "stroke-width": width}


def _xml_text(words: str) -> str:
    """Return words with what XML cannot hold replaced (XML 1.0, 2.2)."""
    return _NOT_XML.sub("\N{REPLACEMENT CHARACTER}", words)
