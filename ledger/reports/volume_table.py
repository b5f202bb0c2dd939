"""Volumes of a quarter by form: as weighed, and in bean equivalent."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import asdict
from fractions import Fraction
from typing import Final

from ledger.books.volume import QuarterVolumes, Volume
from ledger.reports.balance_table import balance_table
from ledger.reports.figures import mass_text
from ledger.reports.tables import Column, Table

WEIGHED: Final = "as weighed"
BEANS: Final = "bean equivalent"
_COLUMNS: Final = {
    "opening_kg": "Opening",
    "bought_with_claim_kg": "+ Bought with claim",
    "bought_without_claim_kg": "+ Bought without",
    "made_kg": "+ Made",
    "used_kg": "- Used",
    "lost_kg": "- Lost",
    "sold_with_claim_kg": "- Sold with claim",
    "sold_without_claim_kg": "- Sold without",
    "returned_with_claim_kg": "+ Returned with claim",
    "returned_without_claim_kg": "+ Returned without",
    "written_off_kg": "- Written off",
    "corrected_kg": "+ Corrected",
    "in_stock_kg": "= In stock",
}
"""Columns with the sign with which they count."""
ROUNDED: Final = "Bean equivalents are shown to the nearest gram; what counts is exact."


def volumes_table(found: Iterable[QuarterVolumes], measures: Iterable[str]) -> Table:
    """Return the volumes of a quarter, one form, measure and scheme a row.

    Args:
        found: Volumes by scheme.
        measures: `WEIGHED`, `BEANS` or both.
    """
    volumes, shown = tuple(found), tuple(measures)
    quarter = f", {volumes[0].quarter}" if volumes else ""
    return Table(
        title=f"Cocoa volumes{quarter}, kg {' and '.join(shown)}",
        columns=(
            Column("quarter", "Quarter", width=8, is_detail=True),
            Column("scheme", "Scheme", width=12),
            Column("measure", "Measure", width=10, is_detail=True),
            Column("form", "Form", width=12),
            *(
                Column(key, heading, is_figure=True, width=11)
                for key, heading in _COLUMNS.items()
            ),
        ),
        rows=[
            row for one in volumes for measure in shown for row in _rows(one, measure)
        ],
        notes=[note for one in volumes for note in _notes(one, shown)],
    )


def volume_sheet(found: QuarterVolumes, measure: str) -> Table:
    """Return the volumes of one scheme in one measure, one form a column."""
    volumes = (*found.volumes, found.whole)
    return Table(
        title=f"Cocoa volumes, {found.quarter}, {found.scheme}, kg {measure}",
        columns=(
            Column("what", "What", width=18),
            *(
                Column(name, name.capitalize(), is_figure=True, width=11)
                for name in (volume.form or "all" for volume in volumes)
            ),
        ),
        rows=[
            (heading, *(mass_text(_grams(volume, measure)[key]) for volume in volumes))
            for key, heading in _COLUMNS.items()
        ],
        notes=list(_notes(found, (measure,))),
    )


def accounts_table(found: QuarterVolumes) -> Table:
    """Return the accounts of the scheme over the quarter."""
    quarter = found.quarter
    return balance_table(found.accounts, since=quarter.first, until=quarter.last)


def _rows(one: QuarterVolumes, measure: str) -> Iterator[tuple[str, ...]]:
    for volume in (*one.volumes, one.whole):
        grams = _grams(volume, measure)
        yield (
            str(one.quarter),
            one.scheme,
            measure,
            volume.form or "all",
            *(mass_text(grams[key]) for key in _COLUMNS),
        )


def _grams(volume: Volume, measure: str) -> Mapping[str, Fraction]:
    """Return the columns of a volume in one measure, in grams."""
    if measure == BEANS:
        everything, claimed = volume.all_beans, volume.claimed_beans
    else:
        everything = {key: Fraction(g) for key, g in asdict(volume.all).items()}
        claimed = {key: Fraction(g) for key, g in asdict(volume.claimed).items()}
    parted = {}
    for name in ("bought", "sold", "returned"):
        parted[f"{name}_with_claim_kg"] = claimed[f"{name}_g"]
        parted[f"{name}_without_claim_kg"] = (
            everything[f"{name}_g"] - claimed[f"{name}_g"]
        )
    whole = {key.replace("_g", "_kg"): grams for key, grams in everything.items()}
    return {**whole, **parted, "in_stock_kg": everything["closing_g"]}


def _notes(one: QuarterVolumes, measures: tuple[str, ...]) -> Iterator[str]:
    if one.corrected:
        entries = ", ".join(map(str, one.corrected))
        yield (
            f"Corrected after the quarter was closed, by entries {entries}: masses stand "
            "as they were signed off, claims as they count now. What was reported at the "
            "time may differ; the scheme says whether to report again."
        )
    if BEANS in measures:
        yield (
            f"Bean equivalent by the factors of {one.scheme} {one.terms} on "
            f"{one.quarter.last}. {ROUNDED} Making does not add up in bean equivalent: "
            "factors count it otherwise than it happened."
        )
        if one.without_factor:
            yield (
                f"The terms of {one.scheme} have no factor for "
                f"{', '.join(one.without_factor)}, which is left out of bean equivalent."
            )
