"""Starting a ledger, and the people who sign in it."""

from typing import TYPE_CHECKING, Any

import click

from logbook.cli.desk import ask
from logbook.cli.failures import say
from logbook.cli.options import AIR, ALTITUDE, COUNTRY, FILLED, INITIALS, json_option, signed
from logbook.vocabulary import DATE_ORDERS, ROLES, WEEKDAYS

if TYPE_CHECKING:
    from datetime import datetime
    from zoneinfo import ZoneInfo

    from logbook.cli.desk import Desk
    from logbook.office.office import Opened
    from logbook.office.taking_down import Content
    from logbook.vocabulary import Role


def _described(command: Any) -> Any:
    """What a clinic may tell of itself, when it starts a ledger and later."""
    for option in (
        click.option(
            "--listing-day", type=click.Choice(WEEKDAYS), help="Day of the week's list (friday)."
        ),
        click.option(
            "--since", type=FILLED, metavar="DATE", help="First day on which this logbook is kept."
        ),
        click.option(
            "--ambient-pressure", "ambient_kpa", type=AIR, metavar="PRESSURE",
            help="The air's pressure at the clinic itself, such as 83.4kPa; or tell --altitude.",
        ),
        click.option(
            "--altitude", "altitude_m", type=ALTITUDE, metavar="HEIGHT",
            help="How high the clinic lies: 1600m or 5280ft.",
        ),
        click.option(
            "--date-order", type=click.Choice(DATE_ORDERS), help="What 3/2/2026 begins with."
        ),
        click.option("--country", type=COUNTRY, help="Its name or letters: Norway or NO."),
    ):  # fmt: skip
        command = option(command)
    return command


@click.command()
@click.argument("name")
@click.option("--timezone", required=True, help="Time zone by its city, such as America/Denver.")
@_described
@click.option("--because", help="Why a new ledger starts where another one lay.")
@click.option(
    "--shared", is_flag=True, help="For a group: its members read and write the file, too."
)
@click.pass_obj
def new(
    desk: "Desk", /, name: str, timezone: str, because: str | None, shared: bool, **told: Any
) -> None:  # fmt: skip
    """Start a ledger for a clinic.

    In a terminal it asks for the country, the order of dates and the altitude where no option
    tells them. The country is taken from the time zone otherwise.

    \b
    Examples:
      logbook new "Alder Creek Animal Hospital" --timezone America/Denver
      logbook --ledger /srv/gas.ledger new "Alder Creek" --timezone Europe/Oslo --shared
    """
    from zoneinfo import ZoneInfo

    from logbook.cli.desk import own_folder
    from logbook.cli.terminal import wrapped
    from logbook.clock import refuse_clock
    from logbook.entries.clinic import Clinic
    from logbook.ledger.disk import private_folder
    from logbook.ledger.file import who_shares
    from logbook.ledger.store import Draft, new_id
    from logbook.proof.place import place_warning
    from logbook.recording.record import start_ledger
    from logbook.sheets.sentences import sentence

    _demand_reason(desk, because)
    if desk.path.parent == own_folder():
        private_folder(desk.path.parent)
    now = desk.now()
    refuse_clock(now)
    # The zone is judged first: what is asked for next has its usual answer by it.
    zone = ZoneInfo(Clinic.of(name=name, timezone=timezone).timezone)
    body = Clinic.of(name=name, timezone=timezone, reason=because, **_asked(told, zone, now))
    entries = start_ledger(desk.path, [Draft(body, now, "", new_id())], zone, now, shared=shared)
    desk.office().remember_place()
    click.echo(wrapped(f"Saved entry {entries[0].seq}: {sentence(entries[0], zone)}."))
    if warning := place_warning(desk.path):
        say(f"{warning}.", err=True)
    if shared:
        click.echo(wrapped(who_shares(desk.path)))
    say(f"The ledger is {desk.path}. Next: logbook staff add INITIALS NAME.")


def _asked(told: dict[str, Any], zone: "ZoneInfo", now: "datetime") -> dict[str, Any]:
    """What a new clinic tells of itself: by its options, else by what is asked in a terminal."""
    from logbook.cli.desk import has_terminal
    from logbook.country import country_name, country_of, usual_date_order
    from logbook.times import parse_day

    told = {name: value for name, value in told.items() if value is not None}
    usual = country_of(zone.key)
    asks = has_terminal()
    if "country" not in told and (asks or usual):
        likely = country_name(usual) if usual else None
        told["country"] = click.prompt("Country", type=COUNTRY, default=likely) if asks else usual
    if asks and "date_order" not in told:
        told["date_order"] = click.prompt(
            "What does a date such as 3/2/2026 begin with?", type=click.Choice(DATE_ORDERS),
            default=usual_date_order(told["country"]),
        )  # fmt: skip
    if asks and not told.keys() & {"altitude_m", "ambient_kpa"}:
        told["altitude_m"] = click.prompt(
            "How high does the clinic lie, in m or ft (Enter: not known)?", default="",
            show_default=False, value_proc=_altitude,
        )  # fmt: skip
    if "since" in told:
        order = told.get("date_order") or usual_date_order(told.get("country"))
        told["since"] = parse_day(told["since"], zone, now, "--since", order=order)
    return told


def _altitude(typed: str) -> Any:
    return ALTITUDE.convert(typed, None, None) if typed.strip() else None


def _demand_reason(desk: "Desk", because: str | None) -> None:
    """Whoever types a path wrongly, or has lost a disk, must not begin anew without noticing."""
    from logbook.errors import InputError

    if because is None and desk.memory().lay_at(desk.path) and not desk.path.exists():
        raise InputError(
            f"another ledger lay at {desk.path} when it was used here before; bring it back with "
            "logbook restore, or say why a new one starts with --because WHY"
        )


@click.group()
def clinic() -> None:
    """What the clinic told of itself.

    \b
    Examples:
      logbook clinic show
      logbook clinic change --altitude 5280ft --because "never told" --by KO
    """


@clinic.command("show")
@json_option
@click.pass_obj
def clinic_show(desk: "Desk", as_json: bool) -> None:
    """Country, time zone, order of dates, air, first day of this logbook.

    \b
    Examples:
      logbook clinic show
      logbook clinic show --json
    """
    from logbook.answers.clinic import clinic as answer
    from logbook.cli.terminal import show
    from logbook.sheets.clinic import ClinicSheet

    with desk.reading() as book:
        found = answer(book.connection)
    show(ClinicSheet(found), as_json=as_json)


@clinic.command("change")
@click.argument("name", required=False, type=FILLED)
@_described
@click.option("--because", required=True, help="Why it is told anew.")
@signed
@click.pass_obj
def clinic_change(
    desk: "Desk", /, because: str, at: str | None, by: str | None, since: str | None, **told: Any
) -> None:
    """Tell anew what the clinic told of itself, or its new NAME. What is not named stays as it was.

    \b
    Examples:
      logbook clinic change --altitude 5280ft --because "never told" --by KO
      logbook clinic change --since 2026-01-12 --because "paper log taken over" --by KO
    """
    from logbook.recording.clinic import clinic_anew

    def content(opened: "Opened") -> "Content":
        day = opened.day(since, "--since") if since else None
        return clinic_anew(opened, told | {"since": day}, because), desk.instant(opened, at)

    desk.record(content, by=by)


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


@staff.command("pin")
@click.argument("initials", type=INITIALS)
@click.option("--role", type=click.Choice(ROLES), default="sign", help="What may be done.")
@click.option("--own", is_flag=True, help="Ask for a PIN of the person's own.")
@click.pass_obj
def staff_pin(desk: "Desk", initials: str, role: "Role", own: bool) -> None:
    """Make a PIN by which a person signs at the page.

    It takes the place of the one before. sign: the acts of a day. lead: also rules, plans, people,
    and the entries of others. look: sees everything and signs nothing.

    \b
    Examples:
      logbook staff pin KO
      logbook staff pin RT --role lead --own
    """
    from logbook.answers.people import people
    from logbook.errors import NotKnown
    from logbook.office.pins import Pins
    from logbook.units import shown

    with desk.reading() as book:
        known = [one.initials for one in people(book.connection)]
    if initials not in known:
        raise NotKnown("person", shown(initials), known)
    typed = ask("PIN", "no --own", hide_input=True, confirmation_prompt=True) if own else None
    made = Pins.beside(desk.path).make(initials, role, typed)
    if own:
        click.echo(f"{initials} signs with that PIN now.")
    else:
        click.echo(f"{initials} signs with the PIN {made}. It is shown this once.")


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
