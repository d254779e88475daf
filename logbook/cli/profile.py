"""A machine's profile: what it is and has, asked once in plain questions, each with an option."""

import re
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any, NamedTuple

import click

from logbook.cli.options import (
    CHOSEN_CIRCUIT,
    FLOW,
    MASS,
    TAG,
    QuantityParam,
    signed,
)
from logbook.vocabulary import (
    ABSORBENT_KINDS,
    CIRCUITS,
    CYLINDER_SIZES,
    LEAK_TESTS,
    MOST_PLACES,
    SCAVENGING,
)

if TYPE_CHECKING:
    from logbook.cli.desk import Desk

Told = dict[str, Any]
NO = ("no", "n", "none")
YES = ("yes", "y")


class YesNo(click.ParamType[bool]):
    """Yes or no, as a person answers."""

    name = "yes|no"

    def convert(self, value: Any, param: Any, ctx: Any) -> bool:  # noqa: ARG002
        """Whether it is there."""
        if isinstance(value, bool):
            return value
        said = str(value).strip().lower()
        if said not in YES + NO:
            from logbook.units import shown

            raise click.UsageError(f"{shown(str(value))!r} is not one of 'yes', 'no'.", ctx)
        return said in YES


class Several(click.ParamType[tuple[str, ...]]):
    """One word or more of a kind, between blanks or commas; ``no`` is none of them."""

    def __init__(self, name: str, one: "click.ParamType[Any]") -> None:
        self.name = name
        self._one = one

    def convert(self, value: Any, param: Any, ctx: Any) -> tuple[str, ...]:
        """The words, each as its own kind reads it."""
        if isinstance(value, tuple):
            return value
        if value.strip().lower() in NO:
            return ()
        # A blank before a unit parts no two words.
        together = re.sub(r"(?<=[0-9])\s+(?=[A-Za-z])", "", value.strip())
        words = re.split(r"[\s,;]+", together)
        return tuple(self._one.convert(word, param, ctx) for word in words)


class CylinderOf(click.ParamType[str]):
    """An oxygen cylinder by its letter in the United States, or by its water volume."""

    name = "size"

    def convert(self, value: Any, param: Any, ctx: Any) -> str:  # noqa: ARG002
        """The letter in capitals, or the water volume in litres."""
        from logbook.entries.explaining import CYLINDER
        from logbook.units import shown

        said: str = value.strip().upper()
        if not re.fullmatch(CYLINDER, said):
            sizes = ", ".join(CYLINDER_SIZES)
            raise click.UsageError(
                f"{shown(value)} is none of the sizes {sizes}, and no water volume such as 4.7L",
                ctx,
            )
        return said


class ReliefValve(click.ParamType[Any]):
    """The pressure at which the safety relief valve opens, or whether there is one."""

    name = "pressure|yes|no"

    def convert(self, value: Any, param: Any, ctx: Any) -> Any:
        """Yes or no, or the pressure in cmH2O."""
        if str(value).strip().lower() in YES + NO:
            return YesNo().convert(value, param, ctx)
        return QuantityParam("pressure", "parse_pressure_cmh2o").convert(value, param, ctx)


class Compliance(QuantityParam):
    """The compliance of a breathing system, as a number or as it was measured."""

    module = "logbook.arithmetic.leak"


class Question(NamedTuple):
    """What is asked of a machine: the field, its option, how it is read, and the plain question.

    ``only_if`` says of what was told so far whether the question makes sense at all.
    """

    field: str
    option: str
    type: Any
    text: str
    only_if: Callable[[Told], bool] = lambda _: True


def _rebreathes(told: Told) -> bool:
    circuits = told.get("circuits")
    return circuits is None or any(one != "non-rebreathing" for one in circuits)


YES_NO = YesNo()
_CYLINDERS = Several("sizes|no", CylinderOf())
_CIRCUITS = Several("kinds", CHOSEN_CIRCUIT)
QUESTIONS = (
    Question("pipeline", "--pipeline", YES_NO, "Does a pipeline or a concentrator feed it?"),
    Question(
        "cylinders", "--cylinder", _CYLINDERS,
        "Oxygen cylinders on it, each by its US letter or its water volume (E, or E E, or 4.7L)",
    ),
    Question("oxygen_flush", "--flush", YES_NO, "Has it an oxygen flush?"),
    Question("second_gas", "--second-gas", YES_NO, "Has it a second gas, such as nitrous oxide?"),
    Question("oxygen_alarm", "--oxygen-alarm", YES_NO, "Does an alarm sound when oxygen fails?"),
    Question("oxygen_monitor", "--oxygen-monitor", YES_NO, "Is the oxygen in the gas measured?"),
    Question(
        "flowmeter_min_ml_min", "--flowmeter-least", FLOW,
        "The least flow that its oxygen flowmeter shows (200mL/min)",
    ),
    Question(
        "flowmeter_max_ml_min", "--flowmeter-most", FLOW,
        "The most that its oxygen flowmeter shows (4L/min)",
    ),
    Question("powered", "--power", YES_NO, "Does it run on mains power or a battery?"),
    Question("ventilator", "--ventilator", YES_NO, "Has it a ventilator?"),
    Question("suction", "--suction", YES_NO, "Does suction for the airway belong to it?"),
    Question(
        "vaporizer_places", "--vaporizers", click.IntRange(0, MOST_PLACES),
        "How many vaporizers can stand on it?",
    ),
    Question(
        "interlock", "--interlock", YES_NO, "Does an interlock let only one of them be on?",
        lambda told: (told.get("vaporizer_places") or 0) > 1,
    ),
    Question(
        "suction_bulb", "--suction-bulb", YES_NO,
        "Is there a suction bulb for the low-pressure leak test?",
    ),
    Question(
        "circuits", "--circuit", _CIRCUITS,
        "Circuits used on it (adult, pediatric, non-rebreathing)",
    ),
    Question("coaxial", "--coaxial", YES_NO, "Is one of them coaxial, a hose in a hose?"),
    Question(
        "absorbent_kind", "--absorbent-kind", click.Choice(ABSORBENT_KINDS), "Kind of absorbent",
        _rebreathes,
    ),
    Question(
        "absorbent_g", "--absorbent-mass", MASS, "Granules that its canister holds (1200g)",
        _rebreathes,
    ),
    Question(
        "hours_label", "--hours-label", YES_NO,
        "Are the hours of use written on the canister's label?", _rebreathes,
    ),
    Question(
        "relief_valve", "--relief-valve", ReliefValve(),
        "Pressure at which its safety relief valve opens, by its maker (60cmH2O, or no)",
    ),
    Question(
        "leak_test_first", "--leak-test-first", click.Choice(LEAK_TESTS),
        "Leak test first by: the flow that holds the pressure, or timed",
    ),
    Question(
        "compliance_ml_cmh2o", "--compliance", Compliance("compliance", "parse_compliance"),
        "Compliance of its breathing system as it is leak-tested, if measured (100mL/33cmH2O)",
    ),
    Question(
        "scavenging", "--scavenging", click.Choice(SCAVENGING), "Where does the waste gas go?"
    ),
)  # fmt: skip
"""Every question, along the way of the gas."""


def _options(command: Any) -> Any:
    """One option for each question."""
    for one in reversed(QUESTIONS):
        several = isinstance(one.type, Several)
        metavar = one.type.name.upper() if isinstance(one.type, Several | ReliefValve) else None
        if one.type is YES_NO:
            metavar = "yes|no"
        more: Told = {"multiple": True} if several else {}
        command = click.option(
            one.option, one.field, type=one.type, metavar=metavar, help=one.text, **more
        )(command)
    return command


@click.command("profile")
@click.argument("tag", type=TAG, metavar="MACHINE")
@_options
@click.option("--because", help="Why it is told anew.")
@signed
@click.pass_obj
def machine_profile(
    desk: "Desk", /, tag: str, because: str | None, at: str | None, by: str | None, **told: Any
) -> None:
    """What a machine is and has, told once.

    No list then asks for what it lacks.

    In a terminal each question is asked, Enter leaves it as it was; with any option told, only
    what is told changes.

    \b
    Examples:
      logbook machine profile bay1 --by KO
      logbook machine profile bay1 --pipeline yes --cylinder E --relief-valve 60cmH2O --by KO
    """
    from logbook.cli.desk import has_terminal, signature
    from logbook.entries.machine import MachineChange

    given = {field: value for field, value in _flat(told) if value not in (None, ())}
    given |= {field: () for field, value in told.items() if value == ((),)}
    initials = signature(by)
    if not given:
        if not has_terminal():
            options = ", ".join(one.option for one in QUESTIONS)
            raise click.UsageError(f"there is no terminal to ask in; give one or more of {options}")
        given = _asked(desk, tag)
        if not given:
            click.echo("Nothing changed, nothing saved.")
            return
    reason = "profile told" if because is None else because
    body = MachineChange.of(machine=tag, reason=reason, **_fields(given))
    desk.record(body, at=at, by=initials)


def _flat(told: Told) -> Iterator[tuple[str, Any]]:
    """What was told, an option that came several times as one tuple."""
    for field, value in told.items():
        several = isinstance(value, tuple)
        yield field, tuple(word for part in value for word in part) if several else value


def _fields(given: Told) -> Told:
    """What was told as the fields of an entry."""
    fields = dict(given)
    if "circuits" in fields:
        fields["circuits"] = tuple(CIRCUITS[word] for word in fields["circuits"])
    valve = fields.get("relief_valve")
    if valve is not None and not isinstance(valve, bool):
        fields |= {"relief_valve": True, "relief_valve_cmh2o": valve}
    return fields


def _asked(desk: "Desk", tag: str) -> Told:
    """What a person answers, question by question; what stays as it was is left out."""
    from logbook.answers.equipment import machine_lines, only
    from logbook.cli.terminal import wrapped

    with desk.reading() as book:
        line = only(machine_lines(book.connection, desk.moment(book, None)), "machine", tag)
    click.echo(wrapped(f"{tag}: what it is and has. Enter leaves a line as it stands."))
    stands: Told = {one.field: _spoken(line, one.field) for one in QUESTIONS}
    given: Told = {}
    for number, one in enumerate(QUESTIONS, start=1):
        known = {name: getattr(line, name) for name in ("circuits", "vaporizer_places")} | given
        if not one.only_if(known):
            continue
        answer = _answer(one, f"{number}/{len(QUESTIONS)} {one.text}", stands[one.field])
        if answer is not None:
            given[one.field] = answer
    return given


def _answer(question: Question, text: str, stands: str) -> Any:
    """One answer, asked until it can be read; None where Enter leaves it as it stands."""
    from logbook.cli.terminal import wrapped

    def read(typed: str) -> Any:
        if not typed.strip():
            return None
        return question.type.convert(typed, None, None)

    words = f" ({', '.join(question.type.choices)})" if hasattr(question.type, "choices") else ""
    words = words or (" (yes, no)" if question.type is YES_NO else "")
    return click.prompt(
        wrapped(f"{text}{words} [{stands}]"), prompt_suffix=" > ", default="", show_default=False,
        value_proc=read,
    )  # fmt: skip


def _spoken(line: Any, field: str) -> str:
    """A field as it stands, in the words with which it is typed."""
    value = getattr(line, field)
    if value is None:
        return "not told"
    if field == "relief_valve" and value and line.relief_valve_cmh2o is not None:
        return f"{line.relief_valve_cmh2o:f} cmH2O"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        words = {long: word for word, long in CIRCUITS.items()}
        return " ".join(words.get(one) or one for one in value) or "no"
    units = {"_ml_min": " mL/min", "_ml_cmh2o": " mL/cmH2O", "_g": " g"}
    unit = next((unit for end, unit in units.items() if field.endswith(end)), "")
    return f"{value:f}{unit}" if unit else str(value)
