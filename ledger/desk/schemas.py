"""The JSON Schema of every kind of entry, written out for other programs."""

import json
from pathlib import Path

from ledger.errors import InputError
from ledger.trade.kinds import KINDS


def schema_texts() -> dict[str, str]:
    """Return the JSON Schema of each kind's body, by file name."""
    return {
        f"{kind}.json": json.dumps(
            {
                "$schema": "https://json-schema.org/draft/2020-12/schema",
                **model.model_json_schema(mode="validation"),
            },
            indent=2,
            ensure_ascii=False,
        )
        + "\n"
        for kind, model in sorted(KINDS.items())
    }


def write(folder: Path) -> int:
    """Write all schemas to a folder and return their number.

    Raises:
        InputError: They cannot be written.
    """
    texts = schema_texts()
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, text in texts.items():
            (folder / name).write_text(text, encoding="utf-8")
    except OSError as error:
        raise InputError(
            f"the schemas cannot be written to {folder} ({error.strerror}); name a folder "
            "that you may write to"
        ) from error
    return len(texts)


def stale_schemas(folder: Path) -> tuple[str, ...]:
    """Return the names of schemas in a folder that are missing, changed or left over."""
    texts = schema_texts()
    found = {
        path.name: path.read_text(encoding="utf-8") for path in folder.glob("*.json")
    }
    names = sorted(texts.keys() | found.keys())
    return tuple(name for name in names if texts.get(name) != found.get(name))
