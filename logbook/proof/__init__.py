"""Proof: that the file is whole and unchanged, where it stood, and how to bring it back."""
