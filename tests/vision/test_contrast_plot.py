"""Recall against contrast: made-up rows with a known step, and the files that hold them."""

from __future__ import annotations

import json
from dataclasses import asdict
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image
from statsmodels.stats.proportion import proportion_confint

from fittings.words import ADVISORY
from synthetic.render import VISIBLE_CONTRAST, VISIBLE_SHARE
from vision import contrast_plot, exam_plots
from vision.contrast_bins import (
    CONTRAST_EDGES,
    SIZE_EDGES_PERCENT,
    against_contrast,
    against_size,
    binned,
    halves,
    read_rows,
    table,
)
from vision.exam import ExamError, Plan
from vision.exam_figures import figures
from vision.exam_rows import Answer, Row, TrueSeam

PLAN = Plan(
    seed=799_999, width_px=128, height_px=96, generator="2", models={"ours": "1 a", "theirs": "2 b"}
)
LARGE = 4.0 * VISIBLE_SHARE


def seam(contrast: float, share: float = LARGE, *, fabrication: bool = True) -> TrueSeam:
    return TrueSeam(
        kind="tee",
        orientation="branch",
        finish="ground flush",
        contrast=contrast,
        share=share,
        visible=contrast >= VISIBLE_CONTRAST and share >= VISIBLE_SHARE,
        fabrication=fabrication,
    )


def row(index: int, ours: float, *seams: TrueSeam, made: str = "fabricated") -> Row:
    """`ours` is what the first reader said; the second says 0.5 of everything."""
    answers = {
        name: Answer(
            kind="tee",
            reading="unclear",
            fabricated_probability=probability,
            traced=(),
            overlap=None,
            seconds=0.1,
        )
        for name, probability in (("ours", ours), ("theirs", 0.5))
    }
    return Row(
        index=index,
        looks=(),
        kinds=("tee",),
        constructions=(made,),
        shares=(0.3,),
        props=0,
        seams=seams,
        answers=answers,
    )


def with_a_step() -> list[Row]:
    """20 wrought pictures; three fabricated in each octave of contrast, found from 2 levels on."""
    rows = [row(i, 0.01 * i, made="seamless") for i in range(20)]
    contrasts = [level for low in (0.3, 0.6, 1.2, 2.0, 4.0, 9.0, 20.0, 40.0) for level in [low] * 3]
    return rows + [
        row(20 + i, 0.9 if level >= 2.0 else 0.1, seam(level)) for i, level in enumerate(contrasts)
    ]


def test_a_step_in_recall_shows_at_its_bin() -> None:
    contrast, size = halves(with_a_step(), ["ours", "theirs"])
    ours = contrast.bins["ours"]
    assert [(b.low, b.found.of, b.found.found) for b in ours] == [
        (low, 3, 3 if low >= 2.0 else 0) for low in CONTRAST_EDGES[:-1]
    ]
    # What ties with the wrought pictures is not found.
    assert all(b.found.found == 0 for b in contrast.bins["theirs"])
    # By size only the visible ones count: all four octaves of them have one size.
    assert [b.found.of for b in size.bins["ours"]] == [0, 0, 0, 0, 12, 0, 0]
    assert (contrast.left_out, size.left_out) == (0, 12)


def test_past_the_limit_stand_the_pictures_of_the_exams_recall() -> None:
    rng = np.random.default_rng(5)
    rows = [row(i, float(rng.uniform(0, 0.6)), made="seamless") for i in range(40)]
    for i in range(200):
        some = [
            seam(float(rng.uniform(0, 12)), float(rng.uniform(0, 3 * VISIBLE_SHARE)))
            for _ in range(int(rng.integers(1, 4)))
        ]
        rows.append(row(40 + i, float(rng.uniform(0, 1)), *some))
    recall = figures(rows, "ours").recall_at_five
    assert 0 < recall.found < recall.of < 200
    for half in halves(rows, ["ours"]):
        past = [b.found for b in half.bins["ours"] if b.low >= half.limit]
        assert (sum(c.of for c in past), sum(c.found for c in past)) == (recall.of, recall.found)
        assert sum(b.found.of for b in half.bins["ours"]) + half.left_out == 200


def test_the_seam_that_counts_is_the_plainest_that_is_large_enough() -> None:
    some = (seam(30.0, VISIBLE_SHARE / 2), seam(6.0), seam(3.0), seam(50.0, fabrication=False))
    assert against_contrast(row(0, 0.5, *some)) == 6.0
    assert against_size(row(0, 0.5, *some)) == pytest.approx(100.0 * LARGE)
    assert against_contrast(row(0, 0.5, seam(30.0, VISIBLE_SHARE / 2))) is None
    assert against_size(row(0, 0.5, seam(3.9))) is None


@given(st.lists(st.tuples(st.floats(0, 1000), st.booleans())))
def test_every_value_is_counted_once(values: list[tuple[float, bool]]) -> None:
    for edges in (CONTRAST_EDGES, SIZE_EDGES_PERCENT):
        bins = binned([v for v, _ in values], [hit for _, hit in values], edges)
        assert sum(b.found.of for b in bins) == len(values)
        assert sum(b.found.found for b in bins) == sum(hit for _, hit in values)


def test_the_table_has_statsmodels_intervals_and_the_advisory_words() -> None:
    text = table(halves(with_a_step(), ["ours", "theirs"]))
    low, _ = proportion_confint(3, 3, method="wilson")
    assert f"  4 to 8                3 of 3, 100 % [{100 * low:.0f}, 100]" in text
    assert "  1 to 2 below          0 of 3" in text
    assert "visible limit, 4 levels" in text
    assert text.endswith(ADVISORY)


def written(path: Path, rows: list[Row], end: str = "") -> Path:
    lines = [json.dumps(asdict(PLAN)), *(json.dumps(r.as_json()) for r in rows)]
    path.write_text("\n".join(lines) + "\n" + end, encoding="utf-8")
    return path


def test_the_command_draws_and_prints(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    rows, out = written(tmp_path / "exam.jsonl", with_a_step(), '{"torn'), tmp_path / "plot.png"
    before = rows.read_bytes()
    assert contrast_plot.main(["--rows", str(rows), "--out", str(out)]) == 0
    assert "2 to 4 below          3 of 3" in capsys.readouterr().out
    assert rows.read_bytes() == before  # an exam that is still running goes on writing to it
    pixels = np.asarray(Image.open(BytesIO(out.read_bytes())).convert("RGB"))
    for colour in ((0, 114, 178), (213, 94, 0)):  # Okabe and Ito's blue and vermillion
        assert (pixels == colour).all(axis=-1).sum() > 100
    assert contrast_plot.main(["--rows", str(rows), "--out", str(out)]) == 1
    assert "--force" in capsys.readouterr().err


def test_the_figure_says_each_thing_in_words() -> None:
    figure = contrast_plot.contrast_figure(halves(with_a_step(), ["ours", "theirs"]), 44)
    (legend,) = figure.legends
    words = [text.get_text() for text in legend.get_texts()]
    assert words == ["ours (solid line)", "theirs (dashed line)", "false alarms (dots)"]
    assert ADVISORY in legend.get_title().get_text()
    for axes, limit in zip(figure.axes, (VISIBLE_CONTRAST, 100 * VISIBLE_SHARE), strict=True):
        assert axes.get_xscale() == "log"
        assert any(list(line.get_xdata()) == [limit, limit] for line in axes.lines)


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        ([], "holds no rows"),
        ([json.dumps(asdict(PLAN))], "holds no rows"),
        (["{}", "{}"], "line 1"),
        ([json.dumps(asdict(PLAN)), '{"index": 1}'], "line 2"),
        ([json.dumps({**asdict(PLAN), "seed": 3}), "{}"], "line 1.*exam seeds"),
    ],
)
def test_a_file_that_is_no_exam_is_refused(tmp_path: Path, lines: list[str], words: str) -> None:
    path = tmp_path / "rows.jsonl"
    path.write_text("".join(line + "\n" for line in lines), encoding="utf-8")
    with pytest.raises(ExamError, match=words):
        read_rows(path)


def test_rows_that_can_tell_nothing_are_refused() -> None:
    some = with_a_step()
    with pytest.raises(ExamError, match="without a fabrication"):
        halves(some[20:], ["ours"])
    with pytest.raises(ExamError, match="fabrication's seam"):
        halves(some[:20], ["ours"])


def test_a_picture_names_the_versions_it_compares() -> None:
    assert exam_plots.called("other", "4 3d931a5c") == "other, version 4"
    assert exam_plots.called("classical", "classical-1") == "classical"
