"""`seamtriage serve`: the samples read, then the pages served."""

from __future__ import annotations

import signal
import sys
from typing import Annotated

import typer

from fittings.words import ADVISORY
from ui.debug_option import Debug
from ui.screen_command import run_screen

HELP = f"""Read the sample photos, then serve the pages to a browser on this machine.

{ADVISORY}

Examples:

  seamtriage serve

  seamtriage serve --port 8600

No picture leaves the machine. Stop with Ctrl-C."""


def add_to(app: typer.Typer) -> None:
    """Adds `serve` to the command line."""
    app.command(help=HELP, short_help="Read the samples, then serve the pages on this machine.")(
        serve
    )


def serve(
    port: Annotated[
        int | None,
        typer.Option(
            min=1, max=65535, help="Port; without it 8501, or a free one.", show_default=False
        ),
    ] = None,
    address: Annotated[str, typer.Option(help="Address to listen on.")] = "127.0.0.1",
    insist_on_network: Annotated[
        bool,
        typer.Option(
            "--insist-on-network",
            help="Let in everybody who can reach the address, where no sign-in is set up.",
        ),
    ] = False,
    debug: Debug = False,  # noqa: ARG001
) -> None:
    from ui.loading import sample_count, sample_photos
    from ui.serving import CannotServe, allowed_hosts, free_port, page_address, served

    try:
        allowed_hosts(address, insisted=insist_on_network)
    except CannotServe as error:
        raise typer.BadParameter(str(error), param_hint="--address") from error
    signal.signal(signal.SIGTERM, signal.default_int_handler)  # ends the pages as Ctrl-C does
    chosen = free_port(address, port)
    if samples := sample_count():
        typer.echo("Reading the sample pictures (rendered, not photographs) …", err=True)
        run_screen(sample_photos(), samples)
    else:
        typer.echo("No sample pictures are shipped in this copy.", err=True)
    with served(address, chosen, insisted=insist_on_network) as process:
        typer.echo(f"The pages are at {page_address(address, chosen)} (stop with Ctrl-C).")
        sys.stdout.flush()
        try:
            process.wait()
        except KeyboardInterrupt:
            typer.echo("Stopped.", err=True)
