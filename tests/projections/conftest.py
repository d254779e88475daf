"""An open ledger and its scribe, as in the tests of the ledger."""

from tests.ledger.conftest import book, shared_book, tell

__all__ = ["book", "shared_book", "tell"]
