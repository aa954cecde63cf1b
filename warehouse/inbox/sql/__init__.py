"""SQL of the ledger."""
