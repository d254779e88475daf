"""Options that many commands share, and the types that read what a hand writes."""

from collections.abc import Callable
from typing import Any, TypeVar

import click

from logbook.vocabulary import CIRCUITS, CIRCUITS_TO_CHOOSE, circuit_word

F = TypeVar("F", bound=Callable[..., Any])


class Typed(click.ParamType[Any]):
    """Reads a quantity with its unit through the named function of ``logbook.units``."""

    module = "logbook.units"

    def __init__(self, name: str, function: str) -> None:
        self.name = name
        self._function = function

    def convert(self, value: Any, param: Any, ctx: Any) -> Any:
        """The quantity in the unit that entries use."""
        from importlib import import_module

        from logbook.errors import InputError

        if not isinstance(value, str):
            return value
        what = param.human_readable_name if param else self.name
        parse = getattr(import_module(self.module), self._function)
        try:
            return parse(value, what.lower().replace("_", " "))
        except InputError as error:
            raise click.UsageError(str(error), ctx) from None


class Lasting(Typed):
    """Reads a duration into seconds."""

    module = "logbook.times"

    def convert(self, value: Any, param: Any, ctx: Any) -> Any:
        """The duration in seconds."""
        seconds = super().convert(value, param, ctx)
        if not seconds:
            raise click.UsageError(f"{value.strip()} is no time at all; write it like 1h35", ctx)
        return seconds


class EntryNumber(click.ParamType[int]):
    """The number of an entry, in plain digits: ``int`` alone also reads ``1_0`` and ``٧``."""

    name = "number"
    most_digits = 12

    def convert(self, value: Any, param: Any, ctx: Any) -> int:  # noqa: ARG002
        """The number as written."""
        if isinstance(value, int):
            return value
        plain = value.isascii() and value.isdigit() and len(value) <= self.most_digits
        if not plain or int(value) == 0:
            from logbook.units import shown

            raise click.UsageError(
                f"entry {shown(value)} is not the number of an entry; write it like 812", ctx
            )
        return int(value)


class Filled(click.ParamType[str]):
    """Text that says something: an empty time or tag is a slip, never taken for left out."""

    name = "text"

    def convert(self, value: Any, param: Any, ctx: Any) -> str:
        """The text as written."""
        if not value.strip():
            what = param.opts[0] if param else self.name
            raise click.UsageError(f"{what} is empty; leave it out or fill it in", ctx)
        return str(value)


class InitialsOf(Filled):
    """Initials as they are kept, in capitals, however a hand typed them."""

    name = "initials"

    def convert(self, value: Any, param: Any, ctx: Any) -> str:
        """The initials in capitals; other scripts' letters stay as typed, to be refused."""
        text = super().convert(value, param, ctx).strip()
        return text.upper() if text.isascii() else text


class CircuitOf(click.Choice[str]):
    """A circuit by our words for it, or by another word of the trade."""

    def convert(self, value: Any, param: Any, ctx: Any) -> str:
        """Our word for the circuit."""
        return super().convert(circuit_word(value) or value, param, ctx)


ENTRY = EntryNumber()
INITIALS = InitialsOf()
FILLED = Filled()

MASS = Typed("weight", "parse_mass_g")
VOLUME = Typed("volume", "parse_volume_ml")
FLOW = Typed("flow", "parse_flow_ml_min")
GAUGE = Typed("pressure", "parse_pressure_psi")
PIPELINE = Typed("pressure", "parse_pipeline_psi")
PERCENT = Typed("percent", "parse_percent")
NUMBER = Typed("number", "parse_decimal")
DURATION = Lasting("duration", "parse_duration_s")

CIRCUIT = CircuitOf(list(CIRCUITS))
CHOSEN_CIRCUIT = CircuitOf(CIRCUITS_TO_CHOOSE)

at_option = click.option(
    "--at",
    type=FILLED,
    metavar="TIME",
    help="When it happened: 7:10, 1:10pm, 'yesterday 7:10', 'mon 7:10', '2026-03-02 07:30'.",
)
by_option = click.option(
    "--by", type=INITIALS, envvar="LOGBOOK_BY", metavar="INITIALS", help="Who signs."
)
json_option = click.option("--json", "as_json", is_flag=True, help="One JSON object.")
as_of_option = click.option(
    "--as-of",
    type=FILLED,
    metavar="DATE",
    help="As things stood at the end of a day, or at a time.",
)


AGAIN = "logbook.again"
"""Where a command finds that another entry of the same words is meant."""


def recorded(command: F) -> F:
    """The options of every command that records an entry: who signs, and whether it is another."""
    again = click.option(
        "--again",
        is_flag=True,
        expose_value=False,
        callback=lambda ctx, _param, given: ctx.meta.update({AGAIN: given}),
        help="Another entry, of which all words are the same.",
    )
    return by_option(again(command))


def signed(command: F) -> F:
    """The options of an entry that also says when it happened."""
    return at_option(recorded(command))
