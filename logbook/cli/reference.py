"""References of patients, which stand beside the chain."""

from typing import TYPE_CHECKING

import click

from logbook.cli.options import ENTRY, FILLED, json_option, signed

if TYPE_CHECKING:
    from logbook.cli.desk import Desk
    from logbook.office.office import Opened
    from logbook.office.taking_down import Content


@click.group()
def reference() -> None:
    """The references of patients that cases were logged with.

    They stand beside the entries, so that one can be erased and still be proved.

    \b
    Examples:
      logbook reference show 812
      logbook reference erase 812 --because "the owner asked for it" --by KO
    """


@reference.command()
@click.argument("entry", type=ENTRY)
@json_option
@click.pass_obj
def show(desk: "Desk", entry: int, as_json: bool) -> None:
    """The reference of a case, and what proves it.

    ENTRY is the number of the case.

    \b
    Examples:
      logbook reference show 812
      logbook reference show 812 --json
    """
    from logbook.answers.references import reference_of
    from logbook.cli.terminal import show as shown
    from logbook.sheets.references import ReferenceSheet

    with desk.reading() as book:
        sheet = ReferenceSheet(reference_of(book.connection, entry), book.zone)
    shown(sheet, as_json=as_json)


@reference.command()
@click.argument("entry", type=ENTRY)
@click.option("--because", required=True, type=FILLED, help="Why, in your own words.")
@signed
@click.pass_obj
def erase(desk: "Desk", entry: int, because: str, at: str | None, by: str | None) -> None:
    """Erase the reference of a case; the case itself stays. A note says who did it, and why.

    ENTRY is the number of the case. Copies that were made before still hold the reference.

    \b
    Examples:
      logbook reference erase 812 --because "the owner asked for it" --by KO
      logbook reference erase 812 --because "typed the owner's name" --by RT
    """
    from logbook.answers.references import erasable
    from logbook.entries.book import Note
    from logbook.recording.references import erase as take_out

    def content(opened: "Opened") -> "Content":
        found = erasable(opened.connection, entry)
        take_out(opened.connection, found.digests)
        note = Note.of(unit=found.machine, text=f"reference of case {entry} erased: {because}")
        return note, desk.instant(opened, at)

    desk.record(content, by=by)
