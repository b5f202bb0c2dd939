"""The demonstration: the main job on the invented scenario, command by command."""

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated

import typer

_FIRST_WRITTEN = "oversale.yaml"
"""File by which a folder is known as a demonstration's own."""


def add_to(app: typer.Typer) -> None:
    """Add the commands of this module."""

    def demo(
        folder: Annotated[
            Path,
            typer.Argument(
                help="Folder to write to: a new one, or one that an earlier run left, "
                "which is emptied."
            ),
        ],
        scenario: Annotated[
            Path, typer.Option(help="Folder with the scenario's files.")
        ] = Path("sample_shipments"),
    ) -> None:
        """Run the main job on the invented scenario, then try to cheat twice."""
        _demonstrate(app, folder, scenario)

    app.command("demo")(demo)


def _demonstrate(app: typer.Typer, folder: Path, scenario: Path) -> None:
    from ledger.desk.demonstration import COUNTED, OVERSALE, edit_behind_the_back

    oversale = folder / _FIRST_WRITTEN
    _clear(folder, scenario)
    ledger = folder / "ledger.db"
    oversale.write_text(OVERSALE, encoding="utf-8")
    counted = folder / "counted.yaml"
    counted.write_text(COUNTED, encoding="utf-8")
    for chapters in (_chapters(folder, scenario), _second_visit(folder, counted)):
        for sentence, words in chapters:
            print(f"\n== {sentence}", flush=True)
            _run(app, *words, ledger=ledger)
    print("\n== Now a sale of more than was certified.")
    words = ("record", str(oversale), "--by", "demo", "--quiet")
    _run(app, *words, ledger=ledger, refused=True)
    print("\n== And an edit of a stored entry, straight in the database.")
    print("   " + edit_behind_the_back(f"sqlite:///{ledger}"))
    print(
        f"\nLedger, pack and drawing are in {folder}; the report is in the pack as PDF.\n"
        f"To see it in a browser, with a link for each of five people: make serve"
    )


def _clear(folder: Path, scenario: Path) -> None:
    """Make the folder, or empty it if an earlier demonstration left it.

    Raises:
        InputError: It holds something else, which stays, or there is no scenario.
    """
    from ledger.desk.demonstration import OVERSALE
    from ledger.errors import InputError

    if not scenario.is_dir():
        raise InputError(
            f"scenario is {scenario}, but there is no such folder; run this where "
            "sample_shipments/ lies, or name that folder with --scenario"
        )
    left = folder / _FIRST_WRITTEN
    try:
        if left.is_file() and left.read_bytes() == OVERSALE.encode():
            shutil.rmtree(folder)
        folder.mkdir(parents=True, exist_ok=True)
        holds_other = any(folder.iterdir())
    except OSError as error:
        raise InputError(
            f"folder is {folder}, which cannot be written to ({error.strerror}); name "
            "another one"
        ) from error
    if holds_other:
        raise InputError(
            f"folder is {folder}, which holds files that no demonstration left there; "
            "name a new folder, so that nothing of them is lost"
        )


def _chapters(folder: Path, scenario: Path) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Yield what is shown, and the command that shows it."""
    from ledger.desk.demonstration import TRACED_SALE

    pack = str(folder / "pack.zip")
    yield (
        "Two years of an invented maker's papers, file by file, into a new ledger.",
        ("record", str(scenario), "--by", "demo", "--quiet"),
    )
    yield "What was certified, what was claimed, what is left to claim.", ("balance",)
    yield (
        "What is owed to growers, and whether it was paid in full and on time.",
        ("dues",),
    )
    yield (
        "One sale, back to the growers.",
        ("trace", TRACED_SALE, "--svg", str(folder / "trace.svg")),
    )
    yield "The stored ledger: every byte, link and digest.", ("verify",)
    certifier = str(folder / "certifier")
    yield (
        "Before the first visit: the certifier takes down the maker's key, in person.",
        ("enrol", certifier, "--maker", "wrenlock", "--key", _key_of(folder)),
    )
    yield (
        "The tree head, signed with that key: a checkpoint, sent out the same day.",
        ("checkpoint", "--out", str(folder / "last.note"), "--by", "demo"),
    )
    yield "The pack for the certifier.", ("pack", pack, "--by", "demo")
    yield (
        "The certifier's check, on the pack and the certifier's own folder alone.",
        ("check", pack, "--folder", certifier),
    )


def _second_visit(folder: Path, counted: Path) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Yield what an accountant witnesses, and the check of a later pack."""
    from ledger.desk.demonstration import TRACED_SALE
    from ledger.desk.witness import line_file

    last, cosigned = str(folder / "last.note"), str(folder / "cosigned.note")
    accountant, key = str(folder / "accountant"), folder / "accountant.key"
    name = "accountant.example"
    yield (
        "An accountant makes a key, to sign with what was seen.",
        ("witness-key", str(key), "--name", name),
    )
    line = line_file(key).read_text(encoding="utf-8").strip()
    yield (
        "The accountant takes down the maker's key, too, in a folder of their own.",
        ("enrol", accountant, "--maker", "wrenlock", "--key", _key_of(folder)),
    )
    pack = str(folder / "pack.zip")
    yield (
        "The accountant compares the checkpoint with the entries, and cosigns it.",
        (
            *("witness", last, "--pack", pack, "--state", accountant),
            *("--key", str(key), "--out", cosigned),
        ),
    )
    yield (
        "The maker keeps the cosignature: two people now saw the same history.",
        ("add-cosignature", cosigned, "--key", line),
    )
    yield "Later something is recorded,", ("record", str(counted), "--by", "demo")
    yield "and signed.", ("checkpoint", "--by", "demo", "--out", f"{folder}/next.note")
    second = str(folder / "sale.zip")
    yield (
        "A pack of one sale alone; of all other entries it shows a digest.",
        ("pack", second, "--sale", TRACED_SALE, "--by", "demo"),
    )
    yield (
        "Checked with what is known from before: the last checkpoint, both keys.",
        ("check", second, "--last", last, "--key", _key_of(folder), "--witness", line),
    )


def _key_of(folder: Path) -> str:
    from ledger import wiring
    from ledger.desk.signed import keys_of

    with wiring.reading(wiring.place_of(str(folder / "ledger.db"))) as rows:
        return str(keys_of(rows)[-1].key)


_WITHOUT_LEDGER = frozenset({"check", "enrol", "witness", "witness-key"})


def _run(
    app: typer.Typer, verb: str, *words: str, ledger: Path, refused: bool = False
) -> None:
    """Run one command as a person would type it.

    Raises:
        LedgerError: It was refused though it should not have been.
        RuntimeError: It was let in though it should have been refused.
    """
    from ledger.errors import LedgerError

    kept = () if verb in _WITHOUT_LEDGER else ("--ledger", str(ledger))
    typed = (verb, *words, *kept)
    print(f"$ evenweight {' '.join(typed)}", flush=True)
    try:
        app(list(typed), standalone_mode=False)
    except LedgerError as error:
        if not refused:
            raise
        print(f"   refused: {error}")
        return
    if refused:
        raise RuntimeError(f"evenweight {' '.join(typed)} should have been refused")
