"""What a maker may try with a pack of a part of the ledger, and what finds it.

Each attack is made by somebody who holds the ledger and the program: the digests of the
bag, and where it helps the figures, are made to fit again.
"""

import json
import shutil
from collections.abc import Sequence
from pathlib import Path

import pytest

from ledger.audit.agreement import compare_packs
from ledger.audit.check import check_pack
from ledger.audit.figure import COMPUTED, Asked, figure_text
from ledger.audit.layout import ENTRIES, FIGURES, TreeHead
from ledger.audit.replay import Replay
from ledger.audit.scope import parse_scope, parse_tree_head
from ledger.audit.source import open_source
from ledger.audit.verdict import Verdict
from ledger.audit.withheld import digest_of_line, entry_or_withheld, withheld_line
from ledger.books.portion import Portion
from ledger.chain.canonical import JsonValue, canonical_bytes
from ledger.chain.entry import parse_entry
from ledger.chain.link import Withheld
from ledger.chain.tree import tree_root
from tests.audit.forging import bag_again
from tests.audit.two_schemes import (
    LAKE,
    RIVER,
    TWO_SCHEMES,
    lines_of,
    part_of,
    place_of,
)
from tests.desk.small_ledger import fill

TWO_CUSTOMERS_SWAPPED = (
    *TWO_SCHEMES[:3],
    TWO_SCHEMES[4],
    TWO_SCHEMES[3],
    *TWO_SCHEMES[5:],
)


@pytest.fixture(scope="session")
def packs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with packs of the whole of one ledger and of parts of it."""
    folder = tmp_path_factory.mktemp("parts")
    fill(folder / "ledger.db", TWO_SCHEMES)
    for name, portion in (
        ("whole", None),
        ("river", RIVER),
        ("lake", LAKE),
        ("sale", Portion(sale="S-1")),
    ):
        part_of(folder / "ledger.db", folder / name, portion)
    return folder


@pytest.fixture
def river(packs: Path, tmp_path: Path) -> Path:
    """A copy of the pack for one scheme, to change."""
    return Path(shutil.copytree(packs / "river", tmp_path / "river"))


def write_lines(pack: Path, lines: Sequence[bytes]) -> None:
    """Write the file of entries, and make the bag fit."""
    (pack / ENTRIES).write_bytes(b"".join(line + b"\n" for line in lines))
    bag_again(pack)


def leave_out(pack: Path, *places: int) -> None:
    """Put digests in the place of entries that are shown, with all they disclose."""
    lines = lines_of(pack)
    for seq in places:
        lines[seq] = withheld_line(Withheld(digest_of_line(lines[seq])))
    path = pack / "data/disclosures.jsonl"
    kept = [
        line
        for line in path.read_bytes().splitlines(keepends=True)
        if json.loads(line)["seq"] not in places
    ]
    path.write_bytes(b"".join(kept))
    write_lines(pack, lines)


def figures_again(pack: Path) -> None:
    """Add the figures up again from what the pack shows, and make the bag fit."""
    scope = parse_scope((pack / FIGURES / "scope.json").read_bytes())
    head = parse_tree_head((pack / "data/tree-head.json").read_bytes())
    given: dict[int, list[str]] = {}
    for line in (pack / "data/disclosures.jsonl").read_bytes().splitlines():
        found = json.loads(line)
        given.setdefault(found["seq"], []).append(found["text"])
    replay = Replay(scope.portion)
    for seq, line in enumerate(lines_of(pack)):
        raw = entry_or_withheld(line)
        if isinstance(raw, bytes):
            replay.judge(parse_entry(raw), given.get(seq, ()))
    asked = Asked(replay.shelf, head, scope.as_of, scope.portion)
    for figure in COMPUTED:
        path = pack / FIGURES / figure.file
        path.write_bytes(figure_text(figure, figure.rows(asked)))
    bag_again(pack)


def broken(verdict: Verdict) -> set[str]:
    """Return which parts of a check do not hold."""
    return {part.name for part in verdict.checked if not part.holds}


def sentences(verdict: Verdict) -> str:
    """Return everything that does not hold as one text."""
    return "\n".join(f"{one.where}: {one.sentence}" for one in verdict.problems)


@pytest.mark.parametrize("name", ["whole", "river", "lake", "sale"])
def test_every_part_holds(packs: Path, name: str) -> None:
    verdict = check_pack(packs / name)

    assert verdict.holds, sentences(verdict)
    assert verdict.root == check_pack(packs / "whole").root


def test_a_part_shows_nothing_that_belongs_to_the_other_scheme(packs: Path) -> None:
    texts = (packs / "river" / ENTRIES).read_text() + (
        packs / "river/data/figures/dues.csv"
    ).read_text()

    assert "S-lake" not in texts
    assert "C-1-lake" not in texts
    assert '"scheme":"lake"' not in texts


def test_dropping_a_line_is_found(river: Path) -> None:
    lines = lines_of(river)
    place = place_of(river, "sale.dispatched", '"S-1"')
    write_lines(river, [*lines[:place], *lines[place + 1 :]])

    assert {"chain of entries", "tree head"} <= broken(check_pack(river))


@pytest.mark.parametrize("what", ["shipment.received", "contract.signed", "batch.made"])
def test_leaving_out_what_others_rest_on_is_refused_by_the_books(
    river: Path, what: str
) -> None:
    leave_out(river, place_of(river, f'"kind":"{what}"'))

    assert "rules of the books" in broken(check_pack(river))


def test_leaving_out_a_sale_is_found_by_the_figures(river: Path) -> None:
    leave_out(river, place_of(river, "sale.dispatched", "S-7"))

    assert broken(check_pack(river)) >= {"balances"}


def test_leaving_out_a_sale_with_figures_that_fit_is_not_found_in_the_pack_alone(
    river: Path,
) -> None:
    place = place_of(river, "sale.dispatched", "S-7")
    leave_out(river, place)
    figures_again(river)
    verdict = check_pack(river)

    assert verdict.holds, sentences(verdict)
    assert any("a digest does not tell" in told for told in verdict.not_checked)


def test_leaving_out_a_sale_with_figures_that_fit_is_found_by_another_pack(
    packs: Path, river: Path
) -> None:
    place = place_of(river, "sale.dispatched", "S-7")
    leave_out(river, place)
    figures_again(river)
    found = compare_packs(river, packs / "whole")

    assert [problem.where.seq for problem in found.part.problems] == [place]
    assert "it belongs to what the pack is about (scheme river)" in (
        found.part.problems[0].sentence
    )


def test_a_pack_of_the_sale_tells_that_the_scheme_leaves_it_out(
    packs: Path, river: Path
) -> None:
    place = place_of(river, "sale.dispatched", '"S-1"')
    leave_out(river, place)
    figures_again(river)
    found = compare_packs(packs / "sale", river)

    assert [problem.where.seq for problem in found.part.problems] == [place]
    assert f"entry {place} of river is left out" in found.part.problems[0].sentence


def test_leaving_out_a_void_sale_and_its_correction_is_found_by_another_pack(
    packs: Path, river: Path
) -> None:
    correction = place_of(river, '"kind":"correction"')
    leave_out(river, correction, 17)
    figures_again(river)
    found = compare_packs(river, packs / "whole")

    assert {problem.where.seq for problem in found.part.problems} == {17, correction}


def test_parts_of_one_ledger_agree(packs: Path) -> None:
    names = ("whole", "river", "lake", "sale")
    found = {
        (one, other): compare_packs(packs / one, packs / other)
        for one in names
        for other in names
    }

    assert all(one.part.holds for one in found.values())
    assert {one.same for one in found.values()} == {len(TWO_SCHEMES)}
    assert found["whole", "river"].seen == 0
    assert found["river", "lake"].seen > 0


def test_an_older_pack_of_a_shorter_ledger_agrees(packs: Path, tmp_path: Path) -> None:
    fill(tmp_path / "ledger.db", TWO_SCHEMES[:-1])
    part_of(tmp_path / "ledger.db", tmp_path / "older", RIVER)
    found = compare_packs(tmp_path / "older", packs / "whole")

    assert found.part.holds
    assert found.same == len(TWO_SCHEMES) - 1


def test_swapping_two_digests_is_found(river: Path) -> None:
    lines = lines_of(river)
    digests = [
        n
        for n, line in enumerate(lines)
        if not isinstance(entry_or_withheld(line), bytes)
    ]
    one, two = digests[0], digests[-1]
    lines[one], lines[two] = lines[two], lines[one]
    write_lines(river, lines)

    assert "tree head" in broken(check_pack(river))


def test_swapping_two_digests_is_found_under_a_tree_head_that_fits(
    packs: Path, river: Path
) -> None:
    lines = lines_of(river)
    places = [
        n
        for n, line in enumerate(lines)
        if isinstance(entry_or_withheld(line), Withheld)
    ]
    # Two neighbours, so that no entry that is shown names the first of them.
    one = next(n for n in places if n + 1 in places)
    lines[one], lines[one + 1] = lines[one + 1], lines[one]
    write_lines(river, lines)
    root_again(river)
    own = check_pack(river)
    kept = parse_tree_head((packs / "river/data/tree-head.json").read_bytes())
    by_neighbour = "chain of entries" in broken(own)
    by_kept = "tree head kept from before" in broken(check_pack(river, kept=kept))
    by_other = not compare_packs(river, packs / "whole").part.holds

    # The last digest before an entry that is shown is named by it; others only stand
    # under the tree head that the reader kept, and in other packs.
    assert by_neighbour == (one + 2 not in places)
    assert by_kept
    assert by_other


def root_again(pack: Path) -> None:
    """Make the tree head, the draw and the figures fit to the lines."""
    root = tree_root(map(digest_of_line, lines_of(pack)))
    head: JsonValue = {"root": root.hex(), "size": len(lines_of(pack))}
    (pack / "data/tree-head.json").write_bytes(canonical_bytes(head) + b"\n")
    figures_again(pack)


def test_changing_an_entry_before_a_digest_is_found(river: Path) -> None:
    lines = lines_of(river)
    place = next(
        n
        for n, line in enumerate(lines[:-1])
        if isinstance(entry_or_withheld(line), bytes)
        and isinstance(entry_or_withheld(lines[n + 1]), Withheld)
        and b"2026-" in line
    )
    lines[place] = lines[place].replace(b"clerk", b"other")
    write_lines(river, lines)
    verdict = check_pack(river)

    assert "tree head" in broken(verdict)
    assert "of which the next line gives only the digest" in sentences(verdict)


def test_an_entry_of_another_ledger_does_not_fit_between_digests(
    river: Path, tmp_path: Path
) -> None:
    fill(tmp_path / "mixed.db", TWO_CUSTOMERS_SWAPPED)
    part_of(tmp_path / "mixed.db", tmp_path / "mixed", None)
    lines, others = lines_of(river), lines_of(tmp_path / "mixed")
    lines[10] = others[10]
    write_lines(river, lines)

    assert {"chain of entries", "tree head"} <= broken(check_pack(river))


def test_packs_of_two_ledgers_do_not_agree(packs: Path, tmp_path: Path) -> None:
    fill(tmp_path / "other.db", TWO_CUSTOMERS_SWAPPED)
    part_of(tmp_path / "other.db", tmp_path / "other", RIVER)
    found = compare_packs(packs / "river", tmp_path / "other")

    assert [problem.where.seq for problem in found.part.problems] == [3]
    assert "one ledger was rewritten from there on" in found.part.problems[0].sentence


def test_a_disclosure_of_an_entry_that_is_left_out_is_refused(
    packs: Path, river: Path
) -> None:
    theirs = (packs / "lake/data/disclosures.jsonl").read_bytes().splitlines()
    own = (river / "data/disclosures.jsonl").read_bytes().splitlines()
    foreign = next(line for line in reversed(theirs) if line not in own)
    both = sorted({*own, foreign}, key=lambda line: json.loads(line)["seq"])
    (river / "data/disclosures.jsonl").write_bytes(
        b"".join(line + b"\n" for line in both)
    )
    bag_again(river)

    assert "sealed values" in broken(check_pack(river))


def test_a_pack_of_the_whole_may_leave_nothing_out(packs: Path, tmp_path: Path) -> None:
    whole = Path(shutil.copytree(packs / "whole", tmp_path / "whole"))
    place = place_of(whole, "sale.dispatched", "S-7")
    leave_out(whole, place)
    figures_again(whole)
    verdict = check_pack(whole)

    assert broken(verdict) == {"chain of entries"}
    assert "says that it shows the whole ledger" in sentences(verdict)


def test_the_first_entry_is_never_left_out(river: Path) -> None:
    leave_out(river, 0)
    verdict = check_pack(river)

    assert "the first entry is not shown" in sentences(verdict)


@pytest.mark.parametrize("portion", [{"scheme": "lake"}, {"sale": "S-1"}, None])
def test_another_part_than_the_entries_are_of_does_not_hold(
    river: Path, portion: dict[str, str] | None
) -> None:
    path = river / FIGURES / "scope.json"
    scope = json.loads(path.read_bytes())
    scope.pop("portion")
    if portion is not None:
        scope["portion"] = portion
    path.write_bytes(canonical_bytes(scope) + b"\n")
    bag_again(river)

    assert not check_pack(river).holds


def test_a_wider_part_than_is_shown_is_found_by_another_pack(
    packs: Path, river: Path
) -> None:
    path = river / FIGURES / "scope.json"
    wider: JsonValue = {"until": "2026-12-31"}
    scope = json.loads(path.read_bytes()) | {"portion": wider}
    path.write_bytes(canonical_bytes(scope) + b"\n")
    figures_again(river)
    found = compare_packs(river, packs / "lake")

    assert check_pack(river).holds
    assert place_of(packs / "lake", "S-lake") in {
        problem.where.seq for problem in found.part.problems
    }


@pytest.mark.parametrize(
    "portion",
    [
        {},
        [],
        "river",
        {"scheme": 1},
        {"sale": "S-1", "scheme": "river"},
        {"from": "soon"},
        {"from": "2026-1-01"},
        {"site": "works"},
    ],
)
def test_a_part_that_is_none_is_refused(river: Path, portion: JsonValue) -> None:
    path = river / FIGURES / "scope.json"
    scope = json.loads(path.read_bytes()) | {"portion": portion}
    path.write_bytes(canonical_bytes(scope) + b"\n")
    bag_again(river)

    assert "scope and tree head" in broken(check_pack(river))


def test_a_kept_tree_head_of_the_whole_holds_for_its_parts(packs: Path) -> None:
    head = parse_tree_head((packs / "whole/data/tree-head.json").read_bytes())

    assert check_pack(packs / "river", kept=TreeHead(head.size, head.root)).holds


def test_what_is_shown_later_is_what_stood_there(packs: Path) -> None:
    with open_source(packs / "river") as source:
        assert source.names
    whole, part = lines_of(packs / "whole"), lines_of(packs / "river")

    assert [digest_of_line(line) for line in whole] == [
        digest_of_line(line) for line in part
    ]
