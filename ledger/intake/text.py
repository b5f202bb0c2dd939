"""From the bytes of a file to its text, or a sentence that names the line."""

from typing import Final

from ledger.errors import InputError
from ledger.trade.record import is_invisible
from ledger.trade.refusal import as_given

LARGEST_FILE: Final = 4 * 1024 * 1024
"""Bytes; a year of daily batches fits many times over."""


def shown_name(name: str) -> str:
    """Return a file's name as it may be printed on one line."""
    return name if name.isprintable() else as_given(name)


def text_of(name: str, raw: bytes) -> str:
    r"""Return the text of a file, with every line ended by \n.

    Args:
        name: Name of the file, for the sentence.
        raw: Its bytes: UTF-8, with or without a byte order mark.

    Raises:
        InputError: The file is too large, is not UTF-8, or holds a tab or another
            character that cannot be seen.
    """
    if len(raw) > LARGEST_FILE:
        raise InputError(
            f"{name}: the file has {len(raw)} bytes; at most {LARGEST_FILE} are read, "
            "so split it into several files"
        )
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        seen, place = error.object, error.start  # without the mark, as decoded
        line = seen.count(b"\n", 0, place) + 1
        raise InputError(
            f"{name}, line {line}: the byte 0x{seen[place]:02X} is not UTF-8; save the "
            "file again with the encoding UTF-8"
        ) from error
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    _check_characters(name, text)
    return text


def _check_characters(name: str, text: str) -> None:
    for found in sorted(set(text)):
        if found == "\n" or not is_invisible(found):
            continue
        line = text.count("\n", 0, text.index(found)) + 1
        if found == "\t":
            raise InputError(
                f"{name}, line {line}: a tab stands here; write spaces in YAML, and "
                "separate the cells of a CSV file by comma or semicolon"
            )
        raise InputError(
            f"{name}, line {line}: the invisible character U+{ord(found):04X} stands "
            "here; take it out"
        )
