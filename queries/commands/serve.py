"""``bayshelf serve``."""

from __future__ import annotations

import socket
import sys

import click

from kb.cli import shelf_path


@click.command()
@click.option(
    "--port", type=click.IntRange(0, 65535), default=8017, show_default=True, metavar="N", help="0 takes a free one."
)
@click.option("--share", is_flag=True, help="Let the shop's network in; Datasette's own pages are closed then.")
@click.option(
    "--host-name", "host_names", multiple=True, metavar="NAME",
    help="Another name it answers to, as behind a proxy; closes Datasette's own pages.",
)  # fmt: skip
@click.option("--allow-sql", is_flag=True, help="Let people on this machine type SQL; reading only.")
@click.pass_context
def serve(ctx: click.Context, port: int, share: bool, host_names: tuple[str, ...], allow_sql: bool) -> None:
    """Open the shelf in a web browser, read-only. Stop it with Ctrl-C."""
    import asyncio

    import uvicorn

    from kb.shelf import open_to_read
    from queries.explorer.server import build_datasette

    if (share or host_names) and allow_sql:
        raise click.UsageError("--allow-sql is for this machine alone: leave it or --share and --host-name out.")
    path = shelf_path(ctx)
    open_to_read(path).close()
    bound = _bind("0.0.0.0" if share else "127.0.0.1", port)
    port = bound.getsockname()[1]
    names = [*host_names, *(_own_addresses() if share else [])]
    for name in names or ["127.0.0.1"]:
        click.echo(f"The shelf is at http://{name}:{port}/", err=False)
    if share:
        _echo_qr(f"http://{names[0]}:{port}/")
    datasette = build_datasette(path, host_names=tuple(names), share=share, allow_sql=allow_sql)
    config = uvicorn.Config(datasette.app(), log_level="warning", lifespan="on", server_header=False)
    asyncio.run(uvicorn.Server(config).serve(sockets=[bound]))


def _echo_qr(address: str) -> None:
    """Draw the address for a phone's camera; the poster page has it to print."""
    import segno

    segno.make(address, error="m", micro=False).terminal(out=sys.stdout, compact=True)
    click.echo(f"{address}poster is a page to print for the wall.")


def _bind(host: str, port: int) -> socket.socket:
    from kb.errors import AnswerError

    # Told as TCP, or asyncio leaves Nagle's algorithm on and every answer waits 40 ms for the reader's acknowledgement.
    bound = socket.socket(proto=socket.IPPROTO_TCP)
    bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        bound.bind((host, port))
        bound.listen(128)  # before the address is said: whoever follows it at once waits instead of being refused
    except OSError as error:
        raise AnswerError(f"port {port} cannot be used ({error.strerror}).", do="Name another with --port.") from error
    return bound


def _own_addresses() -> list[str]:
    """This machine's addresses on the shop's network: nothing is sent to find them."""
    probe = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    try:
        probe.connect(("192.0.2.1", 9))  # a documentation address (RFC 5737); a UDP connect sends no packet
        return [str(probe.getsockname()[0]), socket.gethostname().lower()]
    except OSError:
        return [socket.gethostname().lower()]
    finally:
        probe.close()
