"""A form that is sent twice is done once, and answered twice.

Whoever presses twice, or goes back and sends the same again, meant one entry. A page gives
every form a number of its own beside its proof; the same form with the same fields is the
same wish, and gets the answer that the first got.
"""

from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field
from hashlib import sha256
from threading import Lock
from typing import Final

from starlette.datastructures import FormData
from starlette.responses import Response

SEE_OTHER: Final = 303
BEFORE_NUMBER: Final = "."
"""Parts the proof of a form from its number."""
MOST_KEPT: Final = 2_000
"""Of later forms that many are sent before one is forgotten."""


@dataclass(slots=True)
class _Sent:
    lock: Lock = field(default_factory=Lock)
    answer: Response | None = None


@dataclass(slots=True)
class Once:
    """What came of the forms that were sent last; kept by one process.

    Attributes:
        most: How many are kept.
    """

    most: int = MOST_KEPT
    _kept: OrderedDict[bytes, _Sent] = field(default_factory=OrderedDict)
    _guard: Lock = field(default_factory=Lock)

    def answer(self, key: bytes, make: Callable[[], Response]) -> Response:
        """Return what came of a form, doing it if nothing has come of it yet.

        Args:
            key: Which form it is (`key_of`).
            make: Does what the form asks. Only an answer that sends the reader on is
                kept: anything else was refused, or only shown.
        """
        with self._guard:
            sent = self._kept.setdefault(key, _Sent())
            self._kept.move_to_end(key)
            while len(self._kept) > self.most:
                self._kept.popitem(last=False)
        with sent.lock:
            if sent.answer is not None:
                return sent.answer
            answer = make()
            if answer.status_code == SEE_OTHER:
                sent.answer = answer
            return answer


def numbered(proof: str, number: str) -> str:
    """Return a proof with the number of the one form that it goes into."""
    return f"{proof}{BEFORE_NUMBER}{number}"


def key_of(path: str, proof: str, form: FormData) -> bytes | None:
    """Return what tells a form that was sent from every other.

    Nothing for one without a number, and for one with files.

    Args:
        path: Where it was sent.
        proof: Its proof, with its number.
        form: Its fields.
    """
    fields = form.multi_items()
    if BEFORE_NUMBER not in proof or not all(isinstance(one, str) for _, one in fields):
        return None
    return sha256(repr((path, proof, fields)).encode()).digest()
