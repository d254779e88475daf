"""Starting a ledger, and the people who sign in it."""

from typing import TYPE_CHECKING

import click

from logbook.cli.failures import say
from logbook.cli.options import INITIALS, json_option, signed
from logbook.vocabulary import WEEKDAYS

if TYPE_CHECKING:
    from logbook.cli.desk import Desk


@click.command()
@click.argument("name")
@click.option("--timezone", required=True, help="IANA zone, such as America/Denver.")
@click.option(
    "--listing-day", type=click.Choice(WEEKDAYS), default="friday", help="Day of the week's list."
)
@click.option("--because", help="Why a new ledger starts where another one lay.")
@click.option(
    "--shared", is_flag=True, help="For a group: its members read and write the file, too."
)
@click.pass_obj
def new(
    desk: "Desk", name: str, timezone: str, listing_day: str, because: str | None, shared: bool
) -> None:  # fmt: skip
    """Start a ledger for a clinic.

    \b
    Examples:
      logbook new "Alder Creek Animal Hospital" --timezone America/Denver
      logbook --ledger /srv/gas.ledger new "Alder Creek" --timezone Europe/Oslo --shared
    """
    from contextlib import suppress
    from zoneinfo import ZoneInfo

    from logbook.cli.desk import own_folder
    from logbook.cli.terminal import wrapped
    from logbook.entries.clinic import Clinic
    from logbook.errors import LogbookError
    from logbook.ledger.disk import private_folder
    from logbook.ledger.file import who_shares
    from logbook.ledger.store import Draft, ledger_uuid, new_id
    from logbook.proof.place import place_warning
    from logbook.recording.opening import reading
    from logbook.recording.record import found
    from logbook.sheets.sentences import sentence

    body = Clinic.of(name=name, timezone=timezone, listing_day=listing_day, reason=because)
    _demand_reason(desk, because)
    if desk.path.parent == own_folder():
        private_folder(desk.path.parent)
    zone, now = ZoneInfo(timezone), desk.now()
    entries = found(desk.path, [Draft(body, now, "", new_id())], zone, now, shared=shared)
    # The ledger stands; what this computer cannot remember of it must not hide that it does.
    with suppress(LogbookError, OSError), reading(desk.path) as book:
        desk.memory().remember_place(desk.path, ledger_uuid(book.connection))
    click.echo(wrapped(f"Saved entry {entries[0].seq}: {sentence(entries[0], zone)}."))
    if warning := place_warning(desk.path):
        say(f"{warning}.", err=True)
    if shared:
        click.echo(wrapped(who_shares(desk.path)))
    say(f"The ledger is {desk.path}. Next: logbook staff add INITIALS NAME.")


def _demand_reason(desk: "Desk", because: str | None) -> None:
    """Whoever types a path wrongly, or has lost a disk, must not begin anew without noticing."""
    from logbook.errors import InputError

    if because is None and desk.memory().lay_at(desk.path) and not desk.path.exists():
        raise InputError(
            f"another ledger lay at {desk.path} when it was used here before; bring it back with "
            "logbook restore, or say why a new one starts with --because WHY"
        )


@click.group()
def staff() -> None:
    """The people who sign entries.

    \b
    Examples:
      logbook staff add KO "Day lead"
      logbook staff list
    """


@staff.command("add")
@click.argument("initials", type=INITIALS)
@click.argument("name")
@signed
@click.pass_obj
def staff_add(desk: "Desk", initials: str, name: str, at: str | None, by: str | None) -> None:
    """Add a person. Entries carry the initials; the name stands in a table beside them.

    \b
    Examples:
      logbook staff add KO "Day lead"
      logbook staff add RT "Night technician" --by KO
    """
    from logbook.entries.clinic import Staff
    from logbook.errors import InputError
    from logbook.recording.record import name_person

    if not name.strip() or len(name) > 100:
        raise InputError("the name must have 1 to 100 characters; write the person's name")
    body = Staff.of(initials=initials)

    with desk.writing() as opened:
        saved = desk.take_down(opened, body, at=at, by=by or "")
        name_person(opened, initials, name.strip())
    desk.tell(opened, saved)


@staff.command("list")
@json_option
@click.pass_obj
def staff_list(desk: "Desk", as_json: bool) -> None:
    """Who signs entries.

    \b
    Examples:
      logbook staff list
      logbook staff list --json
    """
    from logbook.answers.people import people
    from logbook.cli.terminal import show
    from logbook.sheets.people import StaffListSheet

    with desk.reading() as book:
        found = people(book.connection)
    show(StaffListSheet(found), as_json=as_json)
