"""A sheet: an answer with all that its renderings need, one class for each question.

Its fields are the keys of its JSON, but for those that its text alone needs; ``lines`` is its text.
"""

from abc import ABC, abstractmethod
from dataclasses import Field, fields
from typing import Annotated, Any, ClassVar, TypeVar

from logbook.sheets.line import Lines

T = TypeVar("T")
_FORM = "text alone"
TextAlone = Annotated[T, _FORM]
"""The type of a field that the text of a sheet needs, and its JSON does not hold."""


class Sheet(ABC):
    """What the sheets of all questions have: a schema with its number, and lines."""

    __slots__ = ()
    schema: ClassVar[str]

    @abstractmethod
    def lines(self) -> Lines:
        """The sheet as text, the most important first."""

    @classmethod
    def content(cls) -> list[Field[Any]]:
        """The fields that its JSON holds, in their order."""
        every: tuple[Field[Any], ...] = fields(cls)  # type: ignore[arg-type]
        return [one for one in every if _FORM not in getattr(one.type, "__metadata__", ())]
