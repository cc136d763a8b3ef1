from __future__ import annotations

import errno
import io
import json
import os
import pty
import socket
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest
import typer

from fittings.words import ADVISORY
from models.weights import WeightsError
from synthetic import gallery
from tests.stand_in import StandInReader, bad_files
from ui import cli, debug_option, loading, serving


def run(monkeypatch: pytest.MonkeyPatch, *arguments: str) -> int:
    """Exit code of `seamtriage` with these arguments."""
    monkeypatch.setattr(sys, "argv", ["seamtriage", *arguments])
    with pytest.raises(SystemExit) as caught:
        cli.main()
    code = caught.value.code
    return code if isinstance(code, int) else 0


@pytest.fixture
def folder(tmp_path: Path, suspect_jpeg: bytes, plain_jpeg: bytes) -> Path:
    photos = tmp_path / "photos"
    photos.mkdir()
    (photos / "a-plain.jpg").write_bytes(plain_jpeg)
    (photos / "b-suspect.jpg").write_bytes(suspect_jpeg)
    return photos


@pytest.mark.usefixtures("reader")
def test_a_disk_that_is_full_costs_no_reading(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], folder: Path
) -> None:
    """The batch stopped at the first photo whose pictures could not be written."""

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    out = folder.parent / "marked"
    assert run(monkeypatch, "screen", str(folder), "--out", str(out)) == 1
    told, err = capsys.readouterr()
    assert all(name in told for name in ("b-suspect.jpg", "a-plain.jpg"))
    assert "b-suspect.overlay.jpg can't be written (No space left on device); make room" in err
    assert list(out.iterdir()) == []


def test_output_that_finds_no_room_is_named(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    class Full(io.StringIO):
        def flush(self) -> None:
            raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(sys, "stdout", Full())
    assert run(monkeypatch, "checks", "--fitting", "tee", "--json") == 1
    assert "no room for the output ([Errno 28] No space left" in capsys.readouterr().err


@pytest.mark.usefixtures("reader")
def test_json_is_one_object_per_line_in_order(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], folder: Path
) -> None:
    for name, (data, _) in bad_files().items():
        (folder / name).write_bytes(data)
    assert run(monkeypatch, "screen", str(folder), str(folder / "gone.jpg"), "--json") == 3
    out, err = capsys.readouterr()
    objects = [json.loads(line) for line in out.splitlines()]
    expected = [p.name for p in sorted(folder.iterdir()) if p.suffix != ".psd"]
    assert [each["photo"] for each in objects] == [*expected, "gone.jpg"]
    kinds = {each["photo"]: each["error"]["kind"] for each in objects if "error" in each}
    assert kinds == {
        **{name: kind for name, (_, kind) in bad_files().items() if not name.endswith(".psd")},
        "gone.jpg": "not_found",
    }
    assert err.count(ADVISORY) == 1
    assert "\x1b" not in out


@pytest.mark.usefixtures("reader")
def test_the_table_is_sorted_and_carries_the_caution(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], folder: Path
) -> None:
    assert run(monkeypatch, "screen", str(folder)) == 0
    out, err = capsys.readouterr()
    assert out.index("b-suspect.jpg") < out.index("a-plain.jpg") < out.index(ADVISORY)
    assert "\x1b" not in out
    assert err == ""


@pytest.mark.usefixtures("reader")
def test_out_writes_two_files_per_photo_and_spares_what_is_there(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], folder: Path
) -> None:
    out = folder.parent / "marked"
    arguments = ("screen", str(folder), "--json", "--out", str(out))
    assert run(monkeypatch, *arguments) == 0
    assert sorted(path.name for path in out.iterdir()) == [
        "a-plain.overlay.jpg",
        "a-plain.seams.png",
        "b-suspect.overlay.jpg",
        "b-suspect.seams.png",
    ]
    capsys.readouterr()
    assert run(monkeypatch, *arguments) == 1
    printed, err = capsys.readouterr()
    assert len(printed.splitlines()) == 2
    assert "--force" in err
    assert run(monkeypatch, *arguments, "--force") == 0


@pytest.mark.usefixtures("reader")
def test_an_archive_is_read_as_it_is(
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    tmp_path: Path,
    suspect_jpeg: bytes,
) -> None:
    with zipfile.ZipFile(tmp_path / "lot.zip", "w") as archive:
        archive.writestr("x/one.jpg", suspect_jpeg)
    assert run(monkeypatch, "screen", str(tmp_path / "lot.zip"), "--json") == 0
    assert json.loads(capsys.readouterr().out)["photo"] == "lot.zip!x/one.jpg"


@pytest.mark.usefixtures("reader")
def test_a_progress_bar_on_a_terminal_leaves_standard_output_clean(
    monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str], folder: Path
) -> None:
    screen_end, program_end = pty.openpty()
    with os.fdopen(program_end, "w") as terminal:
        monkeypatch.setattr(sys, "stderr", terminal)
        assert run(monkeypatch, "screen", str(folder), "--json") == 0
        shown = os.read(screen_end, 100_000).decode()
    os.close(screen_end)
    assert "0/2" in shown
    out = capfd.readouterr().out
    assert [json.loads(line)["photo"] for line in out.splitlines()] == [
        "a-plain.jpg",
        "b-suspect.jpg",
    ]


def test_stopping_keeps_what_is_done(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], folder: Path
) -> None:
    class Stopped(StandInReader):
        def read_bytes(self, data: bytes, name: str):  # type: ignore[no-untyped-def]
            if "suspect" in name:
                raise KeyboardInterrupt
            return StandInReader.read_bytes(self, data, name)

    monkeypatch.setattr(loading, "load_reader", Stopped)
    assert run(monkeypatch, "screen", str(folder)) == 130
    assert "a-plain.jpg" in capsys.readouterr().out


def test_missing_weights_are_one_line_and_a_traceback_only_when_asked(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], folder: Path
) -> None:
    def refuse() -> StandInReader:
        raise WeightsError("x.onnx cannot be read.\nRestore it.")

    monkeypatch.setattr(loading, "load_reader", refuse)
    monkeypatch.setattr(debug_option, "_wanted", False)
    assert run(monkeypatch, "screen", str(folder)) == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert err == "seamtriage: x.onnx cannot be read. Restore it.\n"
    assert run(monkeypatch, "screen", str(folder), "--debug") == 1
    assert "Traceback" in capsys.readouterr().err
    monkeypatch.setattr(debug_option, "_wanted", False)


@pytest.mark.parametrize(
    "arguments",
    [
        ("screen",),
        ("screen", "--no-such-option", "x.jpg"),
        ("screen", "x.jpg", "--out", __file__),
        ("no-such-command",),
        ("render", "--out", "x", "--size", "big"),
        ("render", "--out", "x", "--count", "0"),
        ("render", "--out", "x", "--size", "100x100"),
        ("render", "--out", __file__),
        ("serve", "--address", "0.0.0.0"),
        ("serve", "--port", "99999"),
        ("order", "x.csv", "--json", "--text"),
        ("dims", "--fitting", "90 LR elbow"),
        ("strength", "--fitting", "tee", "--nps", "12", "--schedule", "STD", "--pressure", "3"),
    ],
)
def test_wrong_usage_is_exit_code_2(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], arguments: tuple[str, ...]
) -> None:
    assert run(monkeypatch, *arguments) == 2
    assert capsys.readouterr().out == ""


def list_of_commands() -> list[str]:
    group = typer.main.get_group(cli.app)
    return group.list_commands(group.make_context("seamtriage", ["screen", "x.jpg"]))


TRADE_COMMANDS = ("order", "review", "dims", "checks", "strength")
NO_READING = ("render", "verify", "export-lot", "import-lot")  # these show none
COMMANDS = list_of_commands()


@pytest.mark.parametrize("command", [(), *((name,) for name in COMMANDS)])
@pytest.mark.parametrize("flag", ["-h", "--help"])
def test_help_gives_the_job_and_two_examples(
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    command: tuple[str, ...],
    flag: str,
) -> None:
    assert run(monkeypatch, *command, flag) == 0
    text = capsys.readouterr().out
    examples = text.partition("Examples:")[2]
    assert examples.count("  seamtriage ") >= 2
    assert command or "..." not in text.partition("Commands:")[2], "a command's line is cut"
    if command and command[0] in NO_READING:
        return
    caution = "Advisory only: " if command and command[0] in TRADE_COMMANDS else ADVISORY
    assert caution in " ".join(text.split())


def test_every_command_stands_in_the_readme() -> None:
    readme = (Path(__file__).resolve().parents[2] / "README.md").read_text(encoding="utf-8")
    assert len(COMMANDS) >= 20
    assert [name for name in COMMANDS if f"seamtriage {name}" not in readme] == []


def test_render_writes_pictures_and_truth_and_spares_what_is_there(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    monkeypatch.setattr(gallery, "native_stages", lambda: None)  # nothing to compile
    out, again = tmp_path / "pictures", tmp_path / "again"
    arguments = ("render", "--seed", "7", "--count", "2", "--size", "64x64", "--out", str(out))
    assert run(monkeypatch, *arguments) == 0
    assert "2 pictures" in capsys.readouterr().out
    names = {path.name for path in out.iterdir()}
    assert names >= {"0000.png", "0001.seams.png", "0001.scene.json", "manifest.jsonl"}
    assert run(monkeypatch, *arguments) == 1
    err = capsys.readouterr().err
    assert err.startswith("seamtriage: ")
    assert "--force" in err
    assert len(err.splitlines()) == 1
    assert run(monkeypatch, *arguments, "--force") == 0
    saved = str(out / "0001.scene.json")
    assert run(monkeypatch, "render", "--scene", saved, "--out", str(again)) == 0
    assert (again / "0001.png").read_bytes() == (out / "0001.png").read_bytes()


def test_a_scene_that_cannot_be_read_is_one_line(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    bad = tmp_path / "x.scene.json"
    bad.write_text("{}", encoding="utf-8")
    assert run(monkeypatch, "render", "--scene", str(bad), "--out", str(tmp_path / "o")) == 1
    err = capsys.readouterr().err
    assert "x.scene.json" in err
    assert len(err.splitlines()) == 1


def test_version_names_program_model_and_hash(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], reader: StandInReader
) -> None:
    assert run(monkeypatch, "--version") == 0
    out = capsys.readouterr().out
    assert out.startswith("seamtriage 0")
    assert reader.version in out
    assert reader.sha256 in out


def test_help_loads_nothing_heavy() -> None:
    code = (
        "import sys; sys.argv = ['seamtriage', '--help']\n"
        "from ui.cli import main\n"
        "try: main()\n"
        "except SystemExit: pass\n"
        "heavy = ('cv2', 'numpy', 'streamlit', 'onnxruntime', 'matplotlib', 'openpyxl')\n"
        "print([m for m in heavy if m in sys.modules])"
    )
    root = Path(__file__).resolve().parents[2]
    answer = subprocess.run(
        [sys.executable, "-c", code], cwd=root, capture_output=True, text=True, check=True
    )
    assert answer.stdout.splitlines()[-1] == "[]"


def test_a_taken_port_is_left_for_a_free_one_unless_it_was_asked_for() -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(serving.CannotServe, match=str(port)):
            serving.free_port("127.0.0.1", port)
    assert serving.free_port("127.0.0.1", None) > 0


@pytest.mark.parametrize(
    ("address", "own"),
    [("127.0.0.1", True), ("::1", True), ("localhost", True), ("0.0.0.0", False), ("x.y", False)],
)
def test_only_loopback_counts_as_this_machine(address: str, own: bool) -> None:
    assert serving.is_loopback(address) == own


def test_the_pages_are_started_with_the_projects_settings() -> None:
    command = serving.streamlit_command(serving.APP, "127.0.0.1", 1234)
    assert "--browser.gatherUsageStats=false" in command
    assert "--server.address=127.0.0.1" in command
    assert "--server.port=1234" in command
    settings = tomllib.loads(serving.CONFIG.read_text(encoding="utf-8"))
    assert settings["server"]["address"] == "127.0.0.1"
    assert settings["client"]["showErrorDetails"] == "none"


NOT_NEEDED = (
    *("scipy", "skimage", "rich", "numpy.ma", "numpy.random", "multiprocessing", "pillow_heif"),
    *("synthetic", "xml", "vision.proportions", "vision.sheet", "ui.order_command"),
)
"""What no reading of one JPEG needs; each takes a part of the time of a reading to import."""


def test_a_cold_start_loads_only_what_a_photo_needs() -> None:
    sample = loading.SAMPLES / "piece-01.jpg"
    code = (
        "import sys\nfrom ui import cli\ntry:\n    cli.main()\nexcept SystemExit as stop:\n"
        "    assert not stop.code\nprint(*sorted(sys.modules))"
    )
    command = [sys.executable, "-c", code, "screen", "--json", str(sample)]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    answer, loaded = done.stdout.splitlines()
    assert json.loads(answer)["verdict"]["reading"]
    assert {"numpy", "vision.judging"} <= set(loaded.split())
    assert set(NOT_NEEDED) & set(loaded.split()) == set()


@pytest.mark.skipif(sys.platform != "linux", reason="asks /proc")
def test_importing_numpy_starts_no_thread_in_a_command() -> None:
    code = (
        "import os, sys; sys.argv = ['seamtriage', '--help']\n"
        "from ui.cli import main\n"
        "try: main()\n"
        "except SystemExit: pass\n"
        "import numpy; print(len(os.listdir('/proc/self/task')))"
    )
    told = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS")
    env = {name: value for name, value in os.environ.items() if name not in told}
    root = Path(__file__).resolve().parents[2]
    answer = subprocess.run(
        [sys.executable, "-c", code], cwd=root, env=env, capture_output=True, text=True, check=True
    )
    assert answer.stdout.splitlines()[-1] == "1"
