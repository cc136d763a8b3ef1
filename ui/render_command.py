"""`seamtriage render`: pictures and their exact truth from the generator."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from ui.debug_option import Debug

HELP = """Render pictures of fittings with their exact truth, by seed.

Examples:

  seamtriage render --seed 7 --count 12 --out pictures/

  seamtriage render --seed 8 --count 3 --size 1280x960 --out large/

  seamtriage render --scene pictures/0003.scene.json --out again/

Per picture: NNNN.png, NNNN.seams.png (labels as of screen --out), NNNN.truth.npz and
NNNN.scene.json; manifest.jsonl has a line of facts for each. The same seed gives the same pictures.
They are rendered, not photographs."""


def add_to(app: typer.Typer) -> None:
    """Adds `render` to the command line."""
    app.command(help=HELP)(render)


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
