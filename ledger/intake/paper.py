"""What sort of file a paper is, told by its bytes; its name proves nothing."""

from collections.abc import Mapping
from typing import Final

from ledger.errors import InputError
from ledger.intake.text import shown_name

LARGEST_PAPER: Final = 20 * 1024 * 1024
"""Bytes; a scan of a hundred pages fits."""
MEDIA_TYPES: Final[Mapping[str, str]] = {
    "application/pdf": "pdf",
    "image/png": "png",
    "image/jpeg": "jpg",
    "image/tiff": "tif",
    "image/heic": "heic",
    "text/plain": "txt",
}
"""Sorts of file that a paper may be, and how the name of each ends."""

_BEGINS: Final[tuple[tuple[bytes, str], ...]] = (
    (b"%PDF-", "application/pdf"),
    (b"\x89PNG\r\n\x1a\n", "image/png"),
    (b"\xff\xd8\xff", "image/jpeg"),
    (b"II*\x00", "image/tiff"),
    (b"MM\x00*", "image/tiff"),
)
"""Source: ISO 32000-2, 7.5.2; PNG specification (W3C), 5.2; ISO/IEC 10918-1, B.1.1.3;
TIFF 6.0, section 2."""
_BRAND_AT: Final = 4
_HEIC: Final = (b"ftypheic", b"ftypheix", b"ftypmif1", b"ftypmsf1")
"""Brands of ISO/IEC 23008-12, 10.2, as ISO/IEC 14496-12, 4.3, places them."""


def media_type_of(name: str, raw: bytes) -> str:
    """Return the media type of a paper, told by its bytes.

    Args:
        name: What the file is called, for the sentence.
        raw: Its bytes.

    Raises:
        InputError: It is empty, too large, or of a sort that no paper is.
    """
    shown = shown_name(name)
    if not raw:
        raise InputError(f"{shown}: the file is empty; choose the paper itself")
    if len(raw) > LARGEST_PAPER:
        raise InputError(
            f"{shown}: the file has {len(raw)} bytes; at most {LARGEST_PAPER} are kept, "
            "so scan it with fewer dots or in parts"
        )
    for begins, media_type in _BEGINS:
        if raw.startswith(begins):
            return media_type
    if raw[_BRAND_AT:].startswith(_HEIC):
        return "image/heic"
    if _is_text(raw):
        return "text/plain"
    raise InputError(
        f"{shown}: by its bytes the file is none of {', '.join(MEDIA_TYPES.values())}, "
        "which a paper may be; save or scan the paper as a PDF"
    )


def _is_text(raw: bytes) -> bool:
    """Tell whether a file is plain text, and not markup that a browser would run."""
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        return False
    visible = all(one.isprintable() or one in "\r\n\t\f" for one in text)
    return visible and not text.lstrip().startswith("<")
