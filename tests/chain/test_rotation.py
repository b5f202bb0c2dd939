"""Rotation statements: keys of RFC 8032, section 7.1, tests 1 to 3."""

import hashlib

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from ledger.chain.checkpoint import parse_checkpoint
from ledger.chain.note import Algorithm, Key, Note, sign
from ledger.chain.rotation import check_rotation, origin_of, rotation_text
from ledger.errors import InputError, SealError

# RFC 8032, section 7.1: secret keys of TEST 1, TEST 2 and TEST 3.
SECRETS = (
    "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
    "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
    "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
)
# The public keys beside them.
PUBLICS = (
    "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
    "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
    "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
)
PRIVATES = tuple(
    Ed25519PrivateKey.from_private_bytes(bytes.fromhex(secret)) for secret in SECRETS
)


def key(place: int, name: str = "maker/x") -> Key:
    return Key(name, Algorithm.NOTE, PRIVATES[place].public_key().public_bytes_raw())


def signed(*places: int, text: str | None = None) -> Note:
    text = rotation_text(key(0), key(1)) if text is None else text
    return Note(text, tuple(sign(text, key(n), PRIVATES[n]) for n in places))


def test_the_published_public_keys_are_those_of_the_secrets() -> None:
    assert tuple(key(n).public.hex() for n in range(3)) == PUBLICS


def test_the_name_of_a_ledger_is_the_makers_and_a_digest_of_its_first_key() -> None:
    public = bytes.fromhex(PUBLICS[0])

    assert origin_of("hazelmere", public) == (
        "hazelmere/" + hashlib.sha256(public).hexdigest()[:16]
    )


def test_a_rotation_is_signed_by_both() -> None:
    assert check_rotation(signed(0, 1), old=key(0), new=key(1)) == {key(0), key(1)}


def test_a_lost_key_cannot_sign_and_that_is_told() -> None:
    assert check_rotation(signed(1), old=key(0), new=key(1)) == {key(1)}


def test_a_rotation_that_its_new_key_did_not_sign_is_refused() -> None:
    """Else somebody could name a key that is not theirs."""
    with pytest.raises(SealError, match="did not sign"):
        check_rotation(signed(0), old=key(0), new=key(1))


def test_a_rotation_to_another_key_is_refused() -> None:
    with pytest.raises(SealError, match="does not say"):
        check_rotation(signed(0, 1), old=key(0), new=key(2))


def test_a_spoiled_signature_is_refused() -> None:
    note = signed(0, 1)
    spoiled = Note(
        note.text, (note.signatures[0], signed(0, 1, text="x\n").signatures[1])
    )

    with pytest.raises(SealError, match="does not hold"):
        check_rotation(spoiled, old=key(0), new=key(1))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (key(0), key(0)),
        (key(0), key(1, "other/x")),
        (Key("maker/x", Algorithm.COSIGNATURE, key(0).public), key(1)),
        (key(0), Key("maker/x", Algorithm.COSIGNATURE, key(1).public)),
    ],
    ids=["itself", "another name", "from a witness's", "to a witness's"],
)
def test_keys_that_cannot_follow_one_another(old: Key, new: Key) -> None:
    with pytest.raises(InputError, match="cannot follow"):
        rotation_text(old, new)


def test_a_statement_never_passes_for_a_checkpoint() -> None:
    with pytest.raises(InputError):
        parse_checkpoint(rotation_text(key(0), key(1)))
