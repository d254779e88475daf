"""A tag is found however a hand types it: every one has small letters."""

import click

from logbook.cli.options import TAG
from tests.cli.commandtree import leaves
from tests.cli.terminals import Command

NAMES = {"machine", "vaporizer", "unit", "units", "tag"}


def test_every_command_takes_a_tag_in_capitals() -> None:
    asked = [
        (words, one)
        for words, command in leaves().items()
        for one in command.params
        if one.name in NAMES and not words.startswith("centre ")
    ]
    assert len(asked) > 30
    assert [(words, one.name) for words, one in asked if one.type is not TAG] == []
    assert all(isinstance(one, click.Argument | click.Option) for _, one in asked)


def test_what_is_typed_in_capitals_is_the_unit_with_small_letters(bay1: Command) -> None:
    assert bay1("ready", "BAY1").out == bay1("ready", "bay1").out
    assert "machine bay9 added" in bay1("machine", "add", "Bay9").out
    assert "iso1 fitted to bay9" in bay1("vaporizer", "fit", "ISO1", " BAY9 ").out
    assert bay1("case", "log", "BAY1", "--began", "8:10", "--ran", "1h").saved
    assert bay1("case", "list", "--machine", "Bay1").out == bay1("case", "list").out
    assert "there is no machine bay8" in bay1("ready", "BAY8").err
