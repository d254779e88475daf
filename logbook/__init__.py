"""The gas-machine logbook: what was done to an anesthesia machine, and what is due."""

__version__ = "0.1.0"
