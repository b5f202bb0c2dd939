"""The demonstration: the main job on the invented scenario, command by command."""

import shutil
import sys
from pathlib import Path
from typing import Annotated

import typer


def add_to(app: typer.Typer) -> None:
    """Add the commands of this module."""

    def demo(
        folder: Annotated[
            Path, typer.Argument(help="Folder to write to; it is emptied.")
        ],
        scenario: Annotated[
            Path, typer.Option(help="Folder with the scenario's files.")
        ] = Path("sample_shipments"),
    ) -> None:
        """Run the main job on the invented scenario, then try to cheat twice."""
        _demonstrate(app, folder, scenario)

    app.command("demo")(demo)


def _demonstrate(app: typer.Typer, folder: Path, scenario: Path) -> None:
    from ledger.desk.demonstration import OVERSALE, TRACED_SALE, edit_behind_the_back

    if folder.exists():
        shutil.rmtree(folder)
    folder.mkdir(parents=True)
    ledger = folder / "ledger.db"
    kept = ["--ledger", str(ledger)]
    _say("Two years of an invented maker's papers, file by file, into a new ledger.")
    _run(app, "record", str(scenario), "--by", "demo", "--quiet", *kept)
    _say("What was certified, what was claimed, what is left to claim.")
    _run(app, "balance", *kept)
    _say("What is owed to growers, and whether it was paid in full and on time.")
    _run(app, "dues", *kept)
    _say("One sale, back to the growers.")
    _run(app, "trace", TRACED_SALE, "--svg", str(folder / "trace.svg"), *kept)
    _say("The stored ledger: every byte, link and digest.")
    _run(app, "verify", *kept)
    _say("The pack for the certifier, and its check on the pack alone.")
    pack = str(folder / "pack.zip")
    _run(app, "pack", pack, "--by", "demo", *kept)
    _run(app, "check", pack)
    _say("Now a sale of more than was certified.")
    oversale = folder / "oversale.yaml"
    oversale.write_text(OVERSALE, encoding="utf-8")
    _run(app, "record", str(oversale), "--by", "demo", "--quiet", *kept, refused=True)
    _say("And an edit of a stored entry, straight in the database.")
    print("   " + edit_behind_the_back(f"sqlite:///{ledger}"))
    print(
        f"\nLedger, pack and drawing are in {folder}. The report is in the pack as PDF."
    )


def _say(sentence: str) -> None:
    print(f"\n== {sentence}", flush=True)


def _run(app: typer.Typer, *words: str, refused: bool = False) -> None:
    """Run one command as a person would type it.

    Raises:
        LedgerError: It was refused though it should not have been.
        RuntimeError: It was let in though it should have been refused.
    """
    from ledger.errors import LedgerError

    print(f"$ evenweight {' '.join(words)}", flush=True)
    try:
        app(list(words), standalone_mode=False)
    except LedgerError as error:
        if not refused:
            raise
        print(f"   refused: {error}")
        return
    finally:
        sys.stdout.flush()
    if refused:
        raise RuntimeError(f"evenweight {' '.join(words)} should have been refused")
