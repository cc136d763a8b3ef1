"""Measures against published values, hand calculation, and independent packages."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sklearn.metrics import jaccard_score, roc_auc_score, roc_curve
from statsmodels.stats.contingency_tables import mcnemar
from statsmodels.stats.proportion import proportion_confint

from vision import metrics


@pytest.mark.parametrize(
    ("successes", "trials", "low", "high"),
    [
        # From memory, as such intervals are printed in textbooks; 81 of 263 is the example of
        # Newcombe (1998), "Two-sided confidence intervals for the single proportion".
        (45, 50, 0.7864, 0.9565),
        (81, 263, 0.2553, 0.3662),
        (20, 20, 0.8389, 1.0),
    ],
)
def test_wilson_intervals_as_published(
    successes: int, trials: int, low: float, high: float
) -> None:
    assert metrics.wilson_interval(successes, trials) == pytest.approx((low, high), abs=6e-5)


@given(st.integers(0, 400), st.integers(1, 400), st.sampled_from([0.8, 0.95, 0.99]))
def test_wilson_intervals_as_in_statsmodels(a: int, b: int, confidence: float) -> None:
    successes, trials = min(a, b), b
    theirs = proportion_confint(successes, trials, alpha=1 - confidence, method="wilson")
    assert metrics.wilson_interval(successes, trials, confidence) == pytest.approx(theirs, abs=1e-9)


def test_wilson_at_the_ends() -> None:
    assert metrics.wilson_interval(0, 0) == (0.0, 1.0)
    assert metrics.wilson_interval(0, 20)[0] == 0.0
    assert metrics.wilson_interval(20, 20)[1] == 1.0
    with pytest.raises(ValueError, match="successes"):
        metrics.wilson_interval(5, 4)
    with pytest.raises(ValueError, match="confidence"):
        metrics.wilson_interval(1, 4, 1.0)


SCORED = st.lists(st.tuples(st.integers(0, 12), st.booleans()), min_size=2, max_size=60).filter(
    lambda rows: len({positive for _, positive in rows}) == 2
)


@given(SCORED)
def test_area_under_curve_as_in_scikit_learn(rows: list[tuple[int, bool]]) -> None:
    scores, positive = zip(*rows, strict=True)
    assert metrics.roc_auc(scores, positive) == pytest.approx(roc_auc_score(positive, scores))


@given(SCORED, st.sampled_from([0.0, 0.05, 0.1, 0.5]))
def test_operating_point_is_the_best_on_scikit_learns_curve(
    rows: list[tuple[int, bool]], share: float
) -> None:
    scores, positive = zip(*rows, strict=True)
    alarms, recalls, _ = roc_curve(positive, scores, drop_intermediate=False)
    point = metrics.recall_at_false_alarm(scores, positive, share)
    assert point.recall == pytest.approx(recalls[alarms <= share + 1e-9].max())
    assert point.false_alarm_share <= share + 1e-9


def test_operating_point_by_hand() -> None:
    """20 negatives 0.00 to 0.95 in steps of 0.05: one may pass at 5 %, so the line is at 0.90."""
    negatives = [i / 20 for i in range(20)]
    scores = [*negatives, 0.90, 0.91, 0.5, 0.99]
    positive = [False] * 20 + [True] * 4
    point = metrics.recall_at_false_alarm(scores, positive, 0.05)
    assert point == metrics.OperatingPoint(threshold=0.9, recall=0.5, false_alarm_share=0.05)


def test_a_missing_class_gives_no_number() -> None:
    assert math.isnan(metrics.roc_auc([0.1, 0.2], [True, True]))
    assert math.isnan(metrics.recall_at_false_alarm([0.1], [False], 0.05).recall)
    with pytest.raises(ValueError, match="not a number"):
        metrics.roc_auc([0.1, math.nan], [True, False])
    with pytest.raises(ValueError, match="arrays"):
        metrics.roc_auc([0.1, 0.3], [True])


def test_calibration_error_by_hand() -> None:
    """Three bins of 10, said 0.95 / 0.75 / 0.55, came true 0.9 / 0.6 / 0.6: (5 + 15 + 5) / 300."""
    said = [0.95] * 10 + [0.75] * 10 + [0.55] * 10
    true = [*[True] * 9, False] + [*[True] * 6, *[False] * 4] * 2
    assert metrics.calibration_error(said, true) == pytest.approx(0.083333, abs=1e-6)
    table = metrics.reliability_table(said, true)
    assert [b.count for b in table] == [0, 0, 0, 0, 0, 10, 0, 10, 0, 10]
    assert (table[7].low, table[7].high, table[7].positives) == (0.7, 0.8, 6)


def test_bins_are_closed_above_and_hold_both_ends() -> None:
    said = [0.0, 0.1, 0.3, 0.30001, 1.0]
    counts = [b.count for b in metrics.reliability_table(said, [True] * 5)]
    assert counts == [2, 0, 1, 1, 0, 0, 0, 0, 0, 1]
    assert math.isnan(metrics.calibration_error([], []))
    with pytest.raises(ValueError, match="0 to 1"):
        metrics.calibration_error([1.2], [True])


@given(st.integers(0, 60), st.integers(0, 60))
def test_paired_counts_as_in_statsmodels(first: int, second: int) -> None:
    if first + second == 0:
        assert metrics.mcnemar_p(first, second) == 1.0
        return
    theirs = mcnemar([[3, first], [second, 4]], exact=True).pvalue
    assert metrics.mcnemar_p(first, second) == pytest.approx(theirs, abs=1e-9)


@given(st.integers(0, 2**16 - 1), st.integers(1, 2**16 - 1))
def test_overlap_without_tolerance_is_the_plain_measure(a: int, b: int) -> None:
    found, truth = (
        np.array([n >> i & 1 for i in range(16)], dtype=bool).reshape(4, 4) for n in (a, b)
    )
    theirs = jaccard_score(truth.ravel(), found.ravel())
    assert metrics.seam_iou(found, truth, 0.0) == pytest.approx(theirs)


def test_overlap_within_a_tolerance() -> None:
    found, truth = np.zeros((20, 20), bool), np.zeros((20, 20), bool)
    found[5], truth[7] = True, True
    assert metrics.seam_iou(found, truth, 1.9) == 0.0
    assert metrics.seam_iou(found, truth, 2.0) == 1.0
    truth[:, 10:] = False  # 11 of the 20 found pixels lie within 2.3 px of the 10 true ones
    assert metrics.seam_iou(found, truth, 2.3) == pytest.approx(10.5 / (30 - 10.5))
    assert math.isnan(metrics.seam_iou(found & False, truth & False, 2.0))
    assert metrics.seam_iou(found, truth & False, 2.0) == 0.0
    with pytest.raises(ValueError, match="shape"):
        metrics.seam_iou(found, truth[:-1], 1.0)


@pytest.mark.parametrize(
    ("first", "second", "off"),
    [(0, 0, 0), (179, 1, 2), (0, 90, 90), (10, 100, 90), (-5, 355, 0), (540, 45, 45), (0, 136, 44)],
)
def test_angles_differ_by_at_most_a_right_angle(first: float, second: float, off: float) -> None:
    assert metrics.angle_difference_deg(first, second) == pytest.approx(off)
    assert metrics.angle_difference_deg(second, first + 180) == pytest.approx(off)
