"""Renderings of answers: text for a terminal, JSON for programs."""
