"""The benchmark's parts that need no weights."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from vision import benchmark, machine


def test_a_line_says_whether_its_promise_is_kept() -> None:
    line = benchmark.Line(name="reading", value=4.0, unit="", target=5.0)
    assert line.text().endswith("at most 5: reached")
    missed = benchmark.Line(name="memory", value=1200.0, unit="MB", target=1000.0)
    assert missed.text().endswith("at most 1000: MISSED")
    slow = benchmark.Line(name="batch", value=0.7, unit="", target=0.8, at_least=True)
    assert slow.text().endswith("at least 0.8: MISSED")
    assert not slow.reached
    assert "at most" not in benchmark.Line(name="decoding", value=0.1, unit="s").text()


def test_the_photo_is_enlarged_with_noise_and_decodes_alike() -> None:
    even = np.full((48, 64, 3), 120, np.uint8)
    large = benchmark.enlarged(even, 640, 480)
    assert large.shape == (480, 640, 3)
    assert large.astype(float).std() == pytest.approx(benchmark.NOISE_LEVELS, rel=0.05)
    data = benchmark.as_jpeg(large)
    bgr = benchmark.decode_opencv(data).astype(float)
    rgb = np.asarray(benchmark.decode_pillow(data), float)
    assert np.abs(bgr[..., ::-1] - rgb).mean() < 1.0


def test_parts_take_turns() -> None:
    calls: list[str] = []
    taken = machine.medians_s([lambda: calls.append("a"), lambda: calls.append("b")], 3)
    assert calls == list("ababab")
    assert len(taken) == 2
    assert min(taken) >= 0.0


def test_memory_of_this_process_is_in_megabytes() -> None:
    before = machine.peak_memory_mb()
    held = np.ones(40_000_000)  # 320 MB
    assert 20 < before < 20_000
    assert machine.peak_memory_mb() >= held.nbytes / 1e6


def test_a_failing_child_is_reported() -> None:
    assert machine.run([sys.executable, "-c", "print(3)"]) == "3\n"
    with pytest.raises(machine.BenchmarkError, match="no such thing"):
        machine.run([sys.executable, "-c", "raise SystemExit('no such thing')"])


@pytest.mark.parametrize("forbidden", ["1", ""])
def test_a_child_keeps_its_modules_and_spares_the_source_where_that_is_forbidden(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, forbidden: str
) -> None:
    monkeypatch.setenv("PYTHONDONTWRITEBYTECODE", forbidden)
    source = tmp_path / "source"
    source.mkdir()
    (source / "some_module.py").write_text("", encoding="utf-8")
    code = f"import sys; sys.path.insert(0, {str(source)!r}); import some_module"
    kept = tmp_path / "kept"
    machine.run([sys.executable, "-c", code], machine.keeps_modules(kept))
    assert bool(list(kept.rglob("some_module*.pyc"))) is bool(forbidden)
    assert bool(list(source.rglob("some_module*.pyc"))) is not bool(forbidden)


@pytest.mark.skipif(sys.platform != "linux", reason="asks /proc")
def test_memory_and_time_of_children_are_theirs() -> None:
    busy = "sum(i * i for i in range(2_000_000))"
    assert 0.02 < machine.child_processor_s([sys.executable, "-c", busy]) < 20.0
    with subprocess.Popen([sys.executable, "-c", "input()"], stdin=subprocess.PIPE) as child:
        assert child.pid in machine.family(os.getpid())
        assert machine.memory_mb(child.pid) < machine.memory_mb(os.getpid())
        child.communicate(b"\n")
    assert machine.memory_mb(child.pid) == 0.0
