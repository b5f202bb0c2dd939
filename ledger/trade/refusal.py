"""How a refused value is shown inside the sentence that refuses it."""

_SHOWN_CHARACTERS = 60


def as_given(value: object) -> str:
    """Return a refused value as it was given, safe and short enough to print.

    Args:
        value: Text, shown in double quotes with control characters escaped; any
            other value is shown as Python writes it. Both are cut at 60 characters.
    """
    if isinstance(value, str):
        return '"' + repr(_cut(value))[1:-1] + '"'
    return _cut(str(value))


def _cut(text: str) -> str:
    if len(text) <= _SHOWN_CHARACTERS:
        return text
    return text[:_SHOWN_CHARACTERS] + "…"
