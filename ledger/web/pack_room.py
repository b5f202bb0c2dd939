"""Packs that people asked for: made one after the other, kept until the server stops.

A pack of a long ledger takes longer than anybody waits for an answer, so asking for one
and fetching it are two steps. The files lie in a folder that only the server may read.
"""

import logging
import shutil
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from tempfile import mkdtemp
from typing import Final

from ledger.desk.pack import Packed
from ledger.errors import LedgerError, NotFoundError, RefusedError

MOST_KEPT: Final = 12
"""Packs kept at a time; the oldest that is finished makes room for a new one."""
MOST_WAITING: Final = 4
"""Packs that may wait to be made; who asks for one more is told to wait."""
_OURS: Final = (
    "something went wrong on our side, and no pack was made; try again, and tell whoever "
    "runs this server if it stays"
)

_log = logging.getLogger("evenweight.web")


@dataclass(slots=True)
class Order:
    """A pack that somebody asked for.

    Attributes:
        ticket: What it is asked for again with; nobody can guess it.
        by: Who asked.
        about: What it shows and for whom, in words.
        asked_at: When, in UTC.
        path: Where it is written to.
        packed: What was written; None while it is not there.
        refusal: Why there is none, in one sentence; empty if nothing is wrong.
    """

    ticket: str
    by: str
    about: str
    asked_at: datetime
    path: Path
    packed: Packed | None = None
    refusal: str = ""

    @property
    def is_over(self) -> bool:
        """Whether it was made or refused."""
        return self.packed is not None or bool(self.refusal)


class PackRoom:
    """Makes packs in a thread of its own, so that pages are answered meanwhile."""

    def __init__(self) -> None:
        """Open a room in which nothing lies yet."""
        self._lock = threading.Lock()
        self._orders: dict[str, Order] = {}
        self._folder: Path | None = None
        self._worker = ThreadPoolExecutor(max_workers=1, thread_name_prefix="pack")

    def order(
        self,
        ticket: str,
        *,
        by: str,
        about: str,
        asked_at: datetime,
        make: Callable[[Path], Packed],
    ) -> Order:
        """Ask for a pack, and return at once.

        Args:
            ticket: A fresh random token.
            by: Who asks.
            about: What it shows and for whom, in words.
            asked_at: Now, in UTC.
            make: Writes it to the file of that path.

        Raises:
            RefusedError: Too many packs are waiting to be made.
        """
        with self._lock:
            self._make_room()
            waiting = sum(not one.is_over for one in self._orders.values())
            if waiting >= MOST_WAITING:
                raise RefusedError(
                    f"{waiting} packs are waiting to be made already; ask again when one "
                    "of them is ready"
                )
            if self._folder is None:
                self._folder = Path(mkdtemp(prefix="evenweight-packs-"))
            path = self._folder / ticket / "audit-pack.zip"
            path.parent.mkdir()
            made = self._orders[ticket] = Order(ticket, by, about, asked_at, path)
        self._worker.submit(_make, made, make)
        return made

    def orders_of(self, by: str) -> tuple[Order, ...]:
        """Return what somebody asked for, the last first."""
        with self._lock:
            return tuple(one for one in reversed(self._orders.values()) if one.by == by)

    def find(self, ticket: str, *, by: str) -> Order:
        """Return what somebody asked for.

        Raises:
            NotFoundError: They did not, or it is not kept any more.
        """
        with self._lock:
            found = self._orders.get(ticket)
        if found is None or found.by != by:
            raise NotFoundError(
                "there is no such pack; it was asked for by somebody else, or before the "
                "server was started again, so ask for it anew"
            )
        return found

    def close(self) -> None:
        """Let the pack in hand be finished, and take all of them away."""
        self._worker.shutdown(cancel_futures=True)
        if self._folder is not None:
            shutil.rmtree(self._folder, ignore_errors=True)

    def _make_room(self) -> None:
        over = [one for one in self._orders.values() if one.is_over]
        for one in over[: max(0, len(self._orders) - MOST_KEPT + 1)]:
            del self._orders[one.ticket]
            shutil.rmtree(one.path.parent, ignore_errors=True)


def _make(order: Order, make: Callable[[Path], Packed]) -> None:
    try:
        order.packed = make(order.path)
    except LedgerError as error:
        order.refusal = str(error)
    except Exception:  # noqa: BLE001 - a bug becomes a sentence, its traceback goes to the log
        _log.exception("making a pack")
        order.refusal = _OURS
