"""ledger.intake.scanned: the lot number in what a scanner types."""

from urllib.parse import quote

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.intake.scanned import scanned_lot

NAMES = st.from_regex(r"[A-Za-z0-9][A-Za-z0-9._/\-]{0,63}", fullmatch=True)


@pytest.mark.parametrize(
    ("typed", "lot"),
    [
        (" DO-26-02 ", "DO-26-02"),
        ("https://mill.example/lots/DO-26-02", "DO-26-02"),
        ("https://mill.example/lots/2026%2F07/DO", "2026/07/DO"),
        ("https://mill.example/lots/DO-26-02?as_of=2026-01-01#top", "DO-26-02"),
        ("https://mill.example/", "https://mill.example/"),
        ("https://[broken", "https://[broken"),
        # GS1 Digital Link Standard, URI Syntax: AI 01, then qualifier 10.
        ("https://id.example/01/09521234543213/10/ABC%2F123", "ABC/123"),
        ("https://id.example/01/09521234543213/10/ABC123?17=270101", "ABC123"),
        # GS1 General Specifications: element strings, as printed and as transmitted.
        ("(01)09521234543213(17)270101(10)ABC123", "ABC123"),
        ("]C10109521234543213" + "17270101" + "10ABC123", "ABC123"),
        ("]d2" + "0109521234543213" + "21XYZ\x1d10ABC123\x1d17270101", "ABC123"),
        ("0109521234543213", "0109521234543213"),
        ("10-A", "10-A"),
        ("1012", "1012"),
    ],
)
def test_the_lot_number_is_found(typed: str, lot: str) -> None:
    assert scanned_lot(typed) == lot


@given(NAMES)
def test_every_lot_number_survives_its_own_address(lot: str) -> None:
    assert scanned_lot(f"http://127.0.0.1:8080/lots/{quote(lot, safe='')}") == lot
    assert scanned_lot(f"http://127.0.0.1:8080/lots/{quote(lot)}") == lot


@given(st.text())
def test_whatever_is_scanned_gives_some_text(text: str) -> None:
    assert isinstance(scanned_lot(text), str)
