"""Base64 with one text for each value, so that no changed character goes unnoticed."""

import base64
import binascii


def encode(raw: bytes) -> str:
    """Return bytes in base64 (RFC 4648, section 4), with padding."""
    return base64.b64encode(raw).decode()


def decode(text: str) -> bytes | None:
    """Return the bytes that a text stands for, or None if it is not their only text.

    Decoders usually overlook the bits left over before the padding; here they must be
    zero (RFC 4648, section 3.5), or two texts would pass for the same signature.
    """
    try:
        raw = base64.b64decode(text.encode("ascii"), validate=True)
    except (ValueError, binascii.Error):
        return None
    return raw if encode(raw) == text else None
