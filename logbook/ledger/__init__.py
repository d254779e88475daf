"""The ledger: one file, only ever added to, each entry chained to the one before."""
