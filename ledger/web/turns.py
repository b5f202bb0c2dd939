"""Turns: what is heavy is done for one address at a time, and for few at once."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from ipaddress import IPv6Address, ip_address
from typing import Final

from starlette.requests import Request

from ledger.errors import RefusedError

MOST_AT_ONCE: Final = 2
_HOME: Final = 64
"""Bits of an IPv6 address that one household or firm is given (RFC 6177)."""


class NoTurnError(RefusedError):
    """Somebody has to wait until something else is done."""


@dataclass(slots=True)
class Turns:
    """Who is being served with something heavy; kept by one process.

    It is asked on the event loop alone, which does one thing at a time.

    Attributes:
        most: How many are served at once.
    """

    most: int = MOST_AT_ONCE
    _served: set[str] = field(default_factory=set)

    @contextmanager
    def turn_of(self, address: str) -> Iterator[None]:
        """Take a turn, and give it back in the end.

        Raises:
            NoTurnError: The address is being served already, or too many are.
        """
        if address in self._served:
            raise NoTurnError(
                "what you sent before is still being worked on; wait until it is done and "
                "send this again"
            )
        if len(self._served) >= self.most:
            raise NoTurnError(
                f"{self.most} others are being served; wait a minute and send it again"
            )
        self._served.add(address)
        try:
            yield
        finally:
            self._served.discard(address)


def address_of(request: Request) -> str:
    """Return from where a request comes: an address, of IPv6 the network it is in."""
    host = request.client.host if request.client else ""
    try:
        found = ip_address(host)
    except ValueError:
        return host
    if isinstance(found, IPv6Address):
        if found.ipv4_mapped is not None:
            return str(found.ipv4_mapped)
        return f"{IPv6Address(int(found) >> (128 - _HOME) << (128 - _HOME))}/{_HOME}"
    return host
