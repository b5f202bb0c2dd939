"""Pages whose figures only the whole record gives: of a part they would mislead."""

from functools import wraps

from starlette.responses import Response

from ledger.errors import RefusedError
from ledger.store.people import Window
from ledger.web.asked import Asked
from ledger.web.page import Answer


def of_the_whole(answer: Answer) -> Answer:
    """Answer only who sees the whole record, and tell others why not.

    An audit pack of a part leaves the same figures out.
    """

    @wraps(answer)
    def guarded(asked: Asked) -> Response:
        if asked.is_limited and asked.person.window != Window():
            raise RefusedError(
                "these figures need the whole record, and you may see a part of it: goods "
                "also come from and go to where a part does not look; ask the maker for "
                "the report of a pack of the whole, or the administrator for more"
            )
        return answer(asked)

    return guarded
