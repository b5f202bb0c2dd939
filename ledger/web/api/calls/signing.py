"""Whether the stored ledger holds, and signing its tree head."""

from typing import Annotated, Final

from pydantic import Field
from starlette.responses import Response

from ledger import wiring
from ledger.chain.checkpoint import SignedCheckpoint
from ledger.desk.checkpoint import sign_checkpoint
from ledger.desk.signed import recorded_checkpoints, signed_so_far
from ledger.desk.verify import verify
from ledger.desk.writing import Writing
from ledger.errors import NotFoundError
from ledger.trade.scope import Scope
from ledger.web.access import AUDIT, COMPLIANCE
from ledger.web.api.call import Call
from ledger.web.api.caller import Calling
from ledger.web.api.entry_model import Part
from ledger.web.api.once import once
from ledger.web.api.row import EntryNumber, example

Hex = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]


class Checkpoint(Part):
    """A signed tree head."""

    model_config = example(
        size=812,
        root="0c9b5b34f02f6e5f0d6d7e0b4d1e2a3c4b5a69788796a5b4c3d2e1f00f1e2d3c",
        note="ropewalk/evenweight\n812\nDJtbNPAvbl8Nbn4LTR4qPEtaaXiHlqW0w9Lh8A8eLTw=\n\n"
        "— ropewalk/evenweight …\n",
    )

    size: int
    """Number of entries that it covers."""
    root: Hex
    """Tree head over them (RFC 9162, 2.1.1), in hexadecimal."""
    note: str
    """The signed note; give it to your certifier, and not only with a pack."""

    @classmethod
    def of(cls, signed: SignedCheckpoint) -> "Checkpoint":
        """Return a signed checkpoint as a program reads it."""
        return cls(
            size=signed.size,
            root=signed.checkpoint.root.hex(),
            note=str(signed.note),
        )


class Trouble(Part):
    """One place where the stored ledger does not hold."""

    entry: EntryNumber | None
    """The entry; null where it is the ledger as a whole."""
    problem: str


class Verified(Part):
    """What checking the stored ledger found."""

    holds: bool
    """Whether every entry, link, digest, signature and sealed value holds."""
    entries: int
    tree_head: Hex
    signed: int
    """Number of entries that the last signed checkpoint covers; 0 if none."""
    signed_problem: str | None
    """Why that cannot be told, or does not hold."""
    troubles: list[Trouble]


def read_checkpoint(caller: Calling) -> Checkpoint:
    """Return the last signed tree head."""
    with caller.office.rows() as rows:
        signed = recorded_checkpoints(rows)
    if not signed:
        raise NotFoundError(
            "no checkpoint was signed for this ledger yet; sign one, and give it to your "
            "certifier"
        )
    return Checkpoint.of(signed[-1])


def sign_tree_head(caller: Calling) -> Response:
    """Sign the tree head, if it extends the last one signed, and record that.

    Where nothing was recorded since the last one, that one is given again.
    """
    place = caller.office.place
    private = wiring.private_key(place.key_path, may_ask=False)

    def sign(writing: Writing) -> Checkpoint:
        made = sign_checkpoint(
            writing, place.checkpoints_path, private, on=caller.office.today()
        )
        return Checkpoint.of(made.signed)

    return once(caller, sign)


def verify_ledger(caller: Calling) -> Verified:
    """Check the stored ledger: bytes, chain, leaves, tree, signatures, sealed values.

    It reads every entry, so it takes longer the longer the ledger is.
    """
    office = caller.office
    with office.rows() as rows:
        found = verify(rows)
        signed = signed_so_far(rows, lambda: office.place.checkpoints_path)
    return Verified(
        holds=not found.troubles and not signed.is_broken,
        entries=found.entries,
        tree_head=found.tree_head.hex(),
        signed=signed.entries,
        signed_problem=signed.problem,
        troubles=[
            Trouble(entry=one.seq, problem=one.problem) for one in found.troubles
        ],
    )


CALLS: Final = (
    Call(
        "GET",
        "/checkpoint",
        read_checkpoint,
        Checkpoint,
        AUDIT,
        Scope.READ,
        "Checkpoint",
        follows_day=True,
    ),
    Call(
        "POST",
        "/checkpoint",
        sign_tree_head,
        Checkpoint,
        COMPLIANCE,
        Scope.SIGN,
        "Checkpoint",
        once=True,
        status=201,
    ),
    Call(
        "GET",
        "/verify",
        verify_ledger,
        Verified,
        COMPLIANCE,
        Scope.READ,
        "Checkpoint",
    ),
)
