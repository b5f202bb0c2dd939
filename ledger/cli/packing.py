"""Packing: the export to a certifier, and the report by itself."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ledger.cli.giving import refuse_ledger, write_to
from ledger.cli.options import AsOfOption, ByOption, LedgerOption, day_given
from ledger.cli.show import Shape, show

if TYPE_CHECKING:
    from ledger.desk.pack import Packed, Wanted
    from ledger.store.rows import Rows
    from ledger.trade.profile import Profile


def add_to(app: typer.Typer) -> None:
    """Add the commands of this module."""
    app.command("pack")(pack)
    app.command("report")(report)


def pack(
    out: Annotated[
        Path | None,
        typer.Argument(help="Zip file or folder to write.", show_default=False),
    ] = None,
    *,
    as_of: AsOfOption = None,
    scheme: Annotated[
        str | None,
        typer.Option(
            help="Show only what concerns this scheme; of other entries a digest.",
            show_default=False,
        ),
    ] = None,
    since: Annotated[
        str | None,
        typer.Option(
            "--from",
            metavar="DATE",
            help="Show only what happened on this trade date or later, and what that "
            "rests on.",
            show_default=False,
        ),
    ] = None,
    until: Annotated[
        str | None,
        typer.Option(
            metavar="DATE",
            help="Show only what happened on this trade date or earlier.",
            show_default=False,
        ),
    ] = None,
    sale: Annotated[
        str | None,
        typer.Option(
            help="Show only this sale and where its goods came from.",
            show_default=False,
        ),
    ] = None,
    profile: Annotated[
        Path | None,
        typer.Option(
            help="YAML file that says which sealed values the reader sees.",
            show_default=False,
        ),
    ] = None,
    preview: Annotated[
        bool,
        typer.Option(
            "--preview", help="Write nothing; print what the reader will see."
        ),
    ] = False,
    replace: Annotated[
        bool, typer.Option("--replace", help="Overwrite what is there.")
    ] = False,
    ledger: LedgerOption = None,
    by: ByOption = None,
) -> None:
    """Write the audit pack: entries, tree head, figures, reports.

    It shows the whole ledger, or a part of it that gives the same figures by itself.
    """
    from ledger import wiring
    from ledger.desk.pack import Wanted, make_pack
    from ledger.desk.pack_reports import audit_reports
    from ledger.desk.papers import papers_for_pack
    from ledger.desk.portion import portion_asked
    from ledger.desk.signed_pack import signed_for_pack

    if (out is None) != preview:
        raise typer.BadParameter(
            "name the zip file or folder to write, or give --preview to write nothing"
        )
    refuse_ledger(out)
    moment = wiring.now()
    portion = portion_asked(
        scheme=scheme,
        since=day_given(since, option="--from"),
        until=day_given(until, option="--until"),
        sale=sale,
    )
    last = portion.until if portion is not None else None
    wanted = Wanted(
        as_of=day_given(as_of, option="--as-of")
        or min(last or moment.date(), moment.date()),
        portion=portion,
        profile=None if profile is None else _profile_in(profile),
    )
    place = wiring.place_of(ledger)
    with wiring.reading(place) as rows:
        if out is None:
            _print_preview(rows, wanted)
            return
        made = make_pack(
            rows,
            out=out,
            as_of=wanted.as_of,
            made_at=moment,
            made_by=wiring.user_named(by),
            portion=wanted.portion,
            profile=wanted.profile,
            reports=audit_reports,
            documents=papers_for_pack(rows, lambda: place.papers_path),
            signed=signed_for_pack(
                rows,
                file=lambda: place.checkpoints_path,
                timestamps=lambda: place.timestamps_path,
            ),
            replace=replace,
        )
    _print_packed(made)


def _profile_in(path: Path) -> "Profile":
    from ledger.intake.folder import read_bytes
    from ledger.intake.profile_file import read_profile

    return read_profile(path.name, read_bytes(path))


def _print_preview(rows: "Rows", wanted: "Wanted") -> None:
    from ledger.desk.preview import preview, preview_tables

    print(f"part: {wanted.portion or 'the whole ledger'}, as of {wanted.as_of}")
    for table in preview_tables(preview(rows, wanted)):
        show(table, Shape.TABLE)


def _print_packed(made: "Packed") -> None:
    parts = "" if made.shown == made.size else f", {made.shown} of them shown"
    print(f"wrote {made.path}: {made.size} entries{parts}, {made.files} files")
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
    from ledger.desk.attached import attached_to_report
    from ledger.desk.report import collect_contents
    from ledger.reports.audit_report import render_audit_report

    moment = wiring.now()
    day = day_given(as_of, option="--as-of") or moment.date()
    author = wiring.user_named(by)
    with wiring.reading(wiring.place_of(ledger)) as rows:
        contents = collect_contents(rows, as_of=day, made_at=moment, made_by=author)
        attached = attached_to_report(rows, as_of=day, made_at=moment, made_by=author)
    write_to(out, render_audit_report(contents, attached))
    print(f"wrote {out}")
