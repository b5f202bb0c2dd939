"""What a person is to the ledger: which pages and which kinds of entry are theirs."""

from ledger.trade.words import Word


class Role(Word):
    """A role that a person may have; one may have several."""

    BUYER = "buyer"
    """Logs contracts, prices, shipments and payments."""
    FLOOR = "floor"
    """Logs batches, moves and counts in the factory."""
    COMPLIANCE = "compliance"
    """Runs balances, dues, trace and recall, corrects, closes periods, makes packs."""
    CERTIFIER = "certifier"
    """Reads what a scheme and a span of time concern; writes nothing but findings."""
    ADMINISTRATOR = "administrator"
    """Says who may sign in."""
