"""The command line: thin commands over `ui.screening`. Heavy imports wait inside the commands."""

from __future__ import annotations

import atexit
import errno
import gc
import os
import signal
import sys
from collections.abc import Iterable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from typer.core import TyperGroup

from fittings.words import ADVISORY
from ui import known_options

if TYPE_CHECKING:
    from ui.outputs import OutputFolder
    from ui.screening import Screened
    from vision.known import Known
    from vision.sources import Found

EXIT_FAILED = 1
EXIT_USAGE = 2
EXIT_SOME_UNREAD = 3
EXIT_STOPPED = 130


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
    """The commands of this module, and of others when one of them, or the list, is asked for."""

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

_debug = False


def _set_debug(wanted: bool) -> None:
    global _debug
    _debug = _debug or wanted


def _print_version(wanted: bool) -> None:
    if not wanted:
        return
    from importlib.metadata import version

    from ui.loading import load_reader

    typer.echo(f"seamtriage {version('seamtriage')}")
    reader = load_reader()
    typer.echo(f"model {reader.version}, sha256 {reader.sha256}")
    raise typer.Exit


Debug = Annotated[
    bool,
    typer.Option("--debug", callback=_set_debug, is_eager=True, help="Show where an error arose."),
]


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


@app.command(
    help=f"""Read photographs and list what their seams say, the most suspect first.

{ADVISORY}

Examples:

  seamtriage screen piece-07-left.jpg piece-07-right.jpg

  seamtriage screen photos/ delivery.zip --json > readings.jsonl

  seamtriage screen piece-07-left.jpg --nps 6 --length 300mm --from 212,1480 --to 1630,1502

A folder is walked in sorted order; ZIP archives, and the photographs in PDF and Word (.docx) files,
are read as they are. Exit codes: 0 every photo was read, 3 some could not be, 2 wrong usage, 1 the
job failed. What a photo shows never changes the exit code."""
)
def screen(
    sources: Annotated[
        list[Path],
        typer.Argument(metavar="PHOTO|FOLDER|ZIP|PDF", help="What to read.", show_default=False),
    ],
    as_json: Annotated[
        bool, typer.Option("--json", help="One JSON object per photo and line, as they are read.")
    ] = False,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out",
            metavar="DIR",
            help="Write <stem>.overlay.jpg (seams drawn on the photo) and <stem>.seams.png (labels"
            " 0 none, 1 longitudinal, 2 circumferential, 3 branch) for each photo.",
            show_default=False,
        ),
    ] = None,
    force: Annotated[
        bool, typer.Option("--force", help="Write over existing files in --out.")
    ] = False,
    nps: Annotated[
        str | None,
        typer.Option("--nps", metavar="SIZE", help=known_options.NPS_HELP, show_default=False),
    ] = None,
    shape: Annotated[bool, typer.Option("--shape", help=known_options.SHAPE_HELP)] = False,
    sheet: Annotated[bool, typer.Option("--sheet", help=known_options.SHEET_HELP)] = False,
    length: Annotated[
        str | None,
        typer.Option(
            "--length", metavar="LENGTH", help=known_options.LENGTH_HELP, show_default=False
        ),
    ] = None,
    start: Annotated[
        str | None,
        typer.Option("--from", metavar="X,Y", help=known_options.FROM_HELP, show_default=False),
    ] = None,
    end: Annotated[
        str | None,
        typer.Option("--to", metavar="X,Y", help=known_options.TO_HELP, show_default=False),
    ] = None,
    scheduler: Annotated[
        str | None,
        typer.Option(
            "--scheduler",
            metavar="ADDRESS",
            help="Read on the workers of the Dask scheduler at this address (tcp://host:8786)"
            " instead of on this machine. The photos are sent there.",
            show_default=False,
        ),
    ] = None,
    debug: Debug = False,  # noqa: ARG001
) -> None:
    if out is not None and out.exists() and not out.is_dir():
        raise typer.BadParameter(f"{out} is a file, not a folder.", param_hint="--out")
    from vision.sources import find_photos, photo_count

    if scheduler is not None:
        from ui.cluster import scheduler_address

        try:
            scheduler = scheduler_address(scheduler)
        except ValueError as error:
            raise typer.BadParameter(f"{error}.", param_hint="--scheduler") from None
    photos, total = find_photos(sources), photo_count(sources)
    known = known_options.known_of(nps, sheet, length, start, end, shape=shape, photos=total)
    code = _run_screen(
        photos, total, as_json=as_json, out=out, force=force, known=known, scheduler=scheduler
    )
    raise typer.Exit(code)


def _run_screen(
    photos: Iterable[Found],
    total: int | None,
    *,
    as_json: bool = False,
    out: Path | None = None,
    force: bool = False,
    known: Known | None = None,
    scheduler: str | None = None,
) -> int:
    """Reads, prints and writes; returns the exit code. Ctrl-C and workers that are lost keep what
    is done."""
    from ui.exports import json_line
    from ui.loading import load_reader
    from ui.terminal import progress_on_stderr
    from ui.workers import screen_batch
    from vision.errors import SeamtriageError

    load = load_reader if known is None else partial(load_reader, known)
    folder = None
    if out is not None:
        from ui.outputs import OutputFolder

        folder = OutputFolder(out, force=force)
    results: list[Screened] = []
    codes: set[int] = set()
    bar_would_mix = as_json and sys.stdout.isatty()
    try:
        with progress_on_stderr(total, wanted=not bar_would_mix) as progress:
            for result in screen_batch(photos, load, progress, known=known, scheduler=scheduler):
                if as_json:
                    typer.echo(json_line(result.answer))
                    sys.stdout.flush()
                else:
                    results.append(result.without_data())
                codes.add(_write(result, folder))
    except KeyboardInterrupt:
        typer.echo("seamtriage: stopped; what was finished is kept.", err=True)
        codes.add(EXIT_STOPPED)
    except SeamtriageError as error:
        if not codes:  # nothing was read, so there is nothing to show
            raise
        typer.echo(f"seamtriage: {error}", err=True)
        codes.add(EXIT_FAILED)
    if as_json:
        typer.echo(ADVISORY, err=True)
    else:
        from ui.tables import output_console, print_table

        print_table(results, output_console())
    for code in (EXIT_STOPPED, EXIT_FAILED, EXIT_SOME_UNREAD):
        if code in codes:
            return code
    return 0


def _write(result: Screened, folder: OutputFolder | None) -> int:
    """Writes the files of one photo where that is asked for; the exit code it asks for."""
    from ui.whole_files import NotWritten
    from vision.errors import OutputExists

    if result.error is not None:
        return EXIT_SOME_UNREAD
    try:
        if folder is not None:
            folder.write(result)
    except (OutputExists, NotWritten) as error:
        typer.echo(f"seamtriage: {error}", err=True)
        return EXIT_FAILED
    return 0


@app.command(
    help="""Render pictures of fittings with their exact truth, by seed.

Examples:

  seamtriage render --seed 7 --count 12 --out pictures/

  seamtriage render --seed 8 --count 3 --size 1280x960 --out large/

  seamtriage render --scene pictures/0003.scene.json --out again/

Per picture: NNNN.png, NNNN.seams.png (labels as of screen --out), NNNN.truth.npz and
NNNN.scene.json; manifest.jsonl has a line of facts for each. The same seed gives the same pictures.
They are rendered, not photographs."""
)
def render(
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="Where to write.")],
    seed: Annotated[int, typer.Option("--seed", min=0, help="Which pictures.")] = 0,
    count: Annotated[int, typer.Option("--count", min=1, max=9999, help="How many.")] = 12,
    size: Annotated[
        str | None,
        typer.Option(
            "--size",
            help="Width x height in pixels, multiples of 16. Without it 640x480, or the scene's.",
            show_default=False,
        ),
    ] = None,
    scene: Annotated[
        Path | None,
        typer.Option(
            "--scene",
            metavar="FILE",
            help="Render this saved scene again instead of drawing scenes.",
            show_default=False,
        ),
    ] = None,
    held_out: Annotated[
        bool,
        typer.Option("--held-out", help="With surfaces, grounds and lights kept from training."),
    ] = False,
    force: Annotated[
        bool, typer.Option("--force", help="Write over existing files in --out.")
    ] = False,
    debug: Debug = False,  # noqa: ARG001
) -> None:
    width, height = _size(size) if size is not None else (None, None)
    if out.exists() and not out.is_dir():
        raise typer.BadParameter(f"{out} is a file, not a folder.", param_hint="--out")
    from synthetic.gallery import render_scene_file, write_gallery
    from ui.terminal import progress_on_stderr

    if scene is not None:
        render_scene_file(scene, out, width, height, force=force)
        typer.echo(f"The scene's picture with its truth is in {out}.")
        return
    with progress_on_stderr(count) as progress:
        write_gallery(
            seed,
            count,
            out,
            width or 640,
            height or 480,
            progress,
            held_out=held_out,
            force=force,
        )
    typer.echo(f"{count} pictures with their truth are in {out}.")


def _size(text: str) -> tuple[int, int]:
    """(width, height) of a text such as 640x480; BadParameter for a size that can't be rendered."""
    try:
        width, height = (int(part) for part in text.lower().replace("×", "x").split("x"))
    except ValueError:
        raise typer.BadParameter(f"{text!r} is not like 640x480.", param_hint="--size") from None
    if not (64 <= width <= 8000 and 64 <= height <= 8000):
        raise typer.BadParameter("each side must have 64 to 8000 pixels.", param_hint="--size")
    if width % 16 or height % 16:
        raise typer.BadParameter("each side must be a multiple of 16.", param_hint="--size")
    return width, height


@app.command(
    help=f"""Read the sample photos, then serve the pages to a browser on this machine.

{ADVISORY}

Examples:

  seamtriage serve

  seamtriage serve --port 8600

No picture leaves the machine. Stop with Ctrl-C."""
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
        _run_screen(sample_photos(), samples)
    else:
        typer.echo("No sample pictures are shipped in this copy.", err=True)
    with served(address, chosen, insisted=insist_on_network) as process:
        typer.echo(f"The pages are at {page_address(address, chosen)} (stop with Ctrl-C).")
        sys.stdout.flush()
        try:
            process.wait()
        except KeyboardInterrupt:
            typer.echo("Stopped.", err=True)


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
        if _debug:
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
