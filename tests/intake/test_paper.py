"""What sort of file a paper is, told by its bytes alone."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.errors import InputError
from ledger.intake.paper import LARGEST_PAPER, MEDIA_TYPES, media_type_of

PDF = b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n"


@pytest.mark.parametrize(
    ("raw", "media_type"),
    [
        (PDF, "application/pdf"),
        (b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR", "image/png"),
        (b"\xff\xd8\xff\xe0\x00\x10JFIF", "image/jpeg"),
        (b"II*\x00\x08\x00\x00\x00", "image/tiff"),
        (b"MM\x00*\x00\x00\x00\x08", "image/tiff"),
        (b"\x00\x00\x00\x18ftypheic\x00\x00", "image/heic"),
        ("Pesée à l'arrivée: 1394 kg\r\n".encode(), "text/plain"),
    ],
)
def test_the_bytes_decide_whatever_the_name_says(raw: bytes, media_type: str) -> None:
    assert media_type_of("holiday.exe", raw) == media_type


@pytest.mark.parametrize(
    ("name", "raw"),
    [
        ("note.pdf", b"MZ\x90\x00\x03"),
        ("note.pdf", b"PK\x03\x04\x14\x00"),
        ("note.txt", b"<script>alert(1)</script>"),
        ("note.txt", b"\xef\xbb\xbf  <svg xmlns='http://www.w3.org/2000/svg'/>"),
        ("note.png", b"GIF89a\x01\x00\x01\x00\x80"),
        ("note.txt", b"caf\xe9"),
        ("note.txt", "turned \u202e round".encode()),
    ],
)
def test_what_no_paper_is_is_refused_whatever_it_is_called(
    name: str, raw: bytes
) -> None:
    with pytest.raises(InputError, match="by its bytes the file is none of pdf, png"):
        media_type_of(name, raw)


def test_an_empty_file_and_one_too_large_are_refused() -> None:
    with pytest.raises(InputError, match="the file is empty"):
        media_type_of("note.pdf", b"")
    with pytest.raises(InputError, match=r"20971521 bytes; at most 20971520"):
        media_type_of("note.pdf", PDF.ljust(LARGEST_PAPER + 1))
    assert media_type_of("note.pdf", PDF.ljust(LARGEST_PAPER)) == "application/pdf"


@given(st.binary(min_size=1, max_size=64))
def test_any_bytes_have_a_sort_or_are_refused(raw: bytes) -> None:
    try:
        found = media_type_of("paper", raw)
    except InputError:
        return
    assert found in MEDIA_TYPES
