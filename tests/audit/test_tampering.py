"""Any change of a pack is found, and in the right place."""

import shutil
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ledger.audit.check import check_pack
from ledger.audit.enclosed import VERIFIERS
from ledger.audit.verdict import Problem
from tests.audit.forging import edited, files_of

LINED = ("data/entries.jsonl", "data/disclosures.jsonl")
QUICK = settings(
    max_examples=60,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)


def found_in(pack: Path) -> tuple[Problem, ...]:
    verdict = check_pack(pack)
    assert verdict.holds == (not verdict.problems)
    return verdict.problems


def is_located(problems: tuple[Problem, ...], name: str, lines: set[int]) -> bool:
    """Tell whether a file, and in a file of records one of some lines, is named."""
    where = [problem.where for problem in problems if problem.where.file == name]
    if name in LINED:
        return any(place.line in lines for place in where)
    return bool(where)


def lines_at(raw: bytes, place: int) -> set[int]:
    """Return the line a byte stands in, and the next where it ends the line."""
    line = raw[:place].count(b"\n") + 1
    return {line, line + 1} if raw[place : place + 1] in {b"\n", b""} else {line}


def test_an_untouched_pack_holds(small_pack: Path, small_zip: Path) -> None:
    for pack in (small_pack, small_zip):
        verdict = check_pack(pack)

        assert verdict.problems == ()
        assert verdict.holds
        assert verdict.size == 23


def test_every_single_byte_counts(tiny_pack: Path, tmp_path: Path) -> None:
    """Each byte of each file of a tiny pack, one after another.

    Of what every pack encloses, only some: it is long, and known by its digest alone.
    """
    pack = Path(shutil.copytree(tiny_pack, tmp_path / "pack"))
    missed = []
    for name in files_of(pack):
        path = pack / name
        whole = path.read_bytes()
        step = 2003 if name in VERIFIERS else 1
        for place, byte in list(enumerate(whole))[::step]:
            # Every bit is the one that flips at some place.
            flipped = byte ^ (1 << place % 8)
            path.write_bytes(whole[:place] + bytes([flipped]) + whole[place + 1 :])
            if not is_located(found_in(pack), name, lines_at(whole, place)):
                missed.append((name, place))
        path.write_bytes(whole)

    assert missed == []
    assert found_in(pack) == ()


@QUICK
@given(data=st.data())
def test_a_changed_byte_is_located(data: st.DataObject, pack: Path) -> None:
    name = data.draw(st.sampled_from(files_of(pack)))
    whole = (pack / name).read_bytes()
    place = data.draw(st.integers(0, len(whole) - 1))
    byte = data.draw(st.integers(0, 255).filter(lambda value: value != whole[place]))
    edited(pack, name, lambda raw: raw[:place] + bytes([byte]) + raw[place + 1 :])
    problems = found_in(pack)
    (pack / name).write_bytes(whole)

    assert is_located(problems, name, lines_at(whole, place))


@QUICK
@given(data=st.data())
def test_a_removed_byte_is_located(data: st.DataObject, pack: Path) -> None:
    name = data.draw(st.sampled_from(files_of(pack)))
    whole = (pack / name).read_bytes()
    place = data.draw(st.integers(0, len(whole) - 1))
    edited(pack, name, lambda raw: raw[:place] + raw[place + 1 :])
    problems = found_in(pack)
    (pack / name).write_bytes(whole)

    assert is_located(problems, name, lines_at(whole, place))


@QUICK
@given(data=st.data())
def test_an_inserted_byte_is_located(data: st.DataObject, pack: Path) -> None:
    name = data.draw(st.sampled_from(files_of(pack)))
    whole = (pack / name).read_bytes()
    place = data.draw(st.integers(0, len(whole)))
    byte = bytes([data.draw(st.integers(0, 255))])
    edited(pack, name, lambda raw: raw[:place] + byte + raw[place:])
    problems = found_in(pack)
    (pack / name).write_bytes(whole)

    lines = lines_at(whole, place) | lines_at(whole, max(place - 1, 0))
    assert is_located(problems, name, lines)


@QUICK
@given(data=st.data())
def test_swapped_lines_are_located(data: st.DataObject, pack: Path) -> None:
    many = [n for n in files_of(pack) if len((pack / n).read_bytes().splitlines()) > 1]
    name = data.draw(st.sampled_from(many))
    whole = (pack / name).read_bytes()
    lines = whole.splitlines(keepends=True)
    one, other = sorted(
        data.draw(
            st.lists(
                st.integers(0, len(lines) - 1), min_size=2, max_size=2, unique=True
            ).filter(lambda pair: lines[pair[0]] != lines[pair[1]])
        )
    )
    lines[one], lines[other] = lines[other], lines[one]
    (pack / name).write_bytes(b"".join(lines))
    problems = found_in(pack)
    (pack / name).write_bytes(whole)

    assert is_located(problems, name, {one + 1, other + 1})


@QUICK
@given(data=st.data())
def test_a_removed_or_repeated_line_is_located(data: st.DataObject, pack: Path) -> None:
    many = [n for n in files_of(pack) if len((pack / n).read_bytes().splitlines()) > 1]
    name = data.draw(st.sampled_from(many))
    whole = (pack / name).read_bytes()
    lines = whole.splitlines(keepends=True)
    place = data.draw(st.integers(0, len(lines) - 1))
    times = data.draw(st.sampled_from([0, 2]))
    lines[place : place + 1] = lines[place : place + 1] * times
    (pack / name).write_bytes(b"".join(lines))
    problems = found_in(pack)
    (pack / name).write_bytes(whole)

    cut = name == LINED[0] and place == whole.count(b"\n") - 1
    if not times and (cut or name == LINED[1]):
        # A record cut at its end has no line left to point at, and a disclosure that
        # is not shown leaves no gap: both are known by the digest of the file alone.
        assert is_named(problems, name)
    else:
        assert is_located(problems, name, {place + 1, place + 2})


def test_a_missing_file_is_named(small_pack: Path, tmp_path: Path) -> None:
    for name in files_of(small_pack):
        pack = Path(shutil.copytree(small_pack, tmp_path / name.replace("/", "-")))
        (pack / name).unlink()

        assert is_named(found_in(pack), name)


def is_named(problems: tuple[Problem, ...], name: str) -> bool:
    return any(problem.where.file == name for problem in problems)


@pytest.mark.parametrize(
    "name",
    [
        "data/entries2.jsonl",
        "data/reports/another.pdf",
        "data/documents/" + "0" * 64,
        "fetch.txt",
        "manifest-md5.txt",
        ".DS_Store",
    ],
)
def test_an_added_file_is_named(pack: Path, name: str) -> None:
    (pack / name).parent.mkdir(parents=True, exist_ok=True)
    (pack / name).write_bytes(b"")

    assert is_named(found_in(pack), name)


def test_an_emptied_file_is_named(small_pack: Path, tmp_path: Path) -> None:
    for name in files_of(small_pack):
        pack = Path(shutil.copytree(small_pack, tmp_path / name.replace("/", "-")))
        (pack / name).write_bytes(b"")

        assert is_named(found_in(pack), name)
