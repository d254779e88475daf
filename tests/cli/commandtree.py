"""Every command of the command line, found by walking the tree that click builds."""

from collections.abc import Iterator

import click

from logbook.cli import logbook


def commands(group: click.Group = logbook, path: str = "") -> Iterator[tuple[str, click.Command]]:
    """Each group and each command below ``group``, with the words that call it."""
    context = click.Context(group)
    for name in group.list_commands(context):
        command = group.get_command(context, name)
        assert command is not None, name
        words = f"{path} {name}".strip()
        yield words, command
        if isinstance(command, click.Group):
            yield from commands(command, words)


def leaves() -> dict[str, click.Command]:
    """The commands that do something, by the words that call them."""
    return {words: command for words, command in commands() if not isinstance(command, click.Group)}


def without_store() -> dict[str, click.Command]:
    """Those that need no group's store; the others are tried where there is one, in
    ``tests/centre``."""
    return {words: one for words, one in leaves().items() if not words.startswith("centre ")}
