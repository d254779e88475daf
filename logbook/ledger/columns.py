"""Column types for STRICT tables, which accept only INTEGER, TEXT and BLOB."""

from datetime import date
from decimal import Decimal
from typing import Any

from sqlalchemy import Integer, Text
from sqlalchemy.types import TypeDecorator

Whole = Integer
"""A whole number, and an instant as seconds since 1970-01-01T00:00:00Z."""
Label = Text
"""Text as it stands in the entry."""


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
