"""Values: frozen dataclasses that cost nothing until the first of their kind is made.

A frozen dataclass takes half a millisecond to define, because its methods are compiled from text. A
command knows some two hundred kinds of values and makes a few dozen of them.
"""

from dataclasses import dataclass, field
from threading import RLock
from typing import Any, Self, dataclass_transform

_BUILT = "_is_built"
"""Set when all of a kind stands: `dataclass` tells its fields before its methods are there."""
_building = RLock()


@dataclass_transform(frozen_default=True, field_specifiers=(field,))
class Value:
    """A frozen dataclass without its decorator, which is built with its first instance.

    >>> class Level(Value):
    ...     vaporizer: str
    ...     level_ml: int = 0
    >>> Level("iso1", 180) == Level("iso1", level_ml=180) != Level("iso1")
    True
    >>> Level("iso1").level_ml = 90
    Traceback (most recent call last):
    dataclasses.FrozenInstanceError: cannot assign to field 'level_ml'
    """

    def __init_subclass__(cls) -> None:
        """A kind of a kind: a dataclass must find its bases built."""
        super().__init_subclass__()
        for base in cls.__bases__:
            if base is not Value and issubclass(base, Value):
                _build(base)

    def __new__(cls, *_: Any, **__: Any) -> Self:
        """One value."""
        if _BUILT not in cls.__dict__:
            _build(cls)
        return super().__new__(cls)

    @classmethod
    def __get_pydantic_core_schema__(cls, source: Any, handler: Any) -> Any:
        """A schema is asked for by kinds of which none was made."""
        _build(cls)
        return handler(source)


def _build(cls: type[Value]) -> None:
    with _building:  # Two threads of the page may make the first one at once.
        if "__dataclass_fields__" not in cls.__dict__:
            dataclass(frozen=True)(cls)
        setattr(cls, _BUILT, True)
