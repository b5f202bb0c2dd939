"""Audit packs: what a reader would see, asking for one, and fetching it."""

from datetime import date, datetime
from enum import StrEnum
from typing import Annotated, Final

from fastapi import Path
from starlette.responses import FileResponse, Response

from ledger.desk.pack import Wanted
from ledger.desk.portion import portion_asked
from ledger.desk.preview import Count, preview
from ledger.desk.writing import Writing
from ledger.errors import ConflictError, RefusedError
from ledger.trade.record import Day, Name
from ledger.trade.scope import Scope
from ledger.web.access import COMPLIANCE
from ledger.web.api.call import JSON, Call
from ledger.web.api.caller import Calling
from ledger.web.api.entry_model import ADDRESS, Part
from ledger.web.api.once import once
from ledger.web.api.row import example
from ledger.web.pack_making import file_name, order_for
from ledger.web.pack_room import Order

ZIP: Final = "application/zip"

Ticket = Annotated[
    str, Path(pattern=r"^[\w-]{1,64}$", description="Ticket of a pack asked for")
]


class PackWanted(Part):
    """What a pack is to show: the whole ledger where all is left out."""

    model_config = example(scheme="osierfold", until="2026-09-30")

    as_of: Day | None = None
    """Last trade date of the figures; today, or the last day shown, if left out."""
    scheme: Name | None = None
    """Show only what concerns this scheme; of other entries a digest."""
    since: Day | None = None
    """Show only what happened on this trade date or later, and what that rests on."""
    until: Day | None = None
    """Show only what happened on this trade date or earlier."""
    sale: Name | None = None
    """Show only this sale and where its goods came from."""

    def wanted(self, today: date) -> Wanted:
        """Return what is wanted as the desk has it.

        Raises:
            InputError: Two members do not go together.
        """
        portion = portion_asked(
            scheme=self.scheme, since=self.since, until=self.until, sale=self.sale
        )
        return Wanted(self.as_of or min(self.until or today, today), portion)


class PackState(StrEnum):
    """How far a pack is."""

    WAITING = "waiting"
    READY = "ready"
    REFUSED = "refused"


class PackOrder(Part):
    """A pack that was asked for; it is kept until the server stops."""

    ticket: str
    about: str
    """What it shows."""
    asked_at: datetime
    state: PackState
    refusal: str | None
    """Why there is none."""
    entries: int | None
    """Number of entries that it stands for, once it is ready."""
    shown: int | None
    """How many of them it shows."""
    signed: int | None
    """How many the last signed checkpoint in it covers."""
    tree_head: str | None
    """Give it to your certifier by another way than the pack."""
    address: str
    """Where to ask how far it is; its file is at the same with /file behind."""

    @classmethod
    def of(cls, order: Order) -> "PackOrder":
        """Return what there is to say of a pack that was asked for."""
        packed = order.packed
        state = PackState.READY if packed else PackState.WAITING
        return cls(
            ticket=order.ticket,
            about=order.about,
            asked_at=order.asked_at,
            state=PackState.REFUSED if order.refusal else state,
            refusal=order.refusal or None,
            entries=packed.size if packed else None,
            shown=packed.shown if packed else None,
            signed=packed.signed if packed else None,
            tree_head=packed.root.hex() if packed else None,
            address=f"{ADDRESS}/packs/{order.ticket}",
        )


class PackOrders(Part):
    """Packs that the person asked for, the last first."""

    packs: list[PackOrder]


class ShownCount(Part):
    """How much of one sort a reader would see."""

    what: str
    shown: int
    hidden: int


class PackPreview(Part):
    """What the reader of a pack would see."""

    reader: str
    entries: list[ShownCount]
    """Entries by kind."""
    values: list[ShownCount]
    """Sealed values, by what they are."""
    sampled: list[str]
    """Sales that the present tree head draws."""


def preview_pack(caller: Calling, given: PackWanted) -> PackPreview:
    """Return what the reader of a pack would see; nothing is made."""
    wanted = given.wanted(caller.office.today())
    with caller.office.rows() as rows:
        found = preview(rows, wanted)
    return PackPreview(
        reader=f"{found.reader} (profile {found.profile})",
        entries=[_counted(one) for one in found.entries],
        values=[_counted(one) for one in found.values],
        sampled=list(found.sampled),
    )


def order_pack(caller: Calling, given: PackWanted) -> Response:
    """Ask for a pack; it is made behind, and takes longer the longer the ledger is."""
    wanted = given.wanted(caller.office.today())
    about = f"{wanted.portion or 'the whole ledger'}, as of {wanted.as_of}"

    def ask(writing: Writing) -> PackOrder:
        return PackOrder.of(
            order_for(caller.office, wanted, by=writing.by, about=about)
        )

    return once(caller, ask, status=202)


def read_packs(caller: Calling) -> PackOrders:
    """List the packs that the person asked for, the last first."""
    orders = caller.office.packs.orders_of(caller.person.name)
    return PackOrders(packs=[PackOrder.of(order) for order in orders])


def read_pack(caller: Calling, ticket: Ticket) -> PackOrder:
    """Return how far a pack is."""
    return PackOrder.of(caller.office.packs.find(ticket, by=caller.person.name))


def fetch_pack(caller: Calling, ticket: Ticket) -> Response:
    """Return the file of a pack that is ready."""
    order = caller.office.packs.find(ticket, by=caller.person.name)
    if order.refusal:
        raise RefusedError(f"this pack was not made: {order.refusal}")
    if order.packed is None:
        raise ConflictError(
            "this pack is not made yet; wait a little, ask how far it is, and fetch it "
            "once it is ready"
        )
    return FileResponse(order.path, media_type=ZIP, filename=file_name(order))


def _counted(one: Count) -> ShownCount:
    return ShownCount(what=one.what, shown=one.shown, hidden=one.hidden)


_EXAMPLE: Final = {"body": {"scheme": "osierfold", "until": "2026-09-30"}}
_TICKET: Final = {"ticket": "k3vYc0l8N2m1"}

CALLS: Final = (
    Call(
        "POST",
        "/preview/packs",
        preview_pack,
        PackPreview,
        COMPLIANCE,
        Scope.PACK,
        "Packs",
        takes=(JSON,),
        example=_EXAMPLE,
    ),
    Call(
        "POST",
        "/packs",
        order_pack,
        PackOrder,
        COMPLIANCE,
        Scope.PACK,
        "Packs",
        takes=(JSON,),
        once=True,
        status=202,
        example=_EXAMPLE,
    ),
    Call("GET", "/packs", read_packs, PackOrders, COMPLIANCE, Scope.PACK, "Packs"),
    Call(
        "GET",
        "/packs/{ticket}",
        read_pack,
        PackOrder,
        COMPLIANCE,
        Scope.PACK,
        "Packs",
        example=_TICKET,
    ),
    Call(
        "GET",
        "/packs/{ticket}/file",
        fetch_pack,
        None,
        COMPLIANCE,
        Scope.PACK,
        "Packs",
        file_type=ZIP,
        example=_TICKET,
    ),
)
