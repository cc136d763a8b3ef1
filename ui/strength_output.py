"""What a strength sum found: as tables in a terminal, and as one JSON object."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

from fittings.strength.consequence import SCREENING, Consequence
from fittings.strength.fabricated import Fabricated
from fittings.strength.flexibility import Flexibility
from fittings.strength.pressure import Design
from fittings.strength.steps import Step


def as_object(found: Consequence) -> dict[str, Any]:
    """The JSON of `seamtriage strength`; names are stable. Lengths mm, stresses MPa, areas mm²."""
    piece, design = found.piece, found.design
    return {
        "sentence": found.sentence,
        "form": piece.form.value,
        "nps": piece.nps,
        "second_nps": piece.second_nps,
        "schedule": piece.schedule,
        "outside_mm": piece.outside_mm,
        "wall_mm": piece.wall_mm,
        "second_outside_mm": piece.second_outside_mm,
        "second_wall_mm": piece.second_wall_mm,
        "bend_radius_mm": piece.bend_radius_mm,
        "length_mm": piece.length_mm,
        "size_sources": list(piece.sources),
        "ordered": _factors(found.ordered),
        "ordered_by_another_rule": (
            None if found.ordered_otherwise is None else _factors(found.ordered_otherwise)
        ),
        "fabricated": [_way(way, real=design is not None) for way in found.fabricated],
        "pressure_mpa": found.pressure_mpa,
        "design": (
            None
            if design is None
            else {
                "allowable_mpa": design.allowable_mpa,
                "quality_factor": design.quality_factor,
                "weld_factor": design.weld_factor,
                "y": design.y,
                "corrosion_mm": design.corrosion_mm,
                "mill_tolerance": design.mill_tolerance,
            }
        ),
        "straight_pipe": (
            None
            if found.pipe_mpa is None
            else {"pressure_mpa": found.pipe_mpa, "steps": _steps(found.pipe_steps)}
        ),
        "wall": (
            None
            if found.wall is None
            else {
                "t_mm": found.wall.t_mm,
                "tm_mm": found.wall.tm_mm,
                "least_nominal_mm": found.wall.order_mm,
                "steps": _steps(found.wall.steps),
            }
        ),
        "formed_bend_wall": (
            None
            if found.bend is None
            else {
                "intrados_mm": found.bend.intrados_mm,
                "extrados_mm": found.bend.extrados_mm,
                "steps": _steps(found.bend.steps),
            }
        ),
        "notes": list(found.notes),
        "advisory": SCREENING,
    }


def _factors(flexibility: Flexibility) -> dict[str, Any]:
    return {
        "piece": flexibility.piece,
        "h": flexibility.h,
        "k": flexibility.k,
        "i_in_plane": flexibility.i_in,
        "i_out_of_plane": flexibility.i_out,
        "steps": _steps(flexibility.steps),
        "notes": list(flexibility.notes),
    }


def _way(way: Fabricated, *, real: bool) -> dict[str, Any]:
    """`real` is False where no allowable stress was given, so that pressures mean nothing."""
    area, mitre = way.reinforcement, way.mitre
    return {
        **_factors(way.flexibility),
        "times_in_plane": way.times_in,
        "times_out_of_plane": way.times_out,
        "sentence": way.sentence,
        "reinforcement": (
            None
            if area is None
            else {
                "asked_mm2": area.asked_mm2,
                "run_mm2": area.run_mm2,
                "branch_mm2": area.branch_mm2,
                "added_mm2": area.added_mm2,
                "spare_mm2": area.spare_mm2,
                "steps": _steps(area.steps),
                "notes": list(area.notes),
            }
        ),
        "mitre": (
            None
            if mitre is None
            else {
                "covered": mitre.covered,
                "pressure_mpa": mitre.pressure_mpa if real and mitre.covered else None,
                "share_of_straight_pipe": mitre.share_of_pipe if mitre.covered else None,
                "least_bend_radius_mm": mitre.least_radius_mm,
                "end_straight_mm": mitre.end_straight_mm,
                "steps": _steps(mitre.steps),
                "notes": list(mitre.notes),
            }
        ),
    }


def _steps(steps: Iterable[Step]) -> list[dict[str, Any]]:
    return [
        {
            "symbol": each.symbol,
            "meaning": each.meaning,
            "formula": each.formula,
            "numbers": each.numbers,
            "value": each.value,
            "unit": each.unit,
            "source": each.source,
            "from_memory": each.from_memory,
        }
        for each in steps
    ]


def print_consequence(found: Consequence, console: Console) -> None:
    """The sentence, the factors side by side, every sum step by step, what to keep in mind."""
    console.print(Text(found.piece.title, style="bold"))
    if found.design is not None:
        console.print(Text(_given(found, found.design)))
    console.print()
    console.print(Text(found.sentence, style="bold"))
    console.print()
    console.print(_factor_table(found))
    for way in found.fabricated:
        console.print(Text(f"- {way.sentence}"))
    console.print()
    for title, steps, notes in sums(found):
        console.print(_step_table(title, steps))
        _print_notes(notes, console)
        console.print()
    console.print(Text("Keep in mind", style="bold"))
    _print_notes((*found.notes, *(f"sizes: {each}" for each in found.piece.sources)), console)
    console.print()
    console.print(Text(SCREENING, style="bold"))


def _given(found: Consequence, design: Design) -> str:
    pressure = "" if found.pressure_mpa is None else f"P {found.pressure_mpa:.5g} MPa, "
    return (
        f"Given: {pressure}S {design.allowable_mpa:.5g} MPa, E {design.quality_factor:g}, "
        f"W {design.weld_factor:g}, Y {design.y:g}, c {design.corrosion_mm:.4g} mm, "
        f"m {100 * design.mill_tolerance:g} % mill tolerance"
    )


def _factor_table(found: Consequence) -> Table:
    table = Table(title="Flexibility and stress intensification", title_justify="left")
    table.add_column("Piece", overflow="fold")
    for heading in ("h", "k", "ii in plane", "io out of plane", "ii, times", "io, times"):
        table.add_column(heading, justify="right")
    _factor_row(table, f"Ordered: {found.ordered.piece}", found.ordered, None)
    if found.ordered_otherwise is not None:
        _factor_row(table, f"Or: {found.ordered_otherwise.piece}", found.ordered_otherwise, None)
    for way in found.fabricated:
        _factor_row(
            table,
            f"Fabricated: {way.flexibility.piece}",
            way.flexibility,
            (way.times_in, way.times_out),
        )
    return table


def _factor_row(
    table: Table, name: str, each: Flexibility, times: tuple[float, float] | None
) -> None:
    table.add_row(
        Text(name),
        "–" if each.h is None else f"{each.h:.4f}",
        f"{each.k:.2f}",
        f"{each.i_in:.2f}",
        f"{each.i_out:.2f}",
        *(("", "") if times is None else (f"{times[0]:.2f}", f"{times[1]:.2f}")),
    )


def sums(found: Consequence) -> Iterable[tuple[str, tuple[Step, ...], Sequence[str]]]:
    """Every sum with its title and notes, in reading order."""
    yield f"Ordered: {found.ordered.piece}", found.ordered.steps, found.ordered.notes
    if found.ordered_otherwise is not None:
        other = found.ordered_otherwise
        yield f"Or: {other.piece}", other.steps, other.notes
    for way in found.fabricated:
        made = way.flexibility
        yield f"Fabricated: {made.piece}", made.steps, made.notes
        if way.reinforcement is not None:
            area = way.reinforcement
            yield f"Area replacement: {made.piece}", area.steps, area.notes
        if way.mitre is not None:
            basis = "" if found.design is not None else ", with S = 1 MPa"
            yield f"Pressure: {made.piece}{basis}", way.mitre.steps, way.mitre.notes
    if found.wall is not None:
        yield "Wall for pressure, straight pipe", found.wall.steps, ()
    if found.bend is not None:
        yield "Wall for pressure, formed bend", found.bend.steps, ()
    if found.pipe_steps:
        yield "Pressure of straight pipe with the ordered wall", found.pipe_steps, ()


def _step_table(title: str, steps: Iterable[Step]) -> Table:
    table = Table(title=title, title_justify="left", box=None, pad_edge=False)
    table.add_column("", no_wrap=True)
    table.add_column("Meaning", overflow="fold", ratio=3)
    table.add_column("Formula and numbers", overflow="fold", ratio=5)
    table.add_column("Value", justify="right", no_wrap=True)
    table.add_column("Source (ASME B31.3-2016 unless named)", overflow="fold", ratio=3)
    for each in steps:
        worked = each.formula
        if each.numbers != each.formula:
            worked += f"\n= {each.numbers}"
        value = f"{value_in_words(each.value)} {each.unit}".rstrip()
        source = each.source.removeprefix("ASME B31.3-2016 ")
        table.add_row(
            Text(each.symbol), Text(each.meaning), Text(worked), Text(value), Text(source)
        )
    return table


def value_in_words(value: float) -> str:
    """Four significant digits or two decimals, whichever says more."""
    return f"{value:.2f}" if abs(value) >= 100 else f"{value:.4g}"


def _print_notes(notes: Iterable[str], console: Console) -> None:
    for note in notes:
        console.print(Text(f"- {note[0].upper()}{note[1:].removesuffix('.')}."))
