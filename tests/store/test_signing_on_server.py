"""A ledger on a server signs with a key whose file a setting names."""

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.journeys.conftest import run_command

OPEN = (
    *("open", "--organisation", "maker", "--name", "Invented Maker", "--site", "works"),
    *("--place", "Works Lane 1", "--country", "CH", "--on", "2025-01-02"),
)


def test_a_server_keeps_neither_the_key_nor_what_was_signed(
    new_postgresql: Callable[[], str],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    ledger = ("--ledger", new_postgresql())
    monkeypatch.setenv("EVENWEIGHT_USER", "buyer-1")
    monkeypatch.delenv("EVENWEIGHT_KEY", raising=False)
    monkeypatch.delenv("EVENWEIGHT_PASSPHRASE", raising=False)
    nowhere = run_command((*OPEN, *ledger))
    said = capsys.readouterr().err
    monkeypatch.setenv("EVENWEIGHT_KEY", str(tmp_path / "maker.key"))
    opened = run_command((*OPEN, *ledger))
    line = capsys.readouterr().out.strip()
    steps = [
        run_command((*words, *ledger))
        for words in (
            ("checkpoint", "--out", tmp_path / "1.note"),
            ("verify",),
            ("rotate-key", "--reason", "every second year"),
            ("checkpoint",),
            ("pack", tmp_path / "pack"),
        )
    ]
    steps.append(run_command(("check", tmp_path / "pack", "--key", line)))

    assert nowhere == 2
    assert "name the key's file in EVENWEIGHT_KEY" in said
    assert (opened, steps) == (0, [0] * 6)
    assert {path.name for path in tmp_path.iterdir()} == {
        *("maker.key", "maker.key.old1", "maker.checkpoints", "1.note", "pack"),
    }
