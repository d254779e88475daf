"""Turning every failure into one sentence and a documented exit code."""

import os
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from errno import EBADF
from typing import TextIO

import click

from logbook.cli.hand import joined
from logbook.deed import Deed, watched
from logbook.errors import (
    EXIT_DONE,
    EXIT_FAILED,
    EXIT_USAGE,
    LedgerError,
    LogbookError,
    NotSaved,
    ZoneMissing,
)


class ReaderGone(Exception):
    """The reader of a pipe went away, as ``logbook history bay1 | head`` does: no failure."""


_IN_WORDS = (LogbookError, OSError, click.ClickException, click.Abort, click.exceptions.Exit)
"""What is told in words already."""


@contextmanager
def acknowledged(ctx: click.Context) -> Iterator[None]:
    """Let the identities of saved entries go once the person was told, or did not read on.

    They are kept where the entries stand and that could not be shown.
    """
    try:
        yield
    except BrokenPipeError:
        _acknowledge(ctx)
        raise
    _acknowledge(ctx)


def _acknowledge(ctx: click.Context) -> None:
    for identity in getattr(ctx.obj, "kept", ()):
        identity.acknowledged()


@contextmanager
def damage_in_words(ctx: click.Context) -> Iterator[None]:
    """Tell what a command stumbled over as damage, where verifying finds damage in the ledger.

    Where it finds none the mistake is the program's own, and is not hidden. The whole command is
    watched: a spoilt head was met only when it was printed.
    """
    try:
        yield
    except Exception as error:
        # A time zone that this computer lacks may be the spoilt name of one that it has.
        in_words = isinstance(error, _IN_WORDS) and not isinstance(error, ZoneMissing)
        finding = None if in_words else _damage(ctx)
        if finding is None:
            raise
        raise finding from error


def _damage(ctx: click.Context) -> LedgerError | None:
    from logbook.cli.desk import Desk
    from logbook.proof.verify import verify

    if not isinstance(ctx.obj, Desk) or not ctx.obj.path.is_file():
        return None
    path, findings = ctx.obj.path, verify(ctx.obj.path).findings
    if not findings:
        return None
    told = f"{findings[0].check}: {findings[0].sentence}"
    return LedgerError(f"{path} is damaged ({told}); restore the last copy and keep this file")


def run(command: click.Command, arguments: Sequence[str] | None = None) -> int:
    """Run the command line, on this process's arguments unless given some; answer its exit code."""
    arguments = sys.argv[1:] if arguments is None else arguments
    if any(not _is_text(one) for one in arguments):
        return _say("the command holds bytes that are no text; write it in UTF-8", EXIT_USAGE)
    deed = Deed()
    with watched(deed):
        try:
            code = command.main(joined(arguments), prog_name="logbook", standalone_mode=False)
            sys.stdout.flush()
        except click.exceptions.Exit as stop:
            return stop.exit_code
        except (BrokenPipeError, ReaderGone):
            _drop(sys.stdout)
            return EXIT_DONE
        except (Exception, KeyboardInterrupt) as error:
            if deed.done:
                return _not_shown(error)
            return _not_done(error)
    return code if isinstance(code, int) else EXIT_DONE


def _not_shown(error: BaseException) -> int:
    """What was done stays done, whatever hindered telling it."""
    _drop(sys.stdout)
    return _say(_reason(error), EXIT_FAILED, "Saved, but what was saved could not be shown")


def _not_done(failure: BaseException) -> int:
    """A failure before anything was done, in its sentence.

    Raises:
        Exception: the error itself, where it is a mistake of the program.
    """
    try:
        raise failure
    except click.exceptions.NoArgsIsHelpError as error:
        click.echo(error.ctx.get_help() if error.ctx else error.format_message())
        return EXIT_USAGE
    except click.ClickException as error:
        return _say(_leading_on(error), EXIT_USAGE)
    except (click.Abort, KeyboardInterrupt):
        if sys.stderr.isatty():
            click.echo(err=True)  # The line on which Ctrl-C was typed ends here.
        return _say("stopped before the end", EXIT_FAILED)
    except LogbookError as error:
        return _say(_leading_on(error), error.exit_code, error.lead)
    except OSError as error:
        _drop(sys.stdout)
        return _say(f"{error.filename or 'the system'}: {_reason(error)}", NotSaved.exit_code)


def _leading_on(error: click.ClickException | LogbookError) -> str:
    """The sentence of a failure with what would do; alone where the system, out of handles for
    files, lets no more of the program be loaded."""
    with suppress(OSError):
        if isinstance(error, LogbookError):
            from logbook.cli.refusal import in_shell

            return in_shell(error)
        from logbook.cli.mistyped import leads_on

        return leads_on(error)
    return str(error)


def _reason(error: BaseException) -> str:
    """Why something failed; what is said of a handle means a closed output to a person."""
    if isinstance(error, OSError):
        return "the output is closed" if error.errno == EBADF else error.strerror or str(error)
    return str(error)


def _drop(stream: TextIO) -> None:
    """Let what cannot be written go, or Python tries it again when it ends."""
    try:
        stream.flush()
    except OSError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())


def _is_text(argument: str) -> bool:
    """Whether an argument came in the encoding of the terminal; other bytes cannot be stored."""
    try:
        argument.encode()
    except UnicodeEncodeError:
        return False
    return True


def ended(sentence: str) -> str:
    """A sentence with its full stop; a question has its mark."""
    return sentence if sentence.endswith("?") else f"{sentence}."


def say(line: str, *, err: bool = False) -> None:
    """Print a line that holds a file's name, which a terminal must show and not obey."""
    from logbook.units import printable

    click.echo(printable(line), err=err)


def _to_width(line: str) -> str:
    """A sentence as wide as the terminal that shows it; elsewhere one line, easy to find."""
    from logbook.cli.terminal import wrapped

    return wrapped(line) if sys.stderr.isatty() else line


def _say(message: str, code: int, lead: str = LogbookError.lead) -> int:
    sentence = " ".join(message.split()).rstrip(".")
    try:
        say(_to_width(f"{lead}: {ended(sentence)}"), err=True)
    except OSError:  # Nobody can be told, so that the code alone says it.
        _drop(sys.stderr)
    return code
