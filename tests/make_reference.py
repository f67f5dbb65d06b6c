"""Print the README's reference of commands from the commands' own help; ``--write`` puts it in place."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from kb.cli import COMMANDS, cli

README = Path(__file__).parent.parent / "README.md"
BEGIN, END = "<!-- commands: made by tests/make_reference.py -->", "<!-- end of commands -->"


def reference() -> str:
    """Return the help of every command, 100 columns wide."""
    context = click.Context(cli, info_name="bayshelf", help_option_names=["-h", "--help"])
    blocks = []
    for name in COMMANDS:
        command = cli.get_command(context, name)
        assert command is not None
        blocks += _blocks(command, name, context)
    return "\n\n".join(blocks)


def _blocks(command: click.Command, name: str, context: click.Context) -> list[str]:
    """The help of a command, and below it that of each command inside it."""
    inner = click.Context(command, info_name=name, parent=context, terminal_width=100, max_content_width=100)
    blocks = [f"#### `{inner.command_path}`\n\n```text\n{command.get_help(inner)}\n```"]
    if isinstance(command, click.Group):
        for one in command.list_commands(inner):
            found = command.get_command(inner, one)
            assert found is not None
            blocks += _blocks(found, one, inner)
    return blocks


def main() -> None:
    """Print the reference, or write it into the README."""
    text = README.read_text(encoding="utf-8")
    before, _, rest = text.partition(BEGIN)
    after = rest.partition(END)[2]
    whole = f"{before}{BEGIN}\n\n{reference()}\n\n{END}{after}"
    if "--write" in sys.argv:
        README.write_text(whole, encoding="utf-8")
    else:
        print(reference())


if __name__ == "__main__":
    main()
