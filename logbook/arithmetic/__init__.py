"""Pure trade arithmetic: no files, no clock, limits come in as arguments."""
