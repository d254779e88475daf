"""Tables projected from the entries: typed, fast to query, never the truth themselves."""
