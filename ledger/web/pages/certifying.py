"""The certifier's desk: what may be seen, and whether it continues what was kept."""

from typing import Final

from starlette.responses import Response

from ledger.desk.in_sight import count_in_sight
from ledger.desk.kept import continues, kept_in
from ledger.desk.signed import extension_from, signed_so_far
from ledger.desk.window import portion_of
from ledger.errors import InputError, LedgerError
from ledger.store.entries import frontier
from ledger.web.access import CERTIFIER
from ledger.web.asked import Asked
from ledger.web.door import status_of
from ledger.web.page import Page
from ledger.web.report import download

_LONGEST_NUMBER: Final = 15


def show_desk(asked: Asked) -> Response:
    """Show what the certifier may see."""
    return _desk(asked)


def compare(asked: Asked) -> Response:
    """Hold the ledger against the checkpoint that the certifier kept."""
    uploads = asked.uploads("file")
    given = asked.text("kept")
    if uploads:
        given = uploads[0].file.read(8_192).decode("utf-8", "replace")
    try:
        if not given:
            raise InputError(
                "nothing was given to compare with; paste the last checkpoint that you "
                "kept, or choose its file"
            )
        with asked.office.rows() as rows:
            found = continues(rows, kept_in(given))
    except LedgerError as error:
        return _desk(asked, status=status_of(error), sentence=str(error), given=given)
    return _desk(asked, found=found, given=given)


def give_checkpoint(asked: Asked) -> Response:
    """Hand out the last signed checkpoint, with the proof that it continues another."""
    given = asked.query("after") or "0"
    if not given.isdecimal() or len(given) > _LONGEST_NUMBER:
        raise InputError(
            f"after is {given!r}; it must be the number of entries that the checkpoint "
            "you kept covers"
        )
    with asked.office.rows() as rows:
        made = extension_from(rows, asked.office.place.checkpoints_path, int(given))
    if int(given):
        return download(str(made).encode(), f"proof-{given}.txt", "text/plain")
    name = f"checkpoint-{made.signed.size}.txt"
    return download(str(made.signed.note).encode(), name, "text/plain")


def _desk(
    asked: Asked,
    *,
    status: int = 200,
    sentence: str = "",
    found: object = None,
    given: str = "",
) -> Response:
    place, window = asked.office.place, asked.person.window
    with asked.books() as books:
        seen = count_in_sight(books, portion_of(window))
    with asked.office.rows() as rows:
        signed = signed_so_far(rows, lambda: place.checkpoints_path)
        tree = frontier(rows)
    return asked.page(
        "certifier.html",
        status=status,
        window=window,
        as_of=asked.as_of(),
        seen=seen,
        signed=signed,
        size=tree.size,
        root=tree.root().hex(),
        found=found,
        given=given,
        sentence=sentence,
    )


PAGES: Final = (
    Page("GET", "/certifier", show_desk, CERTIFIER, menu="Certifier's desk"),
    Page("POST", "/certifier", compare, CERTIFIER),
    Page("GET", "/certifier/checkpoint", give_checkpoint, CERTIFIER),
)
