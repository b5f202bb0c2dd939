"""The form that asks for a pack: which part, up to when, and what its reader sees."""

from collections.abc import Iterable, Iterator
from datetime import date
from typing import Final

from pydantic import ValidationError

from ledger.chain.canonical import JsonValue
from ledger.desk.pack import Wanted
from ledger.desk.portion import portion_asked
from ledger.intake.profile_file import read_profile
from ledger.trade.profile import Profile
from ledger.trade.sentence import body_error
from ledger.trade.words import PartyRole
from ledger.web.asked import Asked

OWN: Final = "own"
"""What the form says where the profile is one of the maker's own."""
_HIDDEN: Final = "none"
_PLAIN: Final = (
    "profile",
    "dated",
    "reader",
    "prices",
    "sale_values",
    "papers",
    "note",
)

Typed = dict[str, str | list[str]]
"""What stands in the fields, by name."""


def wanted_in(asked: Asked, profile: Profile | None) -> Wanted:
    """Return what the form asks for.

    Args:
        asked: The request.
        profile: The profile it is made under; None for the usual.

    Raises:
        InputError: A field cannot be read, or two of them do not go together.
    """
    portion = portion_asked(
        scheme=asked.text("scheme") or None,
        since=asked.day("since"),
        until=asked.day("until"),
        sale=asked.text("sale") or None,
    )
    last = portion.until if portion is not None else None
    today = asked.office.today()
    return Wanted(
        as_of=asked.day("as_of") or min(last or today, today),
        portion=portion,
        profile=profile,
    )


def profile_in(asked: Asked) -> Profile | None:
    """Return the profile that the form names or holds; None for the usual.

    A file goes before what is typed.

    Raises:
        InputError: The file or the fields follow no profile.
    """
    for upload in asked.uploads("file"):
        return read_profile(upload.filename or "the file", upload.file.read())
    if asked.text("profile_of") != OWN:
        return None
    members = {name: asked.text(name) for name in _PLAIN if asked.text(name)}
    try:
        return Profile.model_validate({**members, **_lists(asked)})
    except ValidationError as error:
        raise body_error("the profile", Profile, error) from error


def _lists(asked: Asked) -> dict[str, list[JsonValue]]:
    return {
        "schemes": list(asked.texts("schemes")),
        "addresses": list(asked.texts("addresses")),
        "names": [
            {"role": role.value, "show": shown}
            for role in PartyRole
            if (shown := asked.text(field_of(role))) not in {"", _HIDDEN}
        ],
    }


def field_of(role: PartyRole) -> str:
    """Return the name of the field that says whose names are shown."""
    return f"names-{role.value.replace(' ', '-')}"


def typed_in(asked: Asked) -> Typed:
    """Return what was typed, to be shown again."""
    many = {name: asked.texts(name) for name in ("schemes", "addresses")}
    return {
        **{name: asked.text(name) for name in asked.form if name not in many},
        **many,
    }


def typed_of(profile: Profile) -> Typed:
    """Return what the fields say of a profile."""
    names = {one.role: one.show for one in profile.names}
    return {
        "profile_of": OWN,
        **{name: str(getattr(profile, name) or "") for name in _PLAIN},
        "schemes": list(profile.schemes),
        "addresses": [role.value for role in profile.addresses],
        **{field_of(role): names.get(role, _HIDDEN) for role in PartyRole},
    }


def beginning(today: date, schemes: Iterable[str]) -> Typed:
    """Return what stands in the fields of a new form."""
    return {
        "as_of": today.isoformat(),
        "profile_of": "usual",
        "dated": today.isoformat(),
        "prices": "none",
        "sale_values": _HIDDEN,
        "papers": _HIDDEN,
        "schemes": list(schemes),
        "addresses": [],
        **dict(_hidden_names()),
    }


def _hidden_names() -> Iterator[tuple[str, str]]:
    for role in PartyRole:
        yield field_of(role), _HIDDEN
