"""What every pack encloses beside the record: a cover text and three ways to verify it.

A verifier that comes with a pack proves nothing, since whoever made the one could have
changed the other. So the same bytes are handed out by `evenweight verifiers`, and their
digests can be compared with those of the program's release.
"""

import base64
from collections.abc import Mapping
from functools import cache
from hashlib import sha256
from html import escape
from importlib.resources import files
from string import Template
from types import MappingProxyType
from typing import Final

from ledger.audit.cheats import CHEATS
from ledger.audit.layout import BY_HAND, PAGE, README, VERIFIER
from ledger.audit.readme import README_TEXT

VERIFIERS: Final = (VERIFIER, PAGE, BY_HAND)
"""The three ways to verify a pack without this program, by their names in a pack."""

_SCRIPTS: Final = (
    "words",
    "exact",
    "source",
    "record",
    "bag",
    "signing",
    "books",
    "dues",
    "figures",
    "check",
    "trace",
    "show",
)
"""The parts of the page's script, each resting on those before it."""


@cache
def enclosed() -> Mapping[str, bytes]:
    """Return what stands beside the record in every pack, by name."""
    return MappingProxyType(
        {
            README: README_TEXT.encode(),
            VERIFIER: _own("verify_pack.py"),
            PAGE: page(),
            BY_HAND: _own("by-hand.txt"),
        }
    )


def page_policy() -> str:
    """Return what a browser lets the page do: run what stands in it, and nothing else.

    Source:
        W3C, Content Security Policy Level 3, section 8.4 (hashes of inline scripts).
    """
    return (
        f"default-src 'none'; script-src {_allowed(_script())}; "
        f"style-src {_allowed(_style())}; base-uri 'none'; form-action 'none'"
    )


def page() -> bytes:
    """Return the page that verifies a pack in a browser: one file, nothing loaded.

    Its policy allows the style and the script that stand in it, by their digests.
    """
    template = Template(_own("look/page.html").decode())
    cheats = "\n".join(
        f'<tr><th scope="row">{escape(one.tried)}</th><td>{escape(one.found)}</td></tr>'
        for one in CHEATS
    )
    return template.substitute(
        policy=page_policy(), style=_style(), script=_script(), cheats=cheats
    ).encode()


def _style() -> str:
    return _own("look/look.css").decode()


def _script() -> str:
    return "\n".join(_own(f"look/{name}.js").decode() for name in _SCRIPTS)


def _allowed(text: str) -> str:
    digest = base64.b64encode(sha256(text.encode()).digest()).decode()
    return f"'sha256-{digest}'"


def _own(name: str) -> bytes:
    return files("ledger.audit").joinpath(name).read_bytes()
