"""A short piece of the search that `make fuzz` runs at length, in every target."""

import base64
from collections.abc import Callable

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from tests.audit.forging import files_of
from tests.fuzz.choices import Choices
from tests.fuzz.mutations import CHANGES, spoil
from tests.fuzz.targets import folder, scratch, text, wholes, zipped

BYTES = st.binary(min_size=1, max_size=100)


# A name beyond ASCII in an entry, which a forger's own tools cannot write again.
@example(raw=base64.b64decode("CP8I//sKKRAyEMuSAAr7EDIQy5J2dnYudnZ2dnZ2dnZ2dnZ2AA=="))
@settings(max_examples=120, deadline=None)
@given(raw=BYTES)
def test_a_folder_that_was_changed_never_passes_for_whole(raw: bytes) -> None:
    folder(raw)


@settings(max_examples=120, deadline=None)
@given(raw=BYTES)
def test_a_zip_that_was_changed_never_passes(raw: bytes) -> None:
    zipped(raw)


@settings(max_examples=300, deadline=None)
@given(raw=BYTES)
def test_no_text_is_read_in_two_ways(raw: bytes) -> None:
    text(raw)


@pytest.mark.parametrize("target", [folder, zipped, text])
def test_the_search_begins_with_nothing_changed(
    target: Callable[[bytes], None],
) -> None:
    target(b"")


def test_choices_are_made_from_the_bytes_alone() -> None:
    choose = Choices(b"\x05\x01\x00\xff")

    assert choose.number(4) == 1
    assert choose.one_of("ab") == "b"
    assert choose.number(1000) == 255
    assert choose.is_used_up
    assert choose.number(7) == 0


def test_every_kind_of_change_is_reached() -> None:
    """Every change of a file does change one; every file of both packs can be chosen."""
    for change in CHANGES:
        given = [
            change(b"one,2\ntwo,3\n", Choices(bytes([n, n + 1, n]))) for n in range(9)
        ]
        assert any(made != b"one,2\ntwo,3\n" for made in given)
    for whole in wholes():
        with scratch() as place:
            (place / "pack").mkdir()
            for name in whole:
                (place / "pack" / name).parent.mkdir(parents=True, exist_ok=True)
                (place / "pack" / name).write_bytes(whole[name])
            assert files_of(place / "pack") == sorted(whole)
            spoil(place / "pack", Choices(b"\0\x0c"))
            assert len(files_of(place / "pack")) == len(whole) - 1
