"""The JSON Schemas of answers and entries, as they come with the program."""

import click


@click.command()
@click.argument("name", required=False)
def schema(name: str | None) -> None:
    """The JSON Schema of an answer or an entry; without a name, all their names.

    Within the number of a schema keys are only ever added.

    \b
    Examples:
      logbook schema
      logbook schema due/1
    """
    from pathlib import Path

    import logbook
    from logbook.errors import NotKnown
    from logbook.units import shown

    folder = Path(logbook.__file__).parent / "schemas"
    files = {
        file.relative_to(folder).with_suffix("").as_posix(): file for file in folder.rglob("*.json")
    }
    known = sorted(files)
    if name is None:
        click.echo("\n".join(known))
    elif name in files:
        click.echo(files[name].read_text("utf-8"), nl=False)
    else:
        raise NotKnown("schema", shown(name), known)
