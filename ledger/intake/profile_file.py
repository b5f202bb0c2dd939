"""A disclosure profile in a YAML file."""

import yaml
from pydantic import ValidationError

from ledger.errors import InputError
from ledger.intake.text import shown_name, text_of
from ledger.intake.yaml_file import read_group
from ledger.trade.profile import Profile
from ledger.trade.sentence import body_error


def read_profile(name: str, raw: bytes) -> Profile:
    """Return the profile that a file holds.

    Args:
        name: Name of the file, for sentences.
        raw: Its bytes.

    Raises:
        InputError: The file is not YAML, or does not follow the model; the sentence names
            the field, its value, the rule and the way out.
    """
    shown = shown_name(name)
    members = read_group(shown, text_of(shown, raw))
    try:
        return Profile.model_validate(members)
    except ValidationError as error:
        told = body_error("the profile", Profile, error)
        raise InputError(f"{shown}: {told}") from error


def profile_text(profile: Profile) -> str:
    """Return a profile as a file holds it; `read_profile` gives it back."""
    members = profile.model_dump(mode="json", exclude_defaults=True)
    return yaml.safe_dump(members, sort_keys=False, allow_unicode=True)
