"""Asking for a pack: it is made behind, from one moment of the ledger."""

from datetime import datetime
from pathlib import Path

from ledger import wiring
from ledger.desk.pack import Packed, Wanted, make_pack
from ledger.desk.pack_reports import audit_reports
from ledger.desk.papers import papers_for_pack
from ledger.desk.signed_pack import signed_for_pack
from ledger.web.office import Office
from ledger.web.pack_room import Order


def order_for(office: Office, wanted: Wanted, *, by: str, about: str) -> Order:
    """Ask for a pack in somebody's name, and return at once.

    Args:
        office: The ledger.
        wanted: What the pack is to show.
        by: Who asks.
        about: The same in words.
    """
    moment = office.now()
    return office.packs.order(
        wiring.new_secret(),
        by=by,
        about=about,
        asked_at=moment,
        make=lambda out: _made(office, wanted, out, by=by, moment=moment),
    )


def file_name(order: Order) -> str:
    """Return what the file of a pack is called where it is kept."""
    return f"audit-pack-{order.asked_at:%Y-%m-%d-%H%M}.zip"


def _made(
    office: Office, wanted: Wanted, out: Path, *, by: str, moment: datetime
) -> Packed:
    place = office.place
    with office.rows() as rows:
        return make_pack(
            rows,
            out=out,
            as_of=wanted.as_of,
            made_at=moment,
            made_by=by,
            portion=wanted.portion,
            profile=wanted.profile,
            reports=audit_reports,
            documents=papers_for_pack(rows, lambda: place.papers_path),
            signed=signed_for_pack(
                rows,
                file=lambda: place.checkpoints_path,
                timestamps=lambda: place.timestamps_path,
            ),
        )
