"""Signing: what was signed and who saw it, another checkpoint, and whether all holds."""

from typing import Final

from starlette.responses import Response

from ledger import wiring
from ledger.chain.checkpoint import SignedCheckpoint, parse_signed
from ledger.chain.note import parse_key
from ledger.desk.checkpoint import sign_checkpoint
from ledger.desk.readiness import signed_and_seen
from ledger.desk.signed import keys_of, recorded_checkpoints, signed_before
from ledger.desk.timestamp import kept_timestamps
from ledger.desk.verify import Verified, verify
from ledger.desk.witness import add_cosignature
from ledger.errors import LedgerError, NotFoundError
from ledger.store.rows import Rows
from ledger.web.access import COMPLIANCE
from ledger.web.asked import Asked
from ledger.web.entry_form import NOTHING_WRONG, Wrong, wrong_with
from ledger.web.page import Page
from ledger.web.report import download

NOTE: Final = "text/plain; charset=utf-8"


def show_checkpoints(asked: Asked) -> Response:
    """Show what was signed, and who saw it."""
    return _show(asked)


def _show(
    asked: Asked, *, wrong: Wrong = NOTHING_WRONG, verified: Verified | None = None
) -> Response:
    place = asked.office.place
    with asked.office.rows() as rows:
        signed = signed_and_seen(
            rows, lambda: place.checkpoints_path, lambda: place.timestamps_path
        )
        kept = _kept(asked, rows)
        try:
            key = str(keys_of(rows)[-1].key)
        except NotFoundError:
            key = ""
    return asked.page(
        "checkpoints.html",
        status=wrong.status,
        signed=signed,
        kept=[(one, _witnesses(one)) for one in reversed(kept)],
        stamped=_stamped(asked) if kept else frozenset(),
        key=key,
        is_locked=bool(key) and _is_locked(asked),
        wrong=wrong,
        typed=asked.form,
        verified=verified,
    )


def _kept(asked: Asked, rows: Rows) -> tuple[SignedCheckpoint, ...]:
    """Return what was signed, with its witnesses; without them if the file is no good."""
    try:
        return signed_before(rows, asked.office.place.checkpoints_path).checkpoints
    except LedgerError:
        return recorded_checkpoints(rows)


def _stamped(asked: Asked) -> frozenset[int]:
    """Return the sizes of the checkpoints that an authority stamped."""
    try:
        return frozenset(kept_timestamps(asked.office.place.timestamps_path))
    except LedgerError:
        return frozenset()


def _witnesses(signed: SignedCheckpoint) -> list[str]:
    """Return who else signed a checkpoint; each was checked when it was taken in."""
    own = signed.checkpoint.origin
    return sorted({one.name for one in signed.note.signatures if one.name != own})


def _is_locked(asked: Asked) -> bool:
    try:
        return wiring.is_locked(asked.office.place.key_path)
    except LedgerError:
        return False


def sign(asked: Asked) -> Response:
    """Sign all that is recorded, if it extends what was signed before."""
    place = asked.office.place
    try:
        private = wiring.private_key(
            place.key_path,
            may_ask=False,
            typed=asked.secret("passphrase").encode() or None,
        )
        with asked.writing() as writing:
            made = sign_checkpoint(
                writing, place.checkpoints_path, private, on=asked.office.today()
            )
    except LedgerError as error:
        return _show(asked, wrong=wrong_with(error))
    size = made.signed.size
    if not made.is_new:
        return _back(
            asked,
            asked.tongue.says(
                f"Nothing was recorded since; the checkpoint over {size} entries stands."
            ),
        )
    return _back(
        asked,
        asked.tongue.says(
            f"Entries that are signed now: {size}. Give the note to your certifier now, "
            "and to a witness."
        ),
    )


def _back(asked: Asked, said: str) -> Response:
    return asked.away("/checkpoints", said=said)


def take_cosignature(asked: Asked) -> Response:
    """Keep what a witness gave back, if it holds under the witness's key."""
    place = asked.office.place
    try:
        given = parse_signed(_lines(asked.secret("note")))
        known = parse_key(asked.text("key"))
        with asked.office.rows() as rows:
            before = signed_before(rows, place.checkpoints_path)
        moment = add_cosignature(
            place.checkpoints_path, before.checkpoints, given, known
        )
    except LedgerError as error:
        return _show(asked, wrong=wrong_with(error))
    moment_said = f"{moment:%Y-%m-%d %H:%M} UTC"
    return _back(
        asked,
        asked.tongue.says(f"{known.name} saw {given.size} entries by {moment_said}."),
    )


def _lines(typed: str) -> str:
    """Return a note as it was before a form ended its lines in its own way (HTML)."""
    return typed.replace("\r\n", "\n").strip("\n") + "\n"


def verify_all(asked: Asked) -> Response:
    """Check the ledger from its stored bytes."""
    with asked.office.rows() as rows:
        found = verify(rows)
    return _show(asked, verified=found)


def give_note(asked: Asked) -> Response:
    """Give the signed note of a checkpoint, with all signatures under it."""
    with asked.office.rows() as rows:
        kept = _kept(asked, rows)
    for one in kept:
        if str(one.size) == asked.part("size"):
            return download(str(one.note).encode(), f"checkpoint-{one.size}.txt", NOTE)
    raise NotFoundError(
        f"no checkpoint over {asked.part('size')} entries was signed; choose one from the "
        "list of them"
    )


PAGES: Final = (
    Page("GET", "/checkpoints", show_checkpoints, COMPLIANCE),
    Page("POST", "/checkpoints", sign, COMPLIANCE),
    Page("POST", "/checkpoints/cosignatures", take_cosignature, COMPLIANCE),
    Page("POST", "/checkpoints/verify", verify_all, COMPLIANCE),
    Page("GET", "/checkpoints/{size}", give_note, COMPLIANCE),
)
