"""Leading on from a word that no command knows: the nearest one, or the likely act in full."""

import re
from collections.abc import Iterator, Mapping
from difflib import get_close_matches

import click

NEAR = 0.65
"""How alike two words must be; our own choice: ``chekc`` and ``check`` are."""
MOST_NAMED = 2
"""How many acts are named: more would have to be read."""
_TAG = re.compile(r"[a-z]+[-_]?[0-9]+")
"""What looks like the tag of a machine or vaporizer."""
_SURPLUS = re.compile(r"unexpected extra arguments? \(([^ )]+)")

ACTS = {
    "alarm": ("check",),
    "begin": ("case begin",),
    "broken": ("fault report",),
    "calibration": ("service done",),
    "calendar": ("due",),
    "canister": ("absorbent change", "charcoal change"),
    "change": ("absorbent change", "oxygen change"),
    "cases": ("case list", "import cases"),
    "cylinder": ("oxygen change", "oxygen left"),
    "delete": ("correct",),
    "dog": ("setup",),
    "dropped": ("fault report",),
    "edit": ("correct",),
    "end": ("case end",),
    "export": ("backup",),
    "finish": ("case end",),
    "fix": ("service done", "return-to-service"),
    "gas": ("agent level", "oxygen read"),
    "gauge": ("oxygen read",),
    "granules": ("absorbent change",),
    "init": ("new",),
    "leak": ("check", "fault report"),
    "leaks": ("check", "fault report"),
    "lime": ("absorbent change",),
    "limits": ("rule list",),
    "list": ("machine list", "case list"),
    "log": ("case log", "history"),
    "patient": ("setup",),
    "people": ("staff list",),
    "print": ("sheet board", "sheet week"),
    "problem": ("fault report",),
    "repair": ("service done",),
    "replace": ("correct",),
    "report": ("fault report", "due"),
    "return": ("return-to-service",),
    "service-due": ("due",),
    "settings": ("rule list",),
    "soda": ("absorbent change",),
    "start": ("case begin", "new"),
    "stop": ("case end",),
    "tank": ("oxygen change", "oxygen left"),
    "test": ("check",),
    "tipped": ("fault report",),
    "undo": ("correct",),
    "users": ("staff list",),
    "weekly": ("due", "sheet week"),
    "weigh": ("charcoal weigh",),
    "who": ("staff list",),
    "withdraw": ("correct",),
}
"""The acts that a person probably means by a word that is none of ours."""

MAIN = {
    "absorbent": "absorbent change",
    "agent": "agent level",
    "case": "case log",
    "charcoal": "charcoal weigh",
    "fault": "fault report",
    "machine": "machine show",
    "oxygen": "oxygen read",
    "service": "service done",
    "vaporizer": "vaporizer show",
}
"""The act that is meant where a person leaves the verb out: ``fault bay1``."""

OPTIONS = {
    "--amount": ("--added", "--level"),
    "--circut": ("--circuit",),
    "--date": ("--at", "--since", "--last", "--as-of"),
    "--days": ("--all", "--since"),
    "--duration": ("--ran", "--for"),
    "--finish": ("--ended",),
    "--initials": ("--by",),
    "--iso": ("--dial",),
    "--length": ("--ran", "--for"),
    "--minutes": ("--ran", "--for"),
    "--note": ("--remark", "--detail", "--because"),
    "--notes": ("--remark", "--detail", "--because"),
    "--o2": ("--flow", "--cylinder"),
    "--oxygen": ("--flow", "--cylinder"),
    "--percent": ("--dial",),
    "--pressure": ("--cylinder", "--gauge"),
    "--reason": ("--because", "--detail"),
    "--start": ("--began", "--at"),
    "--started": ("--began", "--at"),
    "--stop": ("--ended",),
    "--tech": ("--by",),
    "--time": ("--at", "--ran"),
    "--user": ("--by",),
    "--vol": ("--added", "--level"),
    "--volume": ("--added", "--level", "--water"),
    "--what": ("--detail",),
    "--when": ("--at",),
    "--who": ("--by",),
    "--why": ("--because",),
}
"""The options that a person probably means by another name, the likeliest first."""


def leads_on(error: click.ClickException) -> str:
    """The sentence of a slip on the command line, and how to go on from it."""
    context = getattr(error, "ctx", None)
    if context is None:
        return error.format_message()
    if isinstance(error, click.NoSuchOption):
        return _other_option(error, context)
    if isinstance(error, click.exceptions.NoSuchCommand):
        return _other_command(error, context)
    message = error.format_message().strip().rstrip(".")
    surplus = _SURPLUS.search(message)
    if surplus and any("--machine" in param.opts for param in context.command.params):
        return f"{message}; write --machine {surplus[1]}"
    if isinstance(error, click.MissingParameter) or surplus:
        return f"{message}; write it like: {_example(context.command)}"
    return message


def _other_option(error: click.NoSuchOption, context: click.Context) -> str:
    known = [name for param in context.command.params for name in param.opts if name[:2] == "--"]
    meant = [name for name in OPTIONS.get(error.option_name, ()) if name in known][:1]
    near = meant or get_close_matches(error.option_name, known, MOST_NAMED, NEAR)
    would_do = f"write {' or '.join(near)}" if near else f"known are {', '.join(known)}"
    return f"there is no option {error.option_name} here; {would_do}"


def _other_command(error: click.exceptions.NoSuchCommand, context: click.Context) -> str:
    word, root = error.command_name.lower(), context.find_root()
    known = dict(_commands(root.command, root))
    within = context.command_path.removeprefix(root.command_path).strip()
    here = [path for path in known if path.rpartition(" ")[0] == within]
    alike = [act for one in get_close_matches(word, ACTS, 1, NEAR) for act in ACTS[one]]
    near = list(ACTS.get(word, ())) or _near(word, here)
    if not near and _TAG.fullmatch(word):
        return _of_unit(error.command_name, within, known)
    near = near or alike or _near(word, list(known))
    lines = [_example(known[path]) for path in near or here if path in known]
    if not near and not within:
        return f"there is no command {error.command_name}; logbook --help lists them"
    shown = ", or: ".join(lines[:MOST_NAMED])
    return f"there is no command {error.command_name} here; write it like: {shown}"


def _of_unit(tag: str, within: str, known: Mapping[str, click.Command]) -> str:
    """Where a machine or vaporizer stands in the place of a command: what is asked of one."""
    if within in MAIN:
        return f"{within} of what? Write it like: {_example(known[MAIN[within]])}"
    lines = f"logbook ready {tag}, or: logbook history {tag}"
    return f"there is no command {tag} here; write it like: {lines}"


def _near(word: str, paths: list[str]) -> list[str]:
    """The commands of which the last word is most like the one that was typed."""
    best = get_close_matches(word, {path.split()[-1] for path in paths}, 1, NEAR)
    return [path for path in paths if path.split()[-1] in best]


def _commands(
    command: click.Command, context: click.Context
) -> Iterator[tuple[str, click.Command]]:
    """Every command by the words that call it."""
    if not isinstance(command, click.Group):
        return
    for name in command.list_commands(context):
        one = command.get_command(context, name)
        if one is not None:
            yield name, one
            yield from ((f"{name} {path}", leaf) for path, leaf in _commands(one, context))


def _example(command: click.Command) -> str:
    """The first example of a command's help: a whole line to type."""
    lines = (line.strip() for line in (command.help or "").splitlines())
    return next((line for line in lines if line.startswith("logbook ")), "logbook --help")
