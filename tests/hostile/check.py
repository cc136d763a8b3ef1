"""One hostile file through the command line's own functions, and what must hold of the answer."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

from typer.testing import CliRunner

from fittings.words import ADVISORY
from tests.hostile.corpus import Case
from ui import cli
from ui.order_command import ADVISORY_ORDER
from vision.errors import SeamtriageError
from vision.sources import shown


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What a file came to, a reading or a named error each: `readings` + `errors` ≥ 1."""

    readings: int
    errors: tuple[str, ...]


def put(case: Case, folder: Path) -> Path:
    """The case as a file; under its plain number where the system can't hold its name."""
    for name in (case.name, case.name[:5] + Path(case.name).suffix):
        try:
            path = folder / name
            if path.parent != folder:
                continue
            path.write_bytes(case.data)
            return path
        except (OSError, ValueError):
            continue
    raise AssertionError(f"{case.name!r} could not be written")


def answer_to(case: Case, path: Path) -> Answer:
    """Runs the file through `seamtriage screen` or `seamtriage order`.

    AssertionError where it is not accounted for: neither a reading nor an error with its name.
    """
    command = "order" if case.is_order else "screen"
    done = CliRunner().invoke(cli.app, [command, "--json", "--", str(path)])
    expected = (SystemExit, SeamtriageError)
    assert done.exception is None or isinstance(done.exception, expected), repr(done.exception)
    objects = [json.loads(line) for line in done.stdout.split("\n") if line]
    if case.is_order:
        return _order(path, done.exception, objects, done.stderr)
    assert done.exit_code in (0, 3), done.output
    assert objects
    assert ADVISORY in done.stderr
    for each in objects:
        assert each["photo"].partition("!")[0] == shown(path.name)
        assert ("verdict" in each) != ("error" in each)
    errors = tuple(each["error"]["kind"] for each in objects if "error" in each)
    assert all("\n" not in each["error"]["message"] for each in objects if "error" in each)
    assert (done.exit_code == 3) == bool(errors)
    return Answer(readings=len(objects) - len(errors), errors=errors)


def _order(path: Path, problem: BaseException | None, objects: list, stderr: str) -> Answer:
    if isinstance(problem, SeamtriageError):
        assert path.name in str(problem)
        return Answer(readings=0, errors=("order_file",))
    assert objects
    assert ADVISORY_ORDER in stderr
    bad = [each["error"]["field"] for each in objects if "error" in each]
    return Answer(readings=len(objects) - len(bad), errors=tuple(bad))
