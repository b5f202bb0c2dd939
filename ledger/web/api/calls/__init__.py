"""Every call, in the order in which they are described."""

from typing import Final

from ledger.web.api.call import Call
from ledger.web.api.calls import (
    auditing,
    balances,
    dues,
    entries,
    files,
    packs,
    quarters,
    signing,
    stock,
    tracing,
)

CALLS: Final[tuple[Call, ...]] = (
    *entries.CALLS,
    *files.CALLS,
    *balances.CALLS,
    *stock.CALLS,
    *dues.CALLS,
    *quarters.CALLS,
    *auditing.CALLS,
    *tracing.CALLS,
    *packs.CALLS,
    *signing.CALLS,
)
"""Every call."""
