"""The command line. Importing it brings in click and nothing heavy: help must be quick."""

import gc
import io
import os
import sys
from importlib import import_module
from pathlib import Path
from typing import Any, TextIO

import click

from logbook import __version__
from logbook.cli.helping import Formatter

click.Context.formatter_class = Formatter

# Command, module, and the line that the list of commands shows. It stands here so that the list
# can be printed without importing a single command.
COMMANDS: dict[str, tuple[str, str]] = {
    "board": ("board", "All machines on one screen."),
    "check": ("check", "Walk a pre-use check on a machine."),
    "case": ("case", "Log a case, or begin and end one live."),
    "absorbent": ("supplies", "Absorbent changes."),
    "agent": ("supplies", "Vaporizer fills and level readings."),
    "oxygen": ("oxygen", "Oxygen gauges and cylinder changes."),
    "charcoal": ("supplies", "Charcoal canisters: change and weight."),
    "ready": ("ready", "May this machine be used for the next patient?"),
    "setup": ("setup", "Circuit, bag, flows, oxygen and agent for a patient."),
    "due": ("due", "What is due in the coming week."),
    "forecast": ("forecast", "When supplies will probably have run out."),
    "export": ("export", "Files for other programs."),
    "sheet": ("sheet", "Sheets to print, as a page or a PDF."),
    "fault": ("fault", "Report a fault or incident."),
    "return-to-service": ("fault", "Put a unit back in service, naming the evidence."),
    "service": ("service", "Service plans, and services done."),
    "history": ("history", "All that was recorded about a unit."),
    "audit": ("audit", "What the record shows against a span of days."),
    "correct": ("correct", "Withdraw or replace an entry, with a reason."),
    "note": ("correct", "Write a note."),
    "reference": ("reference", "A patient's reference: show or erase it."),
    "machine": ("machine", "Add, list, show and retire machines."),
    "vaporizer": ("vaporizer", "Add, fit, remove and list vaporizers."),
    "checklist": ("checklist", "Show lists, or load the clinic's own."),
    "rule": ("rule", "The limits in force, and how to change one."),
    "clinic": ("clinic", "What the clinic told of itself, and how to change it."),
    "staff": ("clinic", "The people who sign entries."),
    "import": ("importing", "Take over a paper log from a CSV file."),
    "new": ("clinic", "Start a ledger for a clinic."),
    "verify": ("proof", "Check that the ledger is whole and unchanged."),
    "checkpoint": ("proof", "Where the ledger stands, for paper or a file."),
    "backup": ("proof", "Copy the ledger, verified."),
    "restore": ("proof", "Bring the ledger back from a backup."),
    "hand-over": ("handing", "Write the ledger for a group's centre."),
    "centre": ("centre", "For a group: take ledgers over, answer for all."),
    "rebuild": ("book", "Read all tables anew from the entries."),
    "schema": ("schema", "The JSON Schemas of answers and entries."),
    "serve": ("serve", "The page at the machine, for tablets and telephones."),
    "look": ("look", "A look for an inspector, which ends by itself."),
    "demo": ("book", "Try it on an invented clinic."),
}


OF_WORDS = "words"
"""After ``help`` it explains the words on the screens."""
MEANT = {"help": "help", "today": "board", "status": "board"}
"""Words that a person tries, with what they mean; the list of commands leaves them out."""


class Commands(click.Group):
    """A group that imports a command only when it is called."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002
        """Every command, in the order of the table: the daily ones first."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        """Import the module that holds the command."""
        cmd_name = MEANT.get(cmd_name, cmd_name)
        if cmd_name == "help":
            return help_
        if cmd_name not in COMMANDS:
            return None
        module = import_module(f"logbook.cli.{COMMANDS[cmd_name][0]}")
        command: click.Command = getattr(
            module, cmd_name.replace("-", "_").replace("import", "import_")
        )
        return command

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; click itself would call a reader that went away a failure.

        What calls for somebody ends every command alike, so that none forgets its code.
        """
        from logbook.cli.desk import ATTENTION
        from logbook.cli.failures import ReaderGone, acknowledged, damage_in_words
        from logbook.errors import EXIT_ATTENTION

        try:
            with acknowledged(ctx), damage_in_words(ctx):
                code = super().invoke(ctx)
        except BrokenPipeError as error:
            raise ReaderGone from error
        return EXIT_ATTENTION if not code and ATTENTION in ctx.meta else code

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002
        """The list of commands, printed from the table."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, line) for name, (_, line) in COMMANDS.items()])


@click.command(
    cls=Commands,
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80},
    epilog=(
        "Exit codes: 0 done; 1 failed or aborted; 2 wrong use; 3 done, and something is due, "
        "overdue or failed; 4 the ledger does not verify; 5 not saved, try again; 6 the file is "
        "from a newer program. The words on the screens: logbook help words."
    ),
)
@click.option(
    "--ledger",
    envvar="LOGBOOK_LEDGER",
    type=click.Path(path_type=Path, dir_okay=False),
    help="The ledger's file (or set LOGBOOK_LEDGER).",
)
@click.version_option(__version__, prog_name="logbook")
@click.pass_context
def logbook(ctx: click.Context, ledger: Path | None) -> int | None:
    """The logbook of the anesthesia machines: what was done, what is due.

    \b
    Examples:
      logbook case log bay1 --began 8:10 --ran 1h35 --by KO
      logbook due
    """
    from logbook.cli.desk import Desk, default_path

    if ledger == Path():
        raise click.UsageError("--ledger is empty; name the ledger's file, or leave it out")
    if ledger is None and os.environ.get("LOGBOOK_LEDGER") == "":
        raise click.UsageError("LOGBOOK_LEDGER is empty; name the ledger's file, or unset it")
    ctx.obj = Desk(ledger or default_path())
    if ctx.invoked_subcommand is not None:
        return None
    if not sys.stdout.isatty():
        raise click.UsageError("name a command; logbook --help lists them")
    from logbook.cli.board import board

    code: int = ctx.invoke(board)
    return code


@click.command("help")
@click.argument("words", nargs=-1)
@click.pass_context
def help_(ctx: click.Context, words: tuple[str, ...]) -> None:
    """Show the help of a command, or what the words on the screens mean.

    \b
    Examples:
      logbook help case log
      logbook help words
    """
    if words == (OF_WORDS,):
        from logbook.cli.terminal import wrapped
        from logbook.cli.words import WORDS

        click.echo("\n".join(wrapped(f"{word}: {means}") for word, means in WORDS.items()))
        return
    shown, path = ctx.find_root(), list(words)
    while path and isinstance(shown.command, click.Group):
        name, command, path = shown.command.resolve_command(shown, path)
        if command is not None:
            shown = click.Context(command, parent=shown, info_name=name)
    click.echo(shown.get_help())


OBJECTS = 100_000
"""So many new objects stand before garbage is looked for; more than an ordinary command makes."""


def _failing(handle: int) -> TextIO:
    """A stream on which every writing fails, at the place of one that was closed."""
    os.dup2(os.open(os.devnull, os.O_RDONLY), handle)
    return os.fdopen(handle, "w", encoding="utf-8", closefd=False)


def main() -> None:
    """Run the command line; every failure is one sentence on stderr and a documented code."""
    from logbook.cli.failures import run

    # A command ends before there is garbage; looking for it again and again while modules are
    # read took an eighth of the time of a whole command.
    gc.set_threshold(OBJECTS)
    # Of a closed output Python makes nothing at all; one that fails is told as any that fails.
    sys.stdout, sys.stderr = sys.stdout or _failing(1), sys.stderr or _failing(2)
    for stream in (sys.stdout, sys.stderr):
        # A terminal that lacks a letter of somebody's name shows its number; it fails nothing.
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")
    sys.exit(run(logbook))
