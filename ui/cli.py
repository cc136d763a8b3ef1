"""The command line: each command in a module of its own, whose heavy imports wait until it runs."""

from __future__ import annotations

import atexit
import errno
import gc
import os
import sys
from typing import Annotated, Any

import typer
from typer.core import TyperGroup

from fittings.words import ADVISORY
from ui import debug_option, render_command, screen_command, serve_command
from ui.debug_option import Debug
from ui.exit_codes import EXIT_FAILED


def add_others(app: typer.Typer) -> None:
    """Adds the commands of other modules; importing them all takes longer than some photos do."""
    from ui import (
        checks_command,
        dims_command,
        import_command,
        order_command,
        piece_command,
        records_command,
        report_command,
        reuse_command,
        review_command,
        strength_command,
    )

    for command in (
        piece_command,
        reuse_command,
        records_command,
        import_command,
        report_command,
        order_command,
        review_command,
        dims_command,
        checks_command,
        strength_command,
    ):
        command.add_to(app)


class Commands(TyperGroup):
    """The commands used most, and the others when one of them, or the list, is asked for."""

    _whole = False

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        """The command of that name, None where there is none."""
        if cmd_name not in self.commands:
            self._complete()
        return super().get_command(ctx, cmd_name)

    def list_commands(self, ctx: Any) -> list[str]:
        """The names of all commands."""
        self._complete()
        return super().list_commands(ctx)

    def _complete(self) -> None:
        if self._whole:
            return
        self._whole = True
        others = typer.Typer(rich_markup_mode=None)
        add_others(others)
        self.commands.update(typer.main.get_group(others).commands)


app = typer.Typer(
    name="seamtriage",
    cls=Commands,
    help=f"""Find weld seams on butt-welding fittings in photographs.

{ADVISORY}

Examples:

  seamtriage serve

  seamtriage screen photos/ --out marked/""",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)


def _print_version(wanted: bool) -> None:
    if not wanted:
        return
    from importlib.metadata import version

    from ui.loading import load_reader

    typer.echo(f"seamtriage {version('seamtriage')}")
    reader = load_reader()
    typer.echo(f"model {reader.version}, sha256 {reader.sha256}")
    raise typer.Exit


@app.callback()
def _common(
    version: Annotated[
        bool,
        typer.Option(
            "--version",
            callback=_print_version,
            is_eager=True,
            help="Print the versions of program and model, and the model's sha256.",
        ),
    ] = False,
    debug: Debug = False,
) -> None:
    pass


for command in (screen_command, render_command, serve_command):
    command.add_to(app)


def main() -> None:
    """Entry point: one line on standard error for what goes wrong, a traceback with --debug."""
    # Python looks through all that it holds before it ends: most of a photo's time, for nothing.
    atexit.register(gc.freeze)
    # Asked for when NumPy is first imported: its threads for matrix products would spin at once,
    # for a quarter of that import's time, and no product here is worth sharing out.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    try:
        app()
    except BrokenPipeError:
        sys.stderr.close()  # the reader of our output left; nobody to tell
        sys.exit(EXIT_FAILED)
    except Exception as error:
        if debug_option.is_wanted():
            import traceback

            traceback.print_exc()
        else:
            text = " ".join(str(error).split()) or type(error).__name__
            if isinstance(error, OSError) and error.errno in (errno.ENOSPC, errno.EFBIG):
                text = f"there is no room for the output ({text}); make room where it goes"
            typer.echo(f"seamtriage: {text}", err=True)
        sys.exit(EXIT_FAILED)


if __name__ == "__main__":
    main()
