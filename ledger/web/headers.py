"""What every answer tells the browser: nothing foreign, nothing inline, no framing.

The set follows the OWASP HTTP Security Response Headers Cheat Sheet.
"""

import logging
from collections.abc import Mapping
from typing import Final

from starlette.datastructures import MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

POLICY: Final = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
    "font-src 'self'; connect-src 'self'; form-action 'self'; frame-ancestors 'none'; "
    "base-uri 'none'"
)
ALWAYS: Final[Mapping[str, str]] = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(self), geolocation=(), microphone=()",
}
_SORRY: Final = (
    "something went wrong on our side, and nothing was recorded; try again, and tell "
    "whoever runs this server if it stays"
)
_log = logging.getLogger("evenweight.web")
_TWO_YEARS: Final = "max-age=63072000"


class SafeHeaders:
    """Adds the headers to every answer; a page may set a policy of its own."""

    def __init__(self, app: ASGIApp) -> None:
        """Stand in front of an application."""
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        has_begun = False

        async def send_safely(message: Message) -> None:
            nonlocal has_begun
            has_begun = True
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in ALWAYS.items():
                    headers.setdefault(name, value)
                if scope["scheme"] == "https":
                    headers.setdefault("Strict-Transport-Security", _TWO_YEARS)
                if not scope["path"].startswith("/static/"):
                    headers.setdefault("Cache-Control", "no-store")
            await send(message)

        try:
            await self._app(scope, receive, send_safely)
        except Exception:
            # What is raised so far out, no page answers; it must not answer bare either.
            if has_begun or scope["type"] != "http":
                raise
            _log.exception("%s %s", scope["method"], scope["path"])
            sorry = PlainTextResponse(_SORRY, status_code=500)
            await sorry(scope, receive, send_safely)
