"""evenweight: a certified-supply traceability ledger for bean-to-bar chocolate makers."""
