"""Files of entries, YAML or CSV, each recorded whole or not at all."""

from typing import Annotated, Final

from fastapi import Body, Query
from starlette.responses import Response

from ledger.desk.folder import FileOutcome, record_file, record_files
from ledger.trade.scope import Scope
from ledger.web.access import MAKER
from ledger.web.api.call import Call
from ledger.web.api.caller import Calling
from ledger.web.api.entry_model import FileNote, RecordedFile
from ledger.web.api.once import once

_YAML: Final = "application/yaml"
_CSV: Final = "text/csv"
_LONGEST: Final = 1024 * 1024

FileName = Annotated[
    str,
    Query(
        min_length=1,
        max_length=200,
        description="Name of the file; it ends in .yaml, .yml or .csv, and stands in "
        "sentences about it",
        examples=["2026-10-arrivals.yaml"],
    ),
]
FileText = Annotated[bytes, Body(media_type=_YAML)]


def record_whole_file(caller: Calling, name: FileName, raw: FileText) -> Response:
    """Record a file of entries: all of them, or none."""
    return once(caller, lambda writing: _told(record_file(writing, name, raw)))


def foresee_file(caller: Calling, name: FileName, raw: FileText) -> RecordedFile:
    """Return what recording a file would do; nothing is recorded."""
    (found,) = record_files(caller.writing, [(name, raw)], dry_run=True)
    return _told(found)


def _told(found: FileOutcome) -> RecordedFile:
    if found.refusal is not None:
        raise found.refusal
    return RecordedFile(
        name=found.name,
        entries=found.entries,
        first=found.first_seq or 0,
        warnings=[
            FileNote(
                rule=one.finding.rule,
                field=one.finding.field,
                message=one.finding.message,
                where=one.where,
                entry=one.seq,
            )
            for one in found.warnings
        ],
    )


_EXAMPLE: Final = {
    "name": "moved.yaml",
    "body": "kind: lot.moved\non: 2026-09-30\nlot: BU-03\nto_place: cold-store\n",
}

CALLS: Final = (
    Call(
        "POST",
        "/files",
        record_whole_file,
        RecordedFile,
        MAKER,
        Scope.RECORD,
        "Files",
        takes=(_YAML, _CSV),
        once=True,
        status=201,
        longest=_LONGEST,
        example=_EXAMPLE,
    ),
    Call(
        "POST",
        "/preview/files",
        foresee_file,
        RecordedFile,
        MAKER,
        Scope.RECORD,
        "Files",
        takes=(_YAML, _CSV),
        longest=_LONGEST,
        example=_EXAMPLE,
    ),
)
