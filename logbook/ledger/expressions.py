"""Expressions of SQL that databases spell differently."""

from typing import Any

from sqlalchemy.ext.compiler import compiles
from sqlalchemy.sql.functions import GenericFunction

from logbook.ledger.columns import Whole


class least(GenericFunction[int]):  # noqa: N801  SQLAlchemy calls functions by the class's name.
    """The smaller of two whole numbers."""

    type = Whole
    inherit_cache = True


class greatest(GenericFunction[int]):  # noqa: N801
    """The larger of two whole numbers."""

    type = Whole
    inherit_cache = True


@compiles(least, "sqlite")
def _least(element: Any, compiler: Any, **more: Any) -> str:
    return f"min({compiler.process(element.clauses, **more)})"


@compiles(greatest, "sqlite")
def _greatest(element: Any, compiler: Any, **more: Any) -> str:
    return f"max({compiler.process(element.clauses, **more)})"
