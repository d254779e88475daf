"""What every door of the house does with the ledger at hand, so that none has its own way."""
