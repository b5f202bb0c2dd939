"""Packs for a certifier: what the reader will see, the making, and the download."""

from typing import Final

from starlette.responses import FileResponse, Response

from ledger.books.lookup import schemes_of
from ledger.desk.pack import Wanted
from ledger.desk.preview import preview, preview_tables
from ledger.desk.readiness import signed_and_seen
from ledger.errors import LedgerError
from ledger.intake.profile_file import profile_text
from ledger.reports.tongue import Tongue
from ledger.trade.words import PartyRole
from ledger.web.access import COMPLIANCE
from ledger.web.asked import Asked
from ledger.web.entry_form import NOTHING_WRONG, Wrong, wrong_with
from ledger.web.pack_form import (
    Typed,
    beginning,
    field_of,
    profile_in,
    typed_in,
    typed_of,
    wanted_in,
)
from ledger.web.pack_making import file_name, order_for
from ledger.web.page import Page
from ledger.web.report import download

LONGEST_FORM: Final = 1024 * 1024
_YAML: Final = "application/yaml"


def show_packs(asked: Asked) -> Response:
    """Show the form for a pack, and the packs that were made."""
    with asked.books() as books:
        schemes = tuple(schemes_of(books.shelf))
    return _show(asked, beginning(asked.office.today(), ()), schemes=schemes)


def preview_pack(asked: Asked) -> Response:
    """Show what the reader of a pack would see, before there is one."""
    typed = typed_in(asked)
    try:
        profile = profile_in(asked)
        if profile is not None:
            typed |= typed_of(profile)
        wanted = wanted_in(asked, profile)
        with asked.office.rows() as rows:
            found = preview(rows, wanted)
    except LedgerError as error:
        return _show(asked, typed, wrong=wrong_with(error))
    return _show(
        asked, typed, foreseen=preview_tables(found), about=_about(asked.tongue, wanted)
    )


def order_pack(asked: Asked) -> Response:
    """Ask for a pack, and send the reader to where it will be."""
    typed = typed_in(asked)
    try:
        wanted = wanted_in(asked, profile_in(asked))
        order = order_for(
            asked.office,
            wanted,
            by=asked.person.name,
            about=_about(asked.tongue, wanted),
        )
    except LedgerError as error:
        return _show(asked, typed, wrong=wrong_with(error))
    return asked.away(f"/packs/{order.ticket}")


def keep_profile(asked: Asked) -> Response:
    """Give the profile as a file, to be read again the next time."""
    try:
        profile = profile_in(asked)
    except LedgerError as error:
        return _show(asked, typed_in(asked), wrong=wrong_with(error))
    if profile is None:
        return asked.away("/packs")
    return download(profile_text(profile).encode(), f"{profile.profile}.yaml", _YAML)


def show_pack(asked: Asked) -> Response:
    """Show whether a pack is ready, and what is in it."""
    order = asked.office.packs.find(asked.part("ticket"), by=asked.person.name)
    return asked.page("pack.html", order=order)


def fetch_pack(asked: Asked) -> Response:
    """Give a pack that is ready."""
    order = asked.office.packs.find(asked.part("ticket"), by=asked.person.name)
    if order.packed is None:
        return asked.away(f"/packs/{order.ticket}")
    return FileResponse(
        order.path,
        media_type="application/zip",
        filename=file_name(order),
    )


def _show(
    asked: Asked,
    typed: Typed,
    *,
    wrong: Wrong = NOTHING_WRONG,
    schemes: tuple[str, ...] | None = None,
    **shown: object,
) -> Response:
    place = asked.office.place
    with asked.books() as books:
        schemes = tuple(schemes_of(books.shelf)) if schemes is None else schemes
        signed = signed_and_seen(
            books.rows, lambda: place.checkpoints_path, lambda: place.timestamps_path
        )
    return asked.page(
        "packs.html",
        status=wrong.status,
        typed=typed,
        wrong=wrong,
        schemes=schemes,
        scheme_choices=[(scheme, scheme) for scheme in schemes],
        roles=[(role, field_of(role)) for role in PartyRole],
        customer=PartyRole.CUSTOMER,
        signed=signed,
        orders=asked.office.packs.orders_of(asked.person.name),
        **{"foreseen": (), "about": "", **shown},
    )


def _about(tongue: Tongue, wanted: Wanted) -> str:
    part = str(wanted.portion or tongue.says("the whole ledger"))
    profile = wanted.profile or tongue.says("usual")
    return tongue.says(f"{part}, as of {wanted.as_of}, profile {profile}")


PAGES: Final = (
    Page("GET", "/packs", show_packs, COMPLIANCE, menu="Packs"),
    Page("POST", "/packs", order_pack, COMPLIANCE, longest=LONGEST_FORM),
    Page("POST", "/packs/preview", preview_pack, COMPLIANCE, longest=LONGEST_FORM),
    Page("POST", "/packs/profile", keep_profile, COMPLIANCE, longest=LONGEST_FORM),
    Page("GET", "/packs/{ticket}", show_pack, COMPLIANCE),
    Page("GET", "/packs/{ticket}/file", fetch_pack, COMPLIANCE),
)
