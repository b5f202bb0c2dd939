"""Drawings below each other, and the shapes that charts are made of."""

from xml.etree.ElementTree import Element, fromstring

import pytest

from ledger.reports.svg import NAMESPACE, Drawing, Sheet, stacked


def drawn(title: str, width: int, height: int) -> Drawing:
    sheet = Sheet(width, height, title=title, description=f"{title} in words.")
    sheet.text((10, 20), title)
    return sheet.finished()


def inner(drawing: Drawing) -> list[Element]:
    return fromstring(drawing.svg).findall(f"{{{NAMESPACE}}}svg")


def test_drawings_are_put_below_each_other_whole() -> None:
    both = stacked([drawn("one", 300, 100), drawn("two", 200, 50)])

    assert fromstring(both.svg).attrib["viewBox"] == "0 0 300 150"
    places = [
        (e.attrib["y"], e.attrib["width"], e.attrib["height"]) for e in inner(both)
    ]
    assert places == [("0", "300", "100"), ("100", "200", "50")]
    texts = [e.findtext(f"{{{NAMESPACE}}}text") for e in inner(both)]
    assert texts == ["one", "two"]


def test_a_stack_tells_in_words_what_each_drawing_shows() -> None:
    both = stacked([drawn("one", 300, 100), drawn("two", 200, 50)])

    assert both.title == "one; two"
    assert both.description == "one: one in words. two: two in words."


def test_one_drawing_stays_as_it_is() -> None:
    one = drawn("one", 300, 100)

    assert stacked([one]) == one


def test_nothing_cannot_be_stacked() -> None:
    with pytest.raises(ValueError, match="nothing to draw"):
        stacked([])


def test_a_ribbon_is_as_high_at_its_end_as_at_its_start() -> None:
    sheet = Sheet(500, 500, title="t", description="d")
    sheet.ribbon((0, 10), (100, 40), height=30, ink="#777777")

    band, edges = fromstring(sheet.finished().svg).findall(f"{{{NAMESPACE}}}path")
    assert band.attrib["d"] == ("M 0 10 C 50 10 50 40 100 40 V 70 C 50 70 50 40 0 40 Z")
    assert edges.attrib["stroke"] == "white"


def test_what_is_drawn_within_a_link_leads_there() -> None:
    sheet = Sheet(900, 700, title="A", description="B", top=200)
    with sheet.link("/lots/A&B", says="lot A&B", marks={"data-stop": "3"}):
        sheet.text((0, 300), "A&B")
    with sheet.group({"data-leaves": "3"}):
        sheet.path([(0, 300), (5, 300)])
    sheet.text((0, 400), "outside")

    root = fromstring(sheet.finished().svg)
    link, group = root.find(f"{{{NAMESPACE}}}a"), root.find(f"{{{NAMESPACE}}}g")

    assert root.attrib["viewBox"] == "0 200 900 500"
    assert root.attrib["role"] == "group"
    assert link is not None
    assert group is not None
    assert link.attrib == {
        "href": "/lots/A&B",
        "aria-label": "lot A&B",
        "data-stop": "3",
    }
    assert [text.text for text in link] == ["A&B"]
    assert [line.tag for line in group] == [f"{{{NAMESPACE}}}polyline"]
    assert [text.text for text in root.findall(f"{{{NAMESPACE}}}text")] == ["outside"]
