"""Asking about a case that ran so long that its end may have been forgotten, before it is saved."""

from collections.abc import Callable
from contextlib import suppress
from typing import TYPE_CHECKING

import click

from logbook.cli.desk import has_terminal

if TYPE_CHECKING:
    from datetime import datetime

    from logbook.answers.long_cases import Long
    from logbook.cli.desk import Desk
    from logbook.office.office import Opened

Span = tuple["datetime", "datetime"]
"""When a case began and ended."""
_KEYS = {"1": True, "y": True, "yes": True, "2": False, "n": False, "no": False}


def ask_whether_so_long(desk: "Desk", machine: str, span: "Callable[[Opened], Span]") -> None:
    """Ask in a terminal about a case that ran longer than is usual; elsewhere it is saved with a
    flag. What cannot be read is left to the saving, which refuses it.

    Raises:
        InputError: it did not run so long.
    """
    from logbook.cli.terminal import wrapped
    from logbook.errors import InputError
    from logbook.times import duration_text

    if not has_terminal():
        return
    long = _long(desk, machine, span)
    if long is None:
        return
    ran = duration_text(long.ran_s)
    usual = f" (usual there: {duration_text(long.usual_s)})" if long.usual_s else ""
    click.echo(wrapped(f"Did the case on {machine} really run {ran}{usual}?"))
    while (so_long := _KEYS.get(_typed())) is None:
        pass
    if not so_long:
        raise InputError(
            f"the case on {machine} did not run {ran}", "tell when it ended, or --ran 1h10"
        )


def _typed() -> str:
    typed = click.prompt("  1 yes, 2 no >", prompt_suffix=" ", default="", show_default=False)
    return str(typed).strip().lower()


def _long(desk: "Desk", machine: str, span: "Callable[[Opened], Span]") -> "Long | None":
    """What is known of a case before it is saved, and no lock is held while somebody thinks."""
    from logbook.answers.long_cases import ran_long
    from logbook.answers.moment import moment_at
    from logbook.answers.register import Register
    from logbook.errors import InputError
    from logbook.vocabulary import LONGEST_CASE_S

    # The saving opens the ledger once more and tells its warnings.
    with suppress(InputError), desk.office().reading(lambda _: None) as opened:
        began_at, ended_at = span(opened)
        ran_s = int((ended_at - began_at).total_seconds())
        if ended_at <= opened.now and ran_s <= LONGEST_CASE_S:
            register = Register(opened.connection, opened.clinic)
            moment = moment_at(opened.now, opened.zone)
            return ran_long(register, moment, machine, int(began_at.timestamp()), ran_s)
    return None
