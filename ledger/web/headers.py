"""What every answer tells the browser: nothing foreign, nothing inline, no framing.

The set follows the OWASP HTTP Security Response Headers Cheat Sheet.
"""

from collections.abc import Mapping
from typing import Final

from starlette.datastructures import MutableHeaders
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
_TWO_YEARS: Final = "max-age=63072000"


class SafeHeaders:
    """Adds the headers to every answer; a page may set a policy of its own."""

    def __init__(self, app: ASGIApp) -> None:
        """Stand in front of an application."""
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""

        async def send_safely(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in ALWAYS.items():
                    headers.setdefault(name, value)
                if scope["scheme"] == "https":
                    headers.setdefault("Strict-Transport-Security", _TWO_YEARS)
                if not scope["path"].startswith("/static/"):
                    headers.setdefault("Cache-Control", "no-store")
            await send(message)

        await self._app(scope, receive, send_safely)
