"""The rows of ASME B31.3-2016 Table D300 for tees and outlets: formed, welded on, extruded.

Symbols and sources as in `fittings.strength.flexibility`. T and r2 = (D − T)/2 are those of the
run, also where the outlet is smaller; Tr is the thickness of a pad, rx the crotch radius, Db and Tc
the outside diameter of the branch and the thickness at the crotch. k is 1 in every row.
"""

from __future__ import annotations

from fittings.strength.flexibility import (
    H_MEANING,
    IN_MEANING,
    K_MEANING,
    OUT_MEANING,
    TABLE,
    Flexibility,
    begin,
    validity,
)
from fittings.strength.steps import Working, not_negative, positive

_OLDER = f"{TABLE} of older editions and ASME B31.1; the date of the change is from memory"


def formed_tee(outside_mm: float, wall_mm: float) -> Flexibility:
    """A welding tee to ASME B16.9, by the run: h = 3.1·T/r2."""
    work, r2 = begin(outside_mm, wall_mm)
    h = work.line("h", H_MEANING, "3.1·T/r2", 3.1 * wall_mm / r2)
    return _tee("formed tee", work, h, validity(outside_mm, wall_mm))


def formed_tee_older(outside_mm: float, wall_mm: float) -> Flexibility:
    """The same tee by older editions: h = 4.4·T/r2.

    Still allowed where the crotch radius is at least Db/8 and the crotch thickness at least 1.5·T
    (from memory).
    """
    work, r2 = begin(outside_mm, wall_mm)
    h = work.line("h", H_MEANING, "4.4·T/r2", 4.4 * wall_mm / r2, source=_OLDER)
    note = (
        "4.4 in place of 3.1 is the rule of older editions, kept for a crotch radius of at least "
        "Db/8 and a crotch thickness of at least 1.5·T (from memory)"
    )
    notes = (note, *validity(outside_mm, wall_mm))
    return _tee("formed tee by the older rule", work, h, notes, _OLDER)


def welded_outlet(outside_mm: float, wall_mm: float, pad_mm: float = 0.0) -> Flexibility:
    """An outlet welded onto the run, without a pad or with one of thickness Tr = `pad_mm`.

    Without: h = T/r2. With: h = (T + Tr/2)^2.5/(T^1.5·r2), or 4·T/r2 where Tr > 1.5·T.
    """
    not_negative(pad_mm, "pad", "mm")
    work, r2 = begin(outside_mm, wall_mm, Tr=pad_mm)
    notes = validity(outside_mm, wall_mm)
    piece = f"welded-on outlet with a pad of {pad_mm:g} mm"
    if not pad_mm:
        piece = "welded-on outlet without a pad"
        h = work.line("h", H_MEANING, "T/r2", wall_mm / r2)
    elif pad_mm > 1.5 * wall_mm:
        h = work.line("h", H_MEANING, "4·T/r2", 4 * wall_mm / r2)
        notes = ("the pad is thicker than 1.5·T, for which the row has another formula", *notes)
    else:
        value = (wall_mm + pad_mm / 2) ** 2.5 / (wall_mm**1.5 * r2)
        h = work.line("h", H_MEANING, "(T + Tr/2)^2.5/(T^1.5·r2)", value)
    return _tee(piece, work, h, notes)


def extruded_outlet(outside_mm: float, wall_mm: float, crotch_radius_mm: float) -> Flexibility:
    """An outlet drawn from the run: h = (1 + rx/r2)·T/r2; for rx ≥ 0.05·Db and Tc < 1.5·T."""
    positive(crotch_radius_mm, "crotch radius", "mm")
    work, r2 = begin(outside_mm, wall_mm, rx=crotch_radius_mm)
    value = (1 + crotch_radius_mm / r2) * wall_mm / r2
    h = work.line("h", H_MEANING, "(1 + rx/r2)·T/r2", value)
    return _tee("extruded outlet", work, h, validity(outside_mm, wall_mm))


def weld_on_fitting(outside_mm: float, wall_mm: float) -> Flexibility:
    """An integrally reinforced weld-on fitting: h = 3.3·T/r2, ii = io = 0.9/h^⅔."""
    work, r2 = begin(outside_mm, wall_mm)
    h = work.line("h", H_MEANING, "3.3·T/r2", 3.3 * wall_mm / r2)
    work.line("k", K_MEANING, "1", 1.0)
    i = max(1.0, 0.9 / h ** (2 / 3))
    work.line("io", OUT_MEANING, "max(1, 0.9/h^(2/3))", i)
    work.line("ii", IN_MEANING, "io", i)
    return Flexibility(
        piece="branch weld-on fitting",
        h=h,
        k=1.0,
        i_in=i,
        i_out=i,
        steps=work.steps,
        notes=validity(outside_mm, wall_mm),
    )


def _tee(
    piece: str, work: Working, h: float, notes: tuple[str, ...], source: str = TABLE
) -> Flexibility:
    """The rule of every tee row but the weld-on fitting's: io = 0.9/h^⅔, ii = ¾·io + ¼."""
    work.line("k", K_MEANING, "1", 1.0)
    i_out = max(1.0, 0.9 / h ** (2 / 3))
    work.line("io", OUT_MEANING, "max(1, 0.9/h^(2/3))", i_out, source=source)
    i_in = work.line("ii", IN_MEANING, "0.75·io + 0.25", 0.75 * i_out + 0.25, source=source)
    return Flexibility(
        piece=piece, h=h, k=1.0, i_in=i_in, i_out=i_out, steps=work.steps, notes=notes
    )
