"""Taking down what happened: one transaction, the refusals, the entry, its projection."""
