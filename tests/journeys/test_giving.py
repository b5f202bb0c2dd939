"""What a command writes is never written over the record, or over what signs it."""

from pathlib import Path

import pytest

from tests.journeys.conftest import Run


@pytest.mark.parametrize(
    "words",
    [
        ("report", "{out}"),
        ("trace", "SA-0122", "--svg", "{out}"),
        ("balance", "--xlsx", "{out}"),
        ("checkpoint", "--out", "{out}"),
        ("pack", "{out}", "--replace"),
    ],
    ids=lambda words: words[0],
)
@pytest.mark.parametrize("over", ["ledger.db", "ledger.db.key", "old.checkpoints"])
def test_nothing_is_written_over_a_ledger_or_what_is_kept_beside_it(
    run: Run, ledger: Path, words: tuple[str, ...], over: str
) -> None:
    out = ledger.with_name(over)
    if not out.exists():
        out.write_text("kept", "utf-8")
    before = out.read_bytes()
    ran = run(*(word.format(out=out) for word in words), "--ledger", ledger)

    assert ran.status != 0
    assert f"{out} is a ledger, or what is kept beside one" in ran.err
    assert out.read_bytes() == before


def test_a_picture_made_before_is_drawn_again(
    run: Run, ledger: Path, tmp_path: Path
) -> None:
    out = tmp_path / "trace.svg"
    out.write_text("an older one", "utf-8")
    ran = run("trace", "SA-0122", "--svg", out, "--ledger", ledger)

    assert ran.status == 0
    assert out.read_bytes().startswith(b"<svg")
