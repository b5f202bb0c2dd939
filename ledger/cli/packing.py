"""Packing: the export to a certifier, and the report by itself."""

from pathlib import Path
from typing import Annotated

import typer

from ledger.cli.options import AsOfOption, ByOption, LedgerOption, day_given


def add_to(app: typer.Typer) -> None:
    """Add the commands of this module."""
    app.command("pack")(pack)
    app.command("report")(report)


def pack(
    out: Annotated[Path, typer.Argument(help="Zip file or folder to write.")],
    as_of: AsOfOption = None,
    replace: Annotated[
        bool, typer.Option("--replace", help="Overwrite what is there.")
    ] = False,
    ledger: LedgerOption = None,
    by: ByOption = None,
) -> None:
    """Write the audit pack: entries, tree head, figures, reports."""
    from ledger import wiring
    from ledger.desk.pack import make_pack
    from ledger.desk.pack_reports import audit_reports
    from ledger.desk.signed_pack import signed_for_pack

    moment = wiring.now()
    place = wiring.place_of(ledger)
    with wiring.reading(place) as rows:
        made = make_pack(
            rows,
            out=out,
            as_of=day_given(as_of, option="--as-of") or moment.date(),
            made_at=moment,
            made_by=wiring.user_named(by),
            reports=audit_reports,
            signed=signed_for_pack(
                rows,
                file=lambda: place.checkpoints_path,
                timestamps=lambda: place.timestamps_path,
            ),
            replace=replace,
        )
    print(f"wrote {made.path}: {made.size} entries, {made.files} files")
    print(f"tree head {made.root.hex()}")
    if made.size - made.signed > 1:
        print(
            f"only the first {made.signed} entries are signed; run `evenweight checkpoint` "
            "and pack again, so that your certifier can hold you to all of them"
        )
    print("give this tree head to your certifier by another way than the pack")


def report(
    out: Annotated[Path, typer.Argument(help="PDF file to write.")],
    as_of: AsOfOption = None,
    ledger: LedgerOption = None,
    by: ByOption = None,
) -> None:
    """Write the audit report as PDF."""
    from ledger import wiring
    from ledger.desk.report import collect_contents
    from ledger.reports.audit_report import render_audit_report

    moment = wiring.now()
    with wiring.reading(wiring.place_of(ledger)) as rows:
        contents = collect_contents(
            rows,
            as_of=day_given(as_of, option="--as-of") or moment.date(),
            made_at=moment,
            made_by=wiring.user_named(by),
        )
    out.write_bytes(render_audit_report(contents))
    print(f"wrote {out}")
