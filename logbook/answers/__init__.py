"""Answers: one file per question, frozen values out, no text laid out here."""
