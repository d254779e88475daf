"""Options that many commands share, and the types that read what a hand writes."""

from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

from logbook.vocabulary import CIRCUITS, CIRCUITS_TO_CHOOSE, circuit_word

F = TypeVar("F", bound=Callable[..., Any])


class QuantityParam(click.ParamType[Any]):
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


class DurationParam(QuantityParam):
    """Reads a duration into seconds."""

    module = "logbook.times"

    def convert(self, value: Any, param: Any, ctx: Any) -> Any:
        """The duration in seconds."""
        seconds = super().convert(value, param, ctx)
        if not seconds:
            raise click.UsageError(f"{value.strip()} is no time at all; write it like 1h35", ctx)
        return seconds


class CountryParam(QuantityParam):
    """Reads a country into its two letters."""

    module = "logbook.country"


class DegreesParam(QuantityParam):
    """Reads a temperature into °C."""

    module = "logbook.temperature"


class EntryNumber(click.ParamType[int]):
    """The number of an entry, in plain digits: ``int`` alone also reads ``1_0`` and ``٧``."""

    name = "number"
    most_digits = 12
    what, like = "an entry", "812"

    def convert(self, value: Any, param: Any, ctx: Any) -> int:  # noqa: ARG002
        """The number as written."""
        if isinstance(value, int):
            return value
        plain = value.isascii() and value.isdigit() and len(value) <= self.most_digits
        if not plain or int(value) == 0:
            from logbook.units import shown

            raise click.UsageError(
                f"{self.what.split()[1]} {shown(value)} is not the number of {self.what}; "
                f"write it like {self.like}",
                ctx,
            )
        return int(value)


class EntryOrLast(EntryNumber):
    """The number of an entry, or ``last`` for the newest one, which is None."""

    def convert(self, value: Any, param: Any, ctx: Any) -> Any:
        """The number as written."""
        return None if value == "last" else super().convert(value, param, ctx)


class Pair(click.ParamType[tuple[str, str]]):
    """What is told anew and its value, with a = between them."""

    name = "pair"

    def convert(self, value: Any, param: Any, ctx: Any) -> tuple[str, str]:
        """The two, as written."""
        if isinstance(value, tuple):
            return value
        word, equals, text = value.partition("=")
        if not equals or not word.strip():
            from logbook.units import shown

            example = param.metavar if param else '"lot=A17"'
            raise click.UsageError(
                f"{shown(value) or 'nothing'} has no = in it; write it like {example}", ctx
            )
        return word, text


class VersionNumber(EntryNumber):
    """The number of a list's version."""

    what, like = "a version", "2"


class CylinderNumber(EntryNumber):
    """Which of a machine's cylinders."""

    what, like = "a cylinder", "2"


class FilledParam(click.ParamType[str]):
    """Text that says something: an empty time or tag is a slip, never taken for left out."""

    name = "text"

    def convert(self, value: Any, param: Any, ctx: Any) -> str:
        """The text as written."""
        if not value.strip():
            what = param.opts[0] if param else self.name
            raise click.UsageError(f"{what} is empty; leave it out or fill it in", ctx)
        return str(value)


class TagOf(click.ParamType[str]):
    """The tag of a unit, in small letters however a hand typed it: every tag is."""

    name = "text"

    def convert(self, value: Any, param: Any, ctx: Any) -> str:  # noqa: ARG002
        """The tag in small letters; other scripts' letters stay as typed, to be refused."""
        text = str(value)
        return text.strip().lower() if text.isascii() else text


class InitialsOf(FilledParam):
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
ENTRY_OR_LAST = EntryOrLast()
PAIR = Pair()
VERSION = VersionNumber()
CYLINDER_NUMBER = CylinderNumber()
INITIALS = InitialsOf()
TAG = TagOf()
FILLED = FilledParam()

MASS = QuantityParam("weight", "parse_mass_g")
VOLUME = QuantityParam("volume", "parse_volume_ml")
FLOW = QuantityParam("flow", "parse_flow_ml_min")
GAUGE = QuantityParam("pressure", "parse_pressure_psi")
PIPELINE = QuantityParam("pressure", "parse_pipeline_psi")
ALTITUDE = QuantityParam("altitude", "parse_altitude_m")
AIR = QuantityParam("pressure", "parse_air_kpa")
PERCENT = QuantityParam("percent", "parse_percent")
NUMBER = QuantityParam("number", "parse_decimal")
DURATION = DurationParam("duration", "parse_duration_s")

COUNTRY = CountryParam("country", "parse_country")

TEMPERATURE = DegreesParam("temperature", "parse_temperature_c")

CIRCUIT = CircuitOf(list(CIRCUITS))
CHOSEN_CIRCUIT = CircuitOf(CIRCUITS_TO_CHOOSE)

UNIT = "MACHINE|VAPORIZER"
"""What a person names where either will do."""

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
output_option = click.option(
    "--output",
    multiple=True,
    nargs=2,
    type=(PERCENT, PERCENT),
    metavar="DIAL MEASURED",
    help="Measured output at a dial setting: 2 2.1. May stand several times.",
)


def certified(command: F) -> F:
    """The options of what a certificate tells: its number, and the file in which it was scanned."""
    number = click.option("--certificate", help="Number of the certificate.")
    scan = click.option(
        "--certificate-file", "scan", metavar="FILE",
        type=click.Path(exists=True, dir_okay=False, path_type=Path),
        help="The scanned certificate: its SHA-256 is kept, the file stays where it is.",
    )  # fmt: skip
    return number(scan(command))


def sha256_of(file: Path | None) -> str | None:
    """The SHA-256 of a file as 64 digits; None where none was named."""
    if file is None:
        return None
    import hashlib

    if not file.is_file():
        raise click.UsageError(f"{file} is no plain file; name the scanned certificate")
    with file.open("rb") as content:
        return hashlib.file_digest(content, "sha256").hexdigest()


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
