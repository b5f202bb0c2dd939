"""The command `evenweight`: what was asked, and how it ended."""

import sys
from io import TextIOWrapper

import typer

from ledger.cli import (
    attaching,
    auditing,
    charting,
    check,
    demonstration,
    erasing,
    figures,
    opening,
    owing,
    packing,
    readiness,
    recalling,
    receipts,
    recording,
    serving,
    signing,
    tracing,
    upkeep,
    verifying,
    witnessing,
)
from ledger.errors import InputError, LedgerError

app = typer.Typer(
    name="evenweight",
    help="A certified-supply traceability ledger for bean-to-bar chocolate makers.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)
for verbs in (
    opening,
    recording,
    attaching,
    signing,
    receipts,
    witnessing,
    figures,
    owing,
    tracing,
    charting,
    readiness,
    auditing,
    recalling,
    packing,
    check,
    verifying,
    upkeep,
    erasing,
    demonstration,
    serving,
):
    verbs.add_to(app)


def main() -> None:
    """Run the command line; a refusal is one sentence, and the exit status says so."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            # A terminal that lacks a character gets its code, not half of the answer.
            stream.reconfigure(errors="backslashreplace")
    try:
        app()
    except LedgerError as error:
        print(f"evenweight: {error}", file=sys.stderr)
        sys.exit(error.exit_status)
    except PermissionError as error:
        # Every look at a file may meet it, so it is said here for all of them.
        print(
            f"evenweight: {error.filename} may not be opened ({error.strerror}); check who "
            "may read it and the folders it lies in",
            file=sys.stderr,
        )
        sys.exit(InputError.exit_status)
    except BrokenPipeError:
        sys.stderr.close()
        sys.exit(0)


if __name__ == "__main__":
    main()
