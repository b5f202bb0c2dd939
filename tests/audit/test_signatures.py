"""Signatures in a pack: any change of what was signed is found, and only pins count.

The three published forms are C2SP signed-note, tlog-checkpoint and tlog-witness; the
timestamps are RFC 3161, by an authority made here.
"""

import shutil
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ledger.audit.check import check_pack
from ledger.audit.heads import read_heads, read_origin
from ledger.audit.signatures import Pinned
from ledger.audit.verdict import Verdict
from ledger.chain.note import Algorithm, Key, Note, sign
from ledger.chain.timestamp import parse_authorities, timestamp_request
from ledger.chain.tree import tree_root
from ledger.desk.timestamp import add_timestamp, kept_timestamps
from ledger.errors import LedgerError, SealError
from tests.audit.forging import bag_again, edited, files_of
from tests.chain.authority import Authority
from tests.desk.signed_ledger import SignedLedger, private_key
from tests.desk.small_ledger import COOPERATIVE, CUSTOMERS, TERMS

SIGNED = (
    "data/checkpoints/2.note",
    "data/checkpoints/5.note",
    "data/checkpoints/8.note",
)
STEPS = ("data/consistency/2-5.txt", "data/consistency/5-8.txt")


@pytest.fixture(scope="session")
def authority(tmp_path_factory: pytest.TempPathFactory) -> Authority:
    return Authority(tmp_path_factory.mktemp("authority") / "own")


@pytest.fixture(scope="session")
def signed_ledger(
    authority: Authority, tmp_path_factory: pytest.TempPathFactory
) -> SignedLedger:
    """Three checkpoints, a rotation between the second and third, one timestamp."""
    ledger = SignedLedger(tmp_path_factory.mktemp("signed")).open([COOPERATIVE])
    ledger.sign()
    ledger.record([TERMS, CUSTOMERS[0]])
    stamped = ledger.sign()
    token = authority.answer(timestamp_request(stamped.note.text))
    add_timestamp(ledger.timestamps, (stamped,), token)
    ledger.rotate("second")
    ledger.record([CUSTOMERS[1]])
    ledger.sign()
    ledger.pack()
    return ledger


@pytest.fixture(scope="session")
def whole(signed_ledger: SignedLedger) -> Path:
    """The folder of a signed pack, not to be changed."""
    return signed_ledger.folder / "pack"


@pytest.fixture
def pack(whole: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(whole, tmp_path / "pack"))


@pytest.fixture
def pinned(signed_ledger: SignedLedger, authority: Authority) -> Pinned:
    return Pinned(signed_ledger.key, (), parse_authorities(authority.root))


def failing(verdict: Verdict) -> set[str]:
    return {part.name for part in verdict.checked if not part.holds}


def test_a_signed_pack_holds_and_says_who_signed(whole: Path, pinned: Pinned) -> None:
    verdict = check_pack(whole, pinned=pinned)
    counted = {part.name: part.count for part in verdict.checked}

    assert verdict.problems == ()
    assert {*SIGNED, *STEPS, "data/timestamps/5.tsr"} <= set(files_of(whole))
    assert counted["signed checkpoints"] == 3
    assert counted["proofs between checkpoints"] == 2
    assert counted["timestamps"] == 1
    assert verdict.to_keep is not None
    assert verdict.to_keep.size == 8
    assert any("timestamp authority that you trust" in s for s in verdict.proved)
    assert any("key was changed 1 time" in s for s in verdict.proved)


def test_without_a_pin_a_signature_is_only_claimed(whole: Path) -> None:
    verdict = check_pack(whole)

    assert verdict.holds
    assert verdict.to_keep is None
    assert not any("you pinned" in sentence for sentence in verdict.proved)
    assert any("a key that came with the pack" in told for told in verdict.claimed)
    assert any("1 timestamp in the pack" in told for told in verdict.not_checked)


def test_a_pack_that_is_not_signed_proves_nobody(
    small_pack: Path, pinned: Pinned
) -> None:
    verdict = check_pack(small_pack, pinned=pinned)

    assert check_pack(small_pack).holds
    assert "key pinned on enrolment" in failing(verdict)


def test_a_pack_without_a_checkpoint_is_not_signed_by_the_key(tmp_path: Path) -> None:
    ledger = SignedLedger(tmp_path / "ledger").open([COOPERATIVE])
    verdict = check_pack(ledger.pack(), pinned=Pinned(ledger.key))

    assert failing(verdict) == {"key pinned on enrolment"}
    assert "nothing in the pack is signed" in verdict.problems[0].sentence


# --- What a forger changes, with every digest of the bag made to fit -----------------


def changed(pack: Path, name: str, edit: Callable[[bytes], bytes]) -> None:
    edited(pack, name, edit)
    bag_again(pack)


@pytest.mark.parametrize("name", [*SIGNED, *STEPS, "data/timestamps/5.tsr"])
def test_any_changed_byte_of_what_was_signed_is_found(
    name: str, pack: Path, pinned: Pinned
) -> None:
    """Each bit of each file; parts of a timestamp stand outside of what is signed."""
    path = pack / name
    whole = path.read_bytes()
    step = 11 if name.endswith(".tsr") else 2
    missed = []
    for place in range(0, len(whole), step):
        flipped = whole[place] ^ (1 << place % 8)
        path.write_bytes(whole[:place] + bytes([flipped]) + whole[place + 1 :])
        bag_again(pack)
        verdict = check_pack(pack, pinned=pinned)
        if verdict.holds and not name.endswith(".tsr"):
            missed.append(place)
        if not verdict.holds:
            assert name in {p.where.file for p in verdict.problems}

    assert missed == []


@pytest.mark.parametrize(
    ("name", "edit", "said"),
    [
        (SIGNED[0], lambda _: b"", "not a signed note"),
        (SIGNED[0], lambda raw: b"\xff" + raw, "not text"),
        (SIGNED[0], lambda raw: raw + b"x" * 70_000, "longer than"),
        (STEPS[0], lambda _: b"", "not a proof"),
        (STEPS[0], lambda raw: raw.replace(b"old 2", b"old 3"), "other sizes"),
        (STEPS[0], lambda raw: raw.replace(b"old 2", b"old 0"), "other sizes"),
        ("data/timestamps/5.tsr", lambda raw: raw[:-1], "not a timestamp"),
        ("data/timestamps/5.tsr", lambda _: b"", "not a timestamp"),
    ],
    ids=[
        *("empty note", "no text", "long note", "empty proof"),
        *("other size", "no size", "cut stamp", "empty stamp"),
    ],
)
def test_files_that_are_no_such_thing_get_a_verdict(
    name: str, edit: Callable[[bytes], bytes], said: str, pack: Path, pinned: Pinned
) -> None:
    changed(pack, name, edit)
    verdict = check_pack(pack, pinned=pinned)

    assert any(
        said in problem.sentence and problem.where.file == name
        for problem in verdict.problems
    )


def moved(pack: Path, old: str, new: str) -> None:
    (pack / old).rename(pack / new)
    bag_again(pack)


def test_a_checkpoint_under_another_size_is_found(pack: Path, pinned: Pinned) -> None:
    moved(pack, SIGNED[0], "data/checkpoints/3.note")
    verdict = check_pack(pack, pinned=pinned)
    told = {problem.where.file: problem.sentence for problem in verdict.problems}

    assert "covers 2 entries" in told["data/checkpoints/3.note"]
    assert "records a checkpoint that is not there" in told[SIGNED[0]]


def test_a_timestamp_of_another_checkpoint_is_found(pack: Path, pinned: Pinned) -> None:
    moved(pack, "data/timestamps/5.tsr", "data/timestamps/8.tsr")
    told = [p.sentence for p in check_pack(pack, pinned=pinned).problems]
    moved(pack, "data/timestamps/8.tsr", "data/timestamps/7.tsr")
    alone = [p.sentence for p in check_pack(pack, pinned=pinned).problems]

    assert len(told) == len(alone) == 1
    assert "for something else" in told[0]
    assert "no checkpoint that holds for this timestamp" in alone[0]


def test_a_proof_under_another_name_is_found(pack: Path, pinned: Pinned) -> None:
    moved(pack, STEPS[0], "data/consistency/1-5.txt")
    verdict = check_pack(pack, pinned=pinned)
    told = {problem.where.file: problem.sentence for problem in verdict.problems}

    assert "not between two neighbouring" in told["data/consistency/1-5.txt"]
    assert "is missing" in told[STEPS[0]]


def test_a_proof_that_is_missing_is_named(pack: Path, pinned: Pinned) -> None:
    (pack / STEPS[1]).unlink()
    bag_again(pack)
    [problem] = check_pack(pack, pinned=pinned).problems

    assert problem.where.file == STEPS[1]
    assert "is missing" in problem.sentence


@pytest.mark.parametrize(
    "name",
    [
        "data/checkpoints/0.note",
        "data/checkpoints/02.note",
        "data/checkpoints/x.note",
        "data/checkpoints/2.txt",
        "data/consistency/2.txt",
        "data/timestamps/5.der",
    ],
)
def test_a_file_that_has_no_place_beside_the_checkpoints_is_found(
    name: str, pack: Path
) -> None:
    (pack / name).write_bytes(b"x")
    bag_again(pack)

    assert name in {p.where.file for p in check_pack(pack).problems}


def test_a_checkpoint_over_more_entries_than_there_are_is_found(
    pack: Path, signed_ledger: SignedLedger
) -> None:
    text = f"{signed_ledger.key.name}\n99\n" + "A" * 43 + "=\n"
    note = Note(text, (sign(text, signed_ledger.key, private_key("maker")),))
    (pack / "data/checkpoints/99.note").write_text(str(note), encoding="utf-8")
    bag_again(pack)
    first, *others = check_pack(pack).problems

    assert "not that of the first 99 entries" in first.sentence
    assert {p.where.file for p in others} == {"data/consistency/8-99.txt"}


def test_a_checkpoint_signed_by_the_key_of_another_time_is_found(
    pack: Path, signed_ledger: SignedLedger
) -> None:
    """The rotation is entry 6, so the first key signs up to 6 entries."""
    text = (pack / SIGNED[2]).read_text(encoding="utf-8").partition("\n\n")[0] + "\n"
    note = Note(text, (sign(text, signed_ledger.key, private_key("maker")),))
    (pack / SIGNED[2]).write_text(str(note), encoding="utf-8")
    bag_again(pack)
    told = [p.sentence for p in check_pack(pack).problems]

    assert any("is not signed by" in sentence for sentence in told)


def test_a_false_cosignature_of_a_known_witness_is_found(
    pack: Path, signed_ledger: SignedLedger
) -> None:
    private = private_key("witness")
    key = Key("w", Algorithm.COSIGNATURE, private.public_key().public_bytes_raw())
    text = (pack / SIGNED[1]).read_text(encoding="utf-8")
    right = sign(text.partition("\n\n")[0] + "\n", key, private, moment=1_790_000_000)
    false = sign("other\n", key, private, moment=1_790_000_000)
    pinned = Pinned(signed_ledger.key, (key,))

    changed(pack, SIGNED[1], lambda _: (text + f"{right}\n").encode())
    assert any("says witness w" in s for s in check_pack(pack, pinned=pinned).proved)
    changed(pack, SIGNED[1], lambda _: (text + f"{false}\n").encode())
    assert failing(check_pack(pack, pinned=pinned)) == {"signed checkpoints"}
    # A witness that the reader does not know is passed over, as the standard asks.
    assert check_pack(pack).holds


def test_a_cosignature_at_the_end_of_time_gets_a_verdict(
    pack: Path, signed_ledger: SignedLedger
) -> None:
    private = private_key("witness")
    key = Key("w", Algorithm.COSIGNATURE, private.public_key().public_bytes_raw())
    text = (pack / SIGNED[1]).read_text(encoding="utf-8")
    late = sign(text.partition("\n\n")[0] + "\n", key, private, moment=2**64 - 1)
    changed(pack, SIGNED[1], lambda _: (text + f"{late}\n").encode())

    assert check_pack(pack, pinned=Pinned(signed_ledger.key, (key,))).holds


@settings(
    max_examples=60,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    raw=st.binary(max_size=300),
    name=st.sampled_from([*SIGNED, *STEPS, "data/timestamps/5.tsr"]),
)
def test_any_bytes_get_a_verdict(
    raw: bytes, name: str, whole: Path, tmp_path: Path, pinned: Pinned
) -> None:
    pack = tmp_path / "pack"
    if not pack.exists():
        shutil.copytree(whole, pack)
    kept = (pack / name).read_bytes()
    changed(pack, name, lambda _: raw)
    verdict = check_pack(pack, pinned=pinned)
    changed(pack, name, lambda _: kept)

    assert name in {problem.where.file for problem in verdict.problems}


# --- A quick reading for witnesses and folders ----------------------------------------


def test_heads_are_those_of_the_entries(
    whole: Path, signed_ledger: SignedLedger
) -> None:
    read = read_heads(whole, (2, 8, 99))

    assert read.size == 9
    assert set(read.roots) == {2, 8}
    with signed_ledger.reading() as rows:
        leaves = [leaf for (leaf,) in rows("SELECT leaf FROM entry ORDER BY seq")]
    assert read.roots[8] == tree_root(leaves[:8])
    assert [term.since for term in read.terms] == [0, 7]
    assert read_origin(whole) == signed_ledger.key.name


def test_a_pack_without_a_key_has_no_name_to_look_up(small_pack: Path) -> None:
    assert read_origin(small_pack) is None
    assert read_heads(small_pack, ()).terms == ()


def test_a_pack_without_entries_is_said(pack: Path) -> None:
    (pack / "data/entries.jsonl").unlink()

    with pytest.raises(SealError, match="holds no data/entries"):
        read_heads(pack, ())
    assert read_origin(pack) is None
    (pack / "data/entries.jsonl").write_bytes(b"")
    assert read_origin(pack) is None
    assert read_heads(pack, ()).size == 0
    (pack / "data/entries.jsonl").write_bytes(b"{}\n")
    with pytest.raises(LedgerError):
        read_origin(pack)


# --- Timestamps kept beside a ledger ----------------------------------------------------


def test_timestamps_are_kept_by_the_size_of_their_checkpoint(
    signed_ledger: SignedLedger, authority: Authority, tmp_path: Path
) -> None:
    kept = kept_timestamps(signed_ledger.timestamps)
    shutil.copytree(signed_ledger.timestamps, tmp_path / "stamps")
    (tmp_path / "stamps" / "notes.tsr").write_bytes(b"not one of ours")

    assert list(kept) == [5]
    assert kept_timestamps(tmp_path / "stamps") == kept
    assert kept_timestamps(tmp_path / "none") == {}
    assert authority.root.startswith(b"-----BEGIN CERTIFICATE")


def test_a_second_timestamp_does_not_replace_the_first(
    signed_ledger: SignedLedger, authority: Authority, tmp_path: Path
) -> None:
    signed = signed_ledger.signing().signed
    first = authority.answer(timestamp_request(signed.note.text))
    second = authority.answer(timestamp_request(signed.note.text))
    trusted = parse_authorities(authority.root)
    folder = tmp_path / "stamps"
    kept, moment = add_timestamp(folder, (signed,), first, trusted)

    assert kept == signed
    assert moment.tzinfo is UTC or moment.utcoffset() == datetime.now(UTC).utcoffset()  # noqa: TID251
    assert add_timestamp(folder, (signed,), first)[0] == signed
    with pytest.raises(LedgerError, match="has a timestamp already"):
        add_timestamp(folder, (signed,), second)
    with pytest.raises(SealError, match="for none of the checkpoints"):
        add_timestamp(folder, (), first)
