"""Signed notes against the examples of C2SP signed-note and a public log's note."""

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from hypothesis import given
from hypothesis import strategies as st

from ledger.chain.note import (
    Algorithm,
    Key,
    Note,
    parse_key,
    parse_note,
    sign,
    signed_by,
)
from ledger.errors import InputError, LedgerError, SealError

# C2SP signed-note, the example of the document.
EXAMPLE_KEY = "example.com/foo+530d903a+AekyeRrm56hApGFkyQR4ZCbV54Id2LKaANYcrnKv3U2k"
EXAMPLE_NOTE = (
    "This is an example message.\n\n"
    "— example.com/foo Uw2QOkn8srV1yJGh2VYRlL1Tnagv1YEq6TfXppzi2ONncAlTgK7Ztg1ERYNZ"
    "XsYjOBH3mFXmRKuwHjG1Yu72IneyaQM=\n"
)
# A note of a public log, from transparency-dev/formats, log/note_test.go.
LOG_KEY = "sum.golang.org+033de0ae+Ac4zctda0e5eza+HJyk9SxEdh+s3Ux18htTTAD8OuAn8"
LOG_NOTE = (
    "go.sum database tree\n6476701\nmb8QLQIs0Z0yP5Cstq6guj87oXWeC9gEM8oVikmm9Wk=\n\n"
    "— sum.golang.org Az3grsLX85Gz+s1SiTbgkuqxgItqFq7gsMUEyVnrsa9LM7Us9S+1xbFIGu95949"
    "rj4nPRYfvimWEPWL+o3GeoWwOoAw=\n"
)
# C2SP tlog-cosignature, the example of the document (no key is published with it).
COSIGNED_NOTE = (
    "example.com/behind-the-sofa\n20852163\n"
    "CsUYapGGPo4dkMgIAUqom/Xajj7h2fB2MPA3j2jxq2I=\n\n"
    "— example.com/behind-the-sofa Az3grlgtzPICa5OS8npVmf1Myq/5IZniMp+ZJurmRDeOoRDe4U"
    "RYN7u5/Zhcyv2q1gGzGku9nTo+zyWE+xeMcTOAYQ8=\n"
    "— witness.example.com/w1 jWbPPwAAAABkGFDLEZMHwSRaJNiIDoe9DYn/zXcrtPHeolMI5OWXEhZC"
    "B9dlrDJsX3b2oyin1nPZqhf5nNo0xUe+mbIUBkBIfZ+qnA==\n"
)


def own_key(
    algorithm: Algorithm, name: str = "maker.example"
) -> tuple[Key, Ed25519PrivateKey]:
    private = Ed25519PrivateKey.from_private_bytes(bytes(range(32)))
    return Key(name, algorithm, private.public_key().public_bytes_raw()), private


@pytest.mark.parametrize(
    ("key", "note"), [(EXAMPLE_KEY, EXAMPLE_NOTE), (LOG_KEY, LOG_NOTE)]
)
def test_published_notes_hold_under_their_keys(key: str, note: str) -> None:
    parsed = parse_key(key)

    [signed] = signed_by(parse_note(note), [parsed])

    assert signed.key == parsed
    assert signed.moment is None


@pytest.mark.parametrize("text", [EXAMPLE_NOTE, LOG_NOTE, COSIGNED_NOTE])
def test_a_published_note_is_written_as_it_was_read(text: str) -> None:
    assert str(parse_note(text)) == text


def test_a_published_key_is_written_as_it_was_read() -> None:
    assert str(parse_key(EXAMPLE_KEY)) == EXAMPLE_KEY
    assert parse_key(EXAMPLE_KEY).hash.hex() == "530d903a"


def test_a_published_cosignature_states_its_moment() -> None:
    # C2SP tlog-cosignature: "cosignature/v1\ntime 1679315147\n..." in the same example.
    cosignature = parse_note(COSIGNED_NOTE).signatures[1]

    assert int.from_bytes(cosignature.raw[:8], "big") == 1679315147


def test_a_cosignature_holds_and_tells_its_moment() -> None:
    key, private = own_key(Algorithm.COSIGNATURE)
    text = "ledger\n7\nAAAA\n"
    note = Note(text, (sign(text, key, private, moment=1679315147),))

    [signed] = signed_by(parse_note(str(note)), [key])

    assert signed.moment == 1679315147


@pytest.mark.parametrize("algorithm", list(Algorithm))
def test_any_changed_byte_of_a_signed_note_is_found(algorithm: Algorithm) -> None:
    key, private = own_key(algorithm)
    text = "ledger\n7\nroot\n"
    whole = str(Note(text, (sign(text, key, private, moment=9),))).encode()

    for place in range(len(whole)):
        changed = bytearray(whole)
        changed[place] ^= 1
        try:
            note = parse_note(changed.decode())
            held = signed_by(note, [key])
        except (LedgerError, UnicodeDecodeError):
            continue
        assert held == ()


def test_a_signature_under_an_unknown_key_is_passed_over() -> None:
    key, _ = own_key(Algorithm.NOTE)

    assert signed_by(parse_note(EXAMPLE_NOTE), [key]) == ()


def test_a_false_signature_under_a_known_key_is_an_error() -> None:
    spoiled = EXAMPLE_NOTE.replace("example message", "example massage")

    with pytest.raises(SealError, match="does not hold"):
        signed_by(parse_note(spoiled), [parse_key(EXAMPLE_KEY)])


@pytest.mark.parametrize(
    "text",
    [
        "",
        "no signature\n",
        "text\n\n",
        "text\n\n- plain hyphen AAAAAAAA\n",
        "text\n\n— name not*base64\n",
        "text\n\n— name AAAA\n",
        "text\n\n— name AAAAAAAA",
        "x" * 70000,
    ],
)
def test_what_is_not_a_note_is_refused(text: str) -> None:
    with pytest.raises(InputError):
        parse_note(text)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "example.com/foo",
        EXAMPLE_KEY.replace("530d903a", "530d903b"),
        EXAMPLE_KEY[:-4],
        "two words+530d903a+" + EXAMPLE_KEY.rpartition("+")[2],
        "name+00000000+BekyeRrm56hApGFkyQR4ZCbV54Id2LKaANYcrnKv3U2k",
    ],
)
def test_what_is_not_a_key_is_refused(text: str) -> None:
    with pytest.raises(InputError):
        parse_key(text)


def test_a_short_key_is_refused() -> None:
    with pytest.raises(InputError, match="31 bytes"):
        Key("name", Algorithm.NOTE, bytes(31))


@pytest.mark.parametrize("text", ["no line break", "a\n\nb\n"])
def test_a_text_that_would_not_read_back_is_not_signed(text: str) -> None:
    key, private = own_key(Algorithm.NOTE)

    with pytest.raises(InputError):
        sign(text, key, private)


def test_a_key_signs_only_under_its_own_name() -> None:
    key, _ = own_key(Algorithm.NOTE)

    with pytest.raises(InputError, match="not that of"):
        sign("text\n", key, Ed25519PrivateKey.from_private_bytes(bytes(32)))


@given(st.text())
def test_any_text_is_read_or_refused(text: str) -> None:
    for parse in (parse_note, parse_key):
        try:
            parse(text)
        except LedgerError:
            continue
