"""From one file to the drafts of its entries. Pure: bytes in, drafts out."""

from collections.abc import Callable, Iterator, Mapping
from typing import Final

from ledger.errors import InputError
from ledger.intake.csv_file import read_csv
from ledger.intake.draft import Draft
from ledger.intake.text import shown_name, text_of
from ledger.intake.yaml_file import read_yaml

_READERS: Final[Mapping[str, Callable[[str, str], Iterator[Draft]]]] = {
    "yaml": read_yaml,
    "yml": read_yaml,
    "csv": read_csv,
}


def is_readable(name: str) -> bool:
    """Tell whether a file's name ends as one that holds entries: .yaml, .yml or .csv."""
    return _ending(name) in _READERS


def read_file(name: str, raw: bytes) -> tuple[Draft, ...]:
    """Return the entries that a file holds, in the order in which they stand.

    Args:
        name: Name of the file; it tells how the file is read, and stands in sentences.
        raw: Its bytes.

    Raises:
        InputError: The file cannot be read; the sentence names file, line or row, what
            stands there, the rule and the way out.
    """
    shown = shown_name(name)
    if not is_readable(name):
        raise InputError(
            f"{shown}: a file of entries ends in .yaml, .yml or .csv; name it so, or "
            "attach it as a document"
        )
    drafts = tuple(_READERS[_ending(name)](shown, text_of(shown, raw)))
    if not drafts:
        raise InputError(
            f"{shown}: the file holds no entry; write one, or leave it out"
        )
    return drafts


def _ending(name: str) -> str:
    return name.rpartition(".")[2].lower() if "." in name else ""
