"""What a scanner of bar codes types, and the lot number in it.

A hand scanner types like a keyboard: the text of the code, then Enter. Our own labels
carry the lot number, or the address of its page; labels of others may carry a GS1 element
string or a GS1 Digital Link, in which the application identifier 10 is the lot number.

Sources: GS1 General Specifications, chapter 3 (application identifier 10, batch or lot
number: up to 20 characters) and chapter 7 (FNC1 between element strings is transmitted as
the character U+001D); GS1 Digital Link Standard, URI Syntax (qualifier 10). Chapters from
memory.
"""

import re
from typing import Final
from urllib.parse import unquote, urlsplit

_SEPARATOR: Final = "\x1d"
_IN_BRACKETS: Final = re.compile(r"\(10\)([^(]{1,20})")
_FIXED: Final = {
    "00": 18,
    "01": 14,
    "02": 14,
    "11": 6,
    "12": 6,
    "13": 6,
    "15": 6,
    "17": 6,
}
"""Application identifiers of a fixed length, whose values no separator ends."""
_SYMBOLOGY: Final = re.compile(r"^\][A-Za-z][0-9A-Za-z]")
_PAGES: Final = frozenset({"lots", "10"})


def scanned_lot(text: str) -> str:
    """Return the lot number in what was scanned or typed; as it is where it holds none.

    Args:
        text: What was scanned or typed.
    """
    typed = _SYMBOLOGY.sub("", text.strip())
    if "://" in typed:
        return _of_address(typed) or typed
    bracketed = _IN_BRACKETS.search(typed)
    if bracketed:
        return bracketed[1].strip()
    return _of_elements(typed) or typed


def _of_address(address: str) -> str:
    try:
        path = urlsplit(address).path
    except ValueError:
        return ""
    steps = [unquote(step) for step in path.split("/")]
    for place, step in enumerate(steps[:-1]):
        if step in _PAGES and steps[place + 1]:
            # A lot number may hold a slash, which our own addresses write as one.
            return "/".join(steps[place + 1 :]) if step == "lots" else steps[place + 1]
    return ""


def _of_elements(text: str) -> str:
    """Return the lot number of an element string, which needs a separator or a GTIN."""
    rest = text.removeprefix(_SEPARATOR)
    if _SEPARATOR not in text and not re.match(r"01\d{14}\d", rest):
        return ""
    while rest:
        identifier, rest = rest[:2], rest[2:]
        if identifier == "10":
            return rest.partition(_SEPARATOR)[0]
        length = _FIXED.get(identifier)
        if length is None:
            rest = rest.partition(_SEPARATOR)[2]
        else:
            rest = rest[length:].removeprefix(_SEPARATOR)
    return ""
