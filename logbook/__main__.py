"""Runs the logbook as ``python -m logbook``, where its command is not on the path."""

from logbook.cli import main

main()
