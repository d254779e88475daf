"""The store of a group for the commands that work on it, and the clock by which they do."""

from collections.abc import Callable
from functools import update_wrapper
from typing import TYPE_CHECKING, Any, TypeVar, cast

import click

if TYPE_CHECKING:
    from datetime import datetime

    from logbook.centre.store import Store
    from logbook.cli.desk import Desk

F = TypeVar("F", bound=Callable[..., Any])


def with_store(command: F) -> F:
    """Hands the store to a command, which is looked for only when the command does its work."""

    def called(*args: Any, **kwargs: Any) -> Any:
        return command(_store(click.get_current_context().obj), *args, **kwargs)

    return cast("F", update_wrapper(called, command))


def _store(url: str | None) -> "Store":
    from logbook.errors import LogbookError

    if not url:
        raise click.UsageError("there is no store; give --store before the command's name")
    try:
        from logbook.centre.store import Store
    except ImportError:
        raise LogbookError(
            "the centre needs more than a clinic does", "install gas-machine-logbook[centre]"
        ) from None
    return Store.at(url)


def clock() -> "datetime":
    """The clock of the desk at which the command is run."""
    desk: Desk = click.get_current_context().find_root().obj
    return desk.now()
