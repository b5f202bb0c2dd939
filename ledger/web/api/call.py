"""A call: its address, who may make it with what token, and what answers it."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from ledger.trade.scope import Scope

JSON: Final = "application/json"

Example = Mapping[str, Any]
"""Parts of an address and of its query by name, and the body as `body`."""


@dataclass(frozen=True, slots=True)
class Call:
    """One thing that a program may ask.

    Attributes:
        method: GET or POST.
        path: Address below /api/v1, with parts in braces.
        answer: Gives the answer; its docstring describes the call.
        gives: Model of the answer; None where it is a file.
        may: Roles that may ask (`ledger.web.access`); there is no default.
        scope: What a token must allow.
        group: Heading under which the call is described.
        takes: Media types of the body, the usual first; none where there is no body.
        once: Whether it changes something, so that the caller must name each request.
        status: Status of the answer where all is well.
        file_type: Media type of the answer where it is a file.
        follows_day: Whether the answer follows from the record and the day alone.
        longest: Most bytes that the body may have.
        example: One request, from the invented scenario.
        body_schema: Schema of a body that is not described by a model.
    """

    method: str
    path: str
    answer: Callable[..., Any]
    gives: Any
    may: frozenset[str]
    scope: Scope
    group: str
    takes: tuple[str, ...] = ()
    once: bool = False
    status: int = 200
    file_type: str = JSON
    follows_day: bool = False
    longest: int = 64 * 1024
    example: Example = field(default_factory=dict)
    body_schema: Mapping[str, Any] | None = None

    @property
    def name(self) -> str:
        """Name of the call, unlike any other."""
        return self.answer.__name__
