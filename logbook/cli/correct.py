"""Corrections and notes."""

from typing import TYPE_CHECKING, Any

import click
from click.core import ParameterSource

from logbook.cli.case import segments_of, settings
from logbook.cli.options import (
    CIRCUIT,
    DURATION,
    ENTRY_OR_LAST,
    FILLED,
    INITIALS,
    MASS,
    PAIR,
    TAG,
    UNIT,
    signed,
)

if TYPE_CHECKING:
    from logbook.cli.desk import Desk
    from logbook.office.office import Opened
    from logbook.office.taking_down import Content
    from logbook.recording.correcting import Change


@click.command()
@click.argument("entry", type=ENTRY_OR_LAST)
@click.option("--withdraw", is_flag=True, help="It never happened.")
@click.option("--restore", is_flag=True, help="Back to what it said at first.")
@click.option(
    "--initials", type=INITIALS, help="Who really did it; --by signs the correction itself."
)
@click.option(
    "--set",
    "fields",
    type=PAIR,
    multiple=True,
    metavar='"lot=A17"',
    help="What it should have said; nothing behind the = takes it out.",
)
@click.option(
    "--item",
    "items",
    type=PAIR,
    multiple=True,
    metavar='"flowmeters=failed: stuck"',
    help="One answer of a check.",
)
@click.option(
    "--happened", type=FILLED, metavar="TIME", help="When it really happened, or a case began."
)
@click.option("--ended", type=FILLED, metavar="TIME", help="When a case really ended.")
@click.option("--ran", "ran_s", type=DURATION, help="How long a case really ran.")
@click.option("--circuit", type=CIRCUIT, metavar="CIRCUIT", help="The circuit of a case.")
@click.option("--weight", type=MASS, help="The patient's weight: 24kg or 53lb.")
@settings
@click.option("--because", help="Why.")
@signed
@click.pass_obj
def correct(
    desk: "Desk", /, entry: int | None, because: str | None, withdraw: bool, restore: bool,
    at: str | None, by: str | None, **told: Any,
) -> None:  # fmt: skip
    """Withdraw an entry, or say what it should have said. The entry itself stays readable.

    ENTRY is a number, or "last". With nothing else it tells what can be changed, and what it says
    now. The end of a case is corrected by the number of its begin, too.

    \b
    Examples:
      logbook correct 812
      logbook correct 812 --withdraw --because "wrong machine" --by KO
      logbook correct last --ran 1h20 --circuit adult --because misread --by KO
      logbook correct 812 --initials RT --because "RT did it" --by KO
      logbook correct 812 --item "flowmeters=failed: stuck" --because misread --by KO
    """
    from logbook.cli.desk import ask
    from logbook.recording.correcting import correction_body, last_entry, restoring, withdrawal

    change = _change(told)
    if because is None and not (withdraw or restore or change):
        _tell_changeable(desk, entry)
        return
    if not (withdraw or restore or change):
        change = _by_alone(by)
    if withdraw + restore + bool(change) != 1:
        raise click.UsageError(
            "say one of --withdraw, --restore, or what changes; "
            f"logbook correct {entry or 'last'} tells what can be changed"
        )
    why = because or ask("Why", "--because")

    def content(opened: "Opened") -> "Content":
        seq = last_entry(opened.connection) if entry is None else entry
        if withdraw:
            body = withdrawal(opened, seq, why)
        elif restore:
            body = restoring(opened, seq, why)
        else:
            body = correction_body(opened, seq, opened.now, change, why)
        return body, desk.instant(opened, at)

    desk.record(content, by=by)


def _change(told: dict[str, Any]) -> "Change":
    """What changes, as it was typed."""
    from logbook.recording.correcting import Change

    segments = tuple(segments_of(told.pop("stretch"), told.pop("flow"), told.pop("dial")))
    circuit, weight = told.pop("circuit"), told.pop("weight")
    fields = (
        *told.pop("fields"),
        *((("circuit", circuit),) if circuit else ()),
        *((("weight", f"{weight:f}g"),) if weight is not None else ()),
    )
    initials = told.pop("initials")
    return Change(by=initials, fields=fields, segments=segments, **told)


def _by_alone(by: str | None) -> "Change":
    """Initials that are typed and nothing else say who did it, as well as who signs."""
    from logbook.recording.correcting import Change

    typed = click.get_current_context().get_parameter_source("by")
    return Change(by=by) if typed is ParameterSource.COMMANDLINE else Change()


def _tell_changeable(desk: "Desk", entry: int | None) -> None:
    from logbook.answers.changeable import changeable
    from logbook.cli.terminal import laid_out
    from logbook.recording.correcting import as_it_counts, last_entry
    from logbook.sheets.correcting import changeable_lines

    with desk.reading() as book:
        seq = last_entry(book.connection) if entry is None else entry
        found = as_it_counts(book, seq)
        fields = changeable(found.body, book.zone)
    click.echo(laid_out(changeable_lines(found, fields, book.zone)))


@click.command()
@click.argument("text")
@click.option("--on", "unit", type=TAG, metavar=UNIT, help="What it is about.")
@signed
@click.pass_obj
def note(desk: "Desk", text: str, unit: str | None, at: str | None, by: str | None) -> None:
    """Write a note about a unit, or about the clinic.

    \b
    Examples:
      logbook note "caster squeaks" --on bay1 --by KO
      logbook note "oxygen delivery late" --by KO
    """
    from logbook.entries.book import Note

    desk.record(Note.of(unit=unit, text=text), at=at, by=by)
