"""How much a request may send: it is read no further than that."""

from starlette.types import Message, Receive


class TooLargeError(Exception):
    """The body of a request is longer than what it is sent to takes."""


def bounded(receive: Receive, longest: int) -> Receive:
    """Return what receives a body up to so many bytes.

    Args:
        receive: What receives it from the server.
        longest: Most bytes; when more come, `TooLargeError` is raised.
    """
    taken = 0

    async def counted() -> Message:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        if taken > longest:
            raise TooLargeError
        return message

    return counted
