"""What the rows of the outline's trial come to, as text."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from fittings.words import Kind
from vision.metrics import recall_at_false_alarm, roc_auc, wilson_interval

FALSE_ALARM = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One piece under one condition. `made` is True for a fabricated shape, False for a formed one,
    None for a fabrication of formed shapes. `features` are those of the coefficients, None where
    the outline says nothing. `raw_log_odds` are the log-odds also where a crotch is too small for
    them to be told. A tee has `radius_px`, the map pixels that a radius of
    `outline_size.USUAL_CROTCH` spans, None where it was not fitted, and `walls`, its true crotch
    radius in wall thicknesses. `verdict` is the network's log-odds by the whole picture,
    None of the scene's own maps."""

    kind: str
    index: int
    maps: str
    made: bool | None
    hard: bool
    features: tuple[float, ...] | None
    log_odds: float | None
    figure: float | None
    true_figure: float
    raw_log_odds: float | None = None
    radius_px: float | None = None
    walls: float | None = None
    verdict: float | None = None


def summary(rows: Sequence[Row], kind: Kind, maps: str) -> str:
    """Some lines: counts, recall at the false alarm with its Wilson interval, and the figures."""
    asked = [r for r in rows if r.kind == kind.value and r.maps == maps and r.made is not None]
    read = [r for r in asked if r.log_odds is not None]
    lines = [f"{kind.value}, {maps} maps: {len(read)} of {len(asked)} pieces read"]
    groups = [("all", read)]
    if kind is Kind.TEE:
        groups.append(("crotches unlike", [r for r in read if not r.hard]))
        lines += _ceilings(read)
    for name, group in groups:
        lines += _found(name, [r.log_odds or 0.0 for r in group], group)
    judged = [r for r in asked if r.verdict is not None]
    lines += _found("whole picture", [r.verdict or 0.0 for r in judged], judged)
    off = [abs(r.figure - r.true_figure) for r in read if r.figure is not None]
    if off:
        lines.append(
            f"  {_FIGURES[kind]} off by {np.median(off):.3g} in the median, "
            f"{np.quantile(off, 0.95):.3g} at the 95th percentile"
        )
    return "\n".join(lines)


def _found(name: str, scores: Sequence[float], rows: Sequence[Row]) -> list[str]:
    """A line on how well the log-odds `scores` tell fabricated shapes among the rows."""
    made = [bool(r.made) for r in rows]
    if not any(made) or all(made):
        return []
    point = recall_at_false_alarm(scores, made, FALSE_ALARM)
    hits, total = round(point.recall * sum(made)), sum(made)
    low, high = wilson_interval(hits, total)
    alarms = sum(s > 0.0 for s, m in zip(scores, made, strict=True) if not m)
    plain = sum(s > 0.0 for s, m in zip(scores, made, strict=True) if m)
    return [
        f"  {name}: {hits} of {total} fabricated found = {100 * point.recall:.0f} % "
        f"[{100 * low:.0f}, {100 * high:.0f}] at {100 * point.false_alarm_share:.1f} % false "
        f"alarm of {len(made) - total} formed; AUC {roc_auc(scores, made):.3f}; at log-odds 0: "
        f"{plain} of {total} found, {alarms} of {len(made) - total} alarms"
    ]


def _ceilings(read: Sequence[Row]) -> list[str]:
    """What the true crotch radius would tell, without any measuring."""
    known = [r for r in read if r.walls is not None]
    made = [bool(r.made) for r in known]
    if not any(made) or all(made):
        return []
    lines = []
    for name, sizes in (
        ("over the outlet's diameter", [r.true_figure for r in known]),
        ("over the wall", [r.walls or 0.0 for r in known]),
    ):
        best = recall_at_false_alarm([-size for size in sizes], made, FALSE_ALARM)
        lines.append(f"  the true radius {name} would find {100 * best.recall:.0f} %")
    return lines


SIZES_PX = (0.0, 1.0, 2.0, 3.0, 5.0, 8.0, np.inf)


def by_size(rows: Sequence[Row], maps: str) -> str:
    """For tees whose crotches are unlike: what is found at log-odds 0, by how many pixels of the
    map a tenth of the outlet's diameter spans."""
    lines = [
        f"tee, {maps} maps, crotches unlike, by the pixels of a tenth of the outlet's diameter"
    ]
    own = [
        r
        for r in rows
        if r.kind == Kind.TEE.value and r.maps == maps and r.made is not None and not r.hard
    ]
    for low, high in pairwise(SIZES_PX):
        group = [r for r in own if r.radius_px is not None and low <= r.radius_px < high]
        read = [r for r in group if r.features is not None]
        welded, formed = [r for r in read if r.made], [r for r in read if not r.made]
        right = [sum((r.raw_log_odds or 0.0) > 0.0 for r in some) for some in (welded, formed)]
        off = [abs(r.figure - r.true_figure) for r in read if r.figure is not None]
        lines.append(
            f"  {low:.0f} to {high:.0f} px: {len(read)} of {len(group)} measured, "
            f"{right[0]} of {len(welded)} welded found, {right[1]} of {len(formed)} formed alarmed"
            + (f", radius off by {np.median(off):.3f} in the median" if off else "")
        )
    return "\n".join(lines)


_FIGURES = {
    Kind.ELBOW: "kink angle (degrees)",
    Kind.TEE: "crotch radius (outlet diameters)",
    Kind.REDUCER: "number of cones",
}


def coefficients(rows: Sequence[Row], kind: Kind) -> str:
    """Offset and weights of a logistic regression on the rows of that kind, both conditions."""
    from sklearn.linear_model import LogisticRegression  # only tuning needs it

    asked = [
        r for r in rows if r.kind == kind.value and r.made is not None and r.features is not None
    ]
    x = np.array([r.features for r in asked])
    y = np.array([r.made for r in asked])
    model = LogisticRegression(C=1.0, class_weight="balanced").fit(x, y)
    weights = ", ".join(f"{value:.2f}" for value in model.coef_[0])
    return f"{kind.value}: offset {model.intercept_[0]:.2f}, weights {weights} ({len(asked)} rows)"
