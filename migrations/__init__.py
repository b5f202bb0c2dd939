"""Steps by which the tables of a ledger came to be what they are."""
