"""The ``bayshelf`` command. A subcommand's module loads on first use: the short helps stand here beside the dotted
names, so that ``--help`` imports nothing but click."""

from __future__ import annotations

import os
import sys
from importlib import import_module
from pathlib import Path

import click

from kb.errors import BayshelfError

COMMANDS: dict[str, tuple[str, str]] = {
    "load": ("importers.commands.load:load", "Load supplier sheets, drives, lines, or past jobs onto the shelf."),
    "belts": ("queries.commands.belts:belts", "Find belts by measured length, ribs, width or words."),
    "pulleys": ("queries.commands.pulleys:pulleys", "Find pulleys by diameter, grooves, use or words."),
    "tensioners": (
        "queries.commands.pulleys:tensioners",
        "Find tensioners by diameter, grooves, use or words.",
    ),
    "hoses": ("queries.commands.hoses:hoses", "Find hoses by bore, length, bends or service."),
    "clamps": ("queries.commands.clamps:clamps", "Find clamps that close on a measured diameter."),
    "fittings": (
        "queries.commands.fittings:fittings",
        "Tell which thread this is, and find parts that have it.",
    ),
    "adapters": ("queries.commands.adapters:adapters", "Join two ends with one or two fittings from the shelf."),
    "find": ("queries.commands.find:find", "Find anything: a part number, a size, a thread, or words."),
    "jobs": ("queries.commands.jobs:jobs", "Find past jobs by words, or jobs like another one."),
    "morning": ("queries.commands.morning:morning", "Say what to watch for, measure and have in hand before a job."),
    "closing": ("queries.commands.closing:closing", "Go through a job's closing checks, and print its summary."),
    "record": ("importers.commands.record:record", "Record a job over the day, and the shop's own limits."),
    "drive": ("queries.commands.drive:drive", "A belt drive from its sheet: will the belt go on, what to move."),
    "line": ("queries.commands.line:line", "Work out a hose or line from its route, and write its order sheet."),
    "fluids": ("queries.commands.fluids:fluids", "Coolant and refrigerant: what to drain, add, draw and charge."),
    "holes": ("queries.commands.holes:holes", "A bolt circle from its spacing, and whether a part goes on a hub."),
    "fan": ("queries.commands.fan:fan", "The gap all round between a fan and its ring, and how to even it."),
    "merge": ("importers.commands.merge:merge", "Bring in another bay's parts, drives and jobs."),
    "settle": ("importers.commands.merge:settle", "Say which version of a job holds that two bays changed."),
    "publish": ("importers.commands.publish:publish", "Put a compact copy without private fields into a folder."),
    "check": ("queries.commands.check:check", "Look whether the shelf's file is whole."),
    "serve": ("queries.commands.serve:serve", "Open the shelf in a web browser, read-only."),
    "demo": ("kb.demo:demo", "Fill a shelf with the invented demo shop and try the main job on it."),
}


class LazyGroup(click.Group):
    """A group that knows its commands' names and helps, and imports one only to run it."""

    def __init__(self, *args: object, lazy: dict[str, tuple[str, str]], **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type] # click's own signature is passed through
        self.lazy = lazy

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the commands in the order of a day's work, not of the alphabet."""
        return list(self.lazy)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import the command."""
        if cmd_name not in self.lazy:
            return None
        module, attribute = self.lazy[cmd_name][0].split(":")
        command = getattr(import_module(module), attribute)
        assert isinstance(command, click.Command)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the list of commands without importing one."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, short) for name, (_, short) in self.lazy.items()])

    def invoke(self, ctx: click.Context) -> object:
        """Run the command; put into words what the disk or a damaged shelf does to it."""
        try:
            return super().invoke(ctx)
        except (BayshelfError, click.ClickException, click.exceptions.Exit, click.Abort, BrokenPipeError):
            raise
        except Exception as error:
            from kb.trouble import in_words

            told = in_words(error, shelf_path(ctx))
            if told is None:
                raise
            raise told from error

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Name the nearest command where the word is none."""
        name = args[0] if args else ""
        if name and not name.startswith("-") and name not in self.lazy:
            from difflib import get_close_matches

            near = get_close_matches(name, self.lazy, n=1)
            hint = f" Did you mean `{near[0]}`?" if near else " `bayshelf --help` lists them."
            raise click.UsageError(f"There is no command `{name}`.{hint}", ctx)
        return super().resolve_command(ctx, args)


@click.group(cls=LazyGroup, lazy=COMMANDS, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="bayshelf")
@click.option(
    "--shelf",
    type=click.Path(path_type=Path, dir_okay=True),
    envvar="BAYSHELF_SHELF",
    metavar="FILE",
    help="The shelf to use; else BAYSHELF_SHELF, else shelf.db in the application's folder.",
)
@click.pass_context
def cli(ctx: click.Context, shelf: Path | None) -> None:
    """A shop's shelf of measured knowledge: what will fit, before money and a day are spent.

    Load the sheets that suppliers send, find parts by what can be measured, and see what worked last time.
    """
    ctx.obj = shelf


def shelf_path(ctx: click.Context) -> Path:
    """Return the path of the shelf that this call is about."""
    from kb.shelf import default_path

    named: Path | None = ctx.find_root().obj
    return named if named is not None else default_path()


def main(args: list[str] | None = None) -> None:
    """Run the command; an error that a user can mend is told in words on standard error, with exit code 1."""
    try:
        code = cli.main(args=args, prog_name="bayshelf", standalone_mode=False)
        sys.stdout.flush()
    except BayshelfError as error:
        click.echo(f"bayshelf: {error}", err=True)
        code = 1
    except click.exceptions.Abort:
        click.echo("bayshelf: stopped; what was not finished was not stored.", err=True)
        code = 130
    except click.ClickException as error:
        error.show()
        code = error.exit_code
    except BrokenPipeError:
        sys.stderr.close()
        code = 0
    except OSError as error:
        click.echo(
            f"bayshelf: the system refused ({error.strerror}): the answer could not be given whole. Mend that, and look with "
            "`bayshelf check` at what is stored.",
            err=True,
        )
        code = 1
    try:
        sys.stdout.flush()
    except OSError:
        sys.stdout = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115 # Python would try once more at its end
    sys.exit(code if isinstance(code, int) else 0)
