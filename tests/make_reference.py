"""Print the README as the commands themselves have it: the reference from their help, the tour from their output.

usage: PYTHONPATH=. python tests/make_reference.py [--write]

The tour is every ``text`` block of the README that begins with ``$ bayshelf``: its commands are run on a fresh demo shelf and
what they print takes the place of what stood there. ``--write`` puts both into the README.
"""

from __future__ import annotations

import re
import shlex
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import click
from click.testing import CliRunner

from kb.cli import COMMANDS, cli
from kb.sheets import drive_fields, line_fields

README = Path(__file__).parent.parent / "README.md"
BEGIN, END = "<!-- commands: made by tests/make_reference.py -->", "<!-- end of commands -->"
KEYS_BEGIN, KEYS_END = "<!-- keys of sheets: made by tests/make_reference.py -->", "<!-- end of keys -->"
TOUR = re.compile(r"```text\n(\$ bayshelf .*?)\n```", re.DOTALL)


def reference() -> str:
    """Return the help of every command, 100 columns wide."""
    context = click.Context(cli, info_name="bayshelf", help_option_names=["-h", "--help"])
    return "\n\n".join(block for name in COMMANDS for block in _blocks(cli, context, name))


def _blocks(group: click.Group, context: click.Context, name: str) -> Iterator[str]:
    """Yield the help of one command, and of the commands inside it."""
    command = group.get_command(context, name)
    assert command is not None
    inner = click.Context(command, info_name=name, parent=context, terminal_width=100, max_content_width=100)
    yield f"#### `{inner.command_path}`\n\n```text\n{command.get_help(inner)}\n```"
    if isinstance(command, click.Group):
        for each in command.list_commands(inner):
            yield from _blocks(command, inner, each)


SHEETS = {
    "Drive sheet": (
        ("the sheet", drive_fields.SHEET_KEYS), ("`[[pulley]]`", drive_fields.PULLEY_KEYS),
        ("`[pulley.arm]`", drive_fields.ARM_KEYS), ("`[pulley.straightedge]`", drive_fields.STRAIGHTEDGE_KEYS),
        ("`[[distance]]`", drive_fields.DISTANCE_KEYS), ("`[doubt]`", drive_fields.DOUBT_KEYS),
    ),
    "Line sheet": (
        ("the sheet", line_fields.SHEET_KEYS), ("`[[end]]`", line_fields.END_KEYS), ("`[[point]]`", line_fields.POINT_KEYS),
        ("`[[run]]` (instead of points)", line_fields.RUN_KEYS), ("`[[keep_clear]]`", line_fields.KEEP_CLEAR_KEYS),
    ),
}  # fmt: skip
"""Which keys stand where in the sheets written by hand."""


def sheet_keys() -> str:
    """Return every key of the sheets written by hand, each with an example of what may stand there."""
    lines = []
    for title, tables in SHEETS.items():
        lines += [f"**{title}.**", ""]
        for where, keys in tables:
            shown = {key: form for key, form in keys.items() if form.quantity != "table" or key == "between"}
            said = "; ".join(f"`{key} = {form.example}`" for key, form in shown.items())
            lines += [f"* {where}: {said}"]
        lines.append("")
    return "\n".join(lines).strip()


def with_keys(text: str) -> str:
    """Return the README's text with the keys of the sheets as they are."""
    before, _, rest = text.partition(KEYS_BEGIN)
    return f"{before}{KEYS_BEGIN}\n\n{sheet_keys()}\n\n{KEYS_END}{rest.partition(KEYS_END)[2]}"


def toured(text: str, shelf: Path) -> str:
    """Return the README's text with the output of every command of its tour as it is on the demo shelf."""
    return TOUR.sub(lambda found: f"```text\n{_ran(found[1], shelf)}\n```", text)


def _ran(block: str, shelf: Path) -> str:
    commands = [line for line in block.splitlines() if line.startswith("$ bayshelf ")]
    return "\n".join(f"{line}\n{_output(shlex.split(line)[2:], shelf)}".rstrip() for line in commands)


def _output(arguments: list[str], shelf: Path) -> str:
    result = CliRunner().invoke(cli, ["--shelf", str(shelf), *arguments])
    assert result.exit_code == 0, result.output
    return result.stdout.rstrip()


def main() -> None:
    """Print the README anew, or write it."""
    with tempfile.TemporaryDirectory() as folder:
        shelf = Path(folder) / "bayshelf-demo.db"
        assert CliRunner().invoke(cli, ["--shelf", str(shelf), "demo"]).exit_code == 0
        text = with_keys(toured(README.read_text(encoding="utf-8"), shelf))
    before, _, rest = text.partition(BEGIN)
    after = rest.partition(END)[2]
    whole = f"{before}{BEGIN}\n\n{reference()}\n\n{END}{after}"
    if "--write" in sys.argv:
        README.write_text(whole, encoding="utf-8")
    else:
        print(whole)


if __name__ == "__main__":
    main()
