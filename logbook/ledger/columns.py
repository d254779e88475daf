"""Column types that mean the same in every database.

SQLite's STRICT tables accept only INTEGER, TEXT and BLOB of them; its whole numbers have 64 bits,
which others must be asked for.
"""

from datetime import date
from decimal import Decimal
from typing import Any

from sqlalchemy import BigInteger, Boolean, Dialect, Integer, Text
from sqlalchemy.types import TypeDecorator, TypeEngine

Whole = BigInteger().with_variant(Integer(), "sqlite")
"""A whole number, and an instant as seconds since 1970-01-01T00:00:00Z."""
Label = Text
"""Text as it stands in the entry."""


class Flag(TypeDecorator[bool]):
    """Yes or no; SQLite keeps it as 1 or 0."""

    impl = Boolean
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine[Any]:
        """A whole number where there is no type of its own."""
        return dialect.type_descriptor(Integer() if dialect.name == "sqlite" else Boolean())

    def process_bind_param(self, value: bool | None, dialect: Dialect) -> bool | int | None:
        """A flag as the database keeps it."""
        return int(value) if value is not None and dialect.name == "sqlite" else value

    def process_result_value(self, value: bool | int | None, _dialect: Dialect) -> bool | None:
        """A flag as a truth value."""
        return None if value is None else bool(value)


class Exact(TypeDecorator[Decimal]):
    """A decimal number kept as text, digit for digit."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: Decimal | None, _dialect: Any) -> str | None:
        """A decimal as plain digits."""
        return None if value is None else format(value, "f")

    def process_result_value(self, value: str | None, _dialect: Any) -> Decimal | None:
        """Plain digits as a decimal."""
        return None if value is None else Decimal(value)


class Several(TypeDecorator[tuple[str, ...]]):
    """Words that hold no comma, kept as one text between commas; no word at all is empty text."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: tuple[str, ...] | None, _dialect: Any) -> str | None:
        """Words as one text."""
        return None if value is None else ",".join(value)

    def process_result_value(self, value: str | None, _dialect: Any) -> tuple[str, ...] | None:
        """One text as words."""
        return None if value is None else tuple(value.split(",")) if value else ()


class Day(TypeDecorator[date]):
    """A calendar day kept as ISO 8601 text."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: date | None, _dialect: Any) -> str | None:
        """A day as ISO text."""
        return None if value is None else value.isoformat()

    def process_result_value(self, value: str | None, _dialect: Any) -> date | None:
        """ISO text as a day."""
        return None if value is None else date.fromisoformat(value)
