"""A scene: everything that decides a picture, frozen and serialisable.

Lengths are millimetres in the world frame (z up, ground at z = 0), angles are degrees, colours are
linear RGB 0 to 1, unless a name says otherwise. A scene holds no chance: `synthetic.sample` draws
scenes, `synthetic.render` turns one into a picture and its truth.
"""

from __future__ import annotations

import dataclasses
import typing
from dataclasses import dataclass
from enum import Enum
from typing import Any

from fittings.words import Construction, Kind

GENERATOR_VERSION = "3"

Triple = tuple[float, float, float]
Matrix = tuple[float, float, float, float, float, float, float, float, float]
IDENTITY: Matrix = (1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0)


class Finish(Enum):
    """What was done to a seam after welding."""

    AS_WELDED = "as welded"
    BRUSHED = "brushed"
    GROUND_FLUSH = "ground flush"
    PAINTED_OVER = "painted over"
    BLASTED = "blasted"
    TOUCHED_UP = "touched up"


@dataclass(frozen=True, slots=True, kw_only=True)
class Weld:
    """One family of seams on a piece: its shape, and what its finish left of it.

    `half_width_mm` is half the bead's width, `crown_mm` its height, `hilo_mm` the step between the
    two sides. Bead, band (grinding) and zone (heat tint) each have a colour, how much of it covers
    the metal (`_mix`, 0 to 1) and, for bead and band, a roughness.

    Small relief: `uneven` is the share by which the bead narrows and sinks along its length,
    `passes` the parallel beads of its cap with valleys `pass_mm` deep, `toe_mm` the depth of a
    groove along both toes (undercut; negative: the ridge of a coat over an edge), `stop_mm` the
    way from one electrode's stop to the next and `crater_mm` the depth of its crater.

    Small looks: `spatter` 0 to 1 is the share of places beside the seam with a drop of
    `spatter_mm`; `swirl` turns the grinding band's scratches from along the seam (0) to across it
    (1); `tint_order` gives the zone the temper colours in their order (1) in place of one colour
    (0); `trace_roughness` is how much rougher a coat dried over the bead; `rounded` 0 to 1 is how
    far a thick coat has rounded the bead's edges off (1: no crease is left at its toes).
    """

    present: float = 0.0
    finish: Finish = Finish.AS_WELDED
    half_width_mm: float = 5.0
    crown_mm: float = 0.0
    hilo_mm: float = 0.0
    ripple_mm: float = 0.0
    ripple_pitch_mm: float = 3.0
    wander_mm: float = 0.0
    wander_length_mm: float = 60.0
    bead_rgb: Triple = (0.5, 0.5, 0.5)
    bead_mix: float = 0.0
    bead_roughness: float = 0.4
    band_half_width_mm: float = 12.0
    band_rgb: Triple = (0.6, 0.6, 0.6)
    band_mix: float = 0.0
    band_roughness: float = 0.4
    zone_half_width_mm: float = 20.0
    zone_rgb: Triple = (0.3, 0.2, 0.15)
    zone_mix: float = 0.0
    phase: float = 0.0
    uneven: float = 0.0
    passes: float = 1.0
    pass_mm: float = 0.0
    toe_mm: float = 0.0
    stop_mm: float = 200.0
    crater_mm: float = 0.0
    spatter: float = 0.0
    spatter_mm: float = 1.5
    swirl: float = 0.0
    tint_order: float = 0.0
    trace_roughness: float = 0.0
    rounded: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A mark that is not a seam.

    `follow` says what it keeps to: 0 the plane normal · p = offset, p in the piece's frame; 1 a
    line along the body, at `turn_deg` around; 2 a line round it, at `at` along (0 to 1); 3 a line
    round every open end, `offset_mm` from it; 4 a spot at (`at`, `turn_deg`). A mark in surface
    coordinates (1, 2) ends `reach_mm` to both sides of (`at`, `turn_deg`). All are kept only where
    gate · p > gate_offset_mm.

    `repeats` more lines lie to both sides of it, `pitch_mm` apart, each of another strength.
    `dashes` cuts it into rows of stencil-like cells; `patchiness` wears it off in patches.
    `raised` is the steepest slope at its edges (negative: a score, a dent), `rim` how much it
    darkens what is beside it, as a strap does that stands off the surface. `soft` 0 to 1 is the
    share of the half width over which its edges fade, as an oxide's tone does.
    """

    name: str = "none"
    normal: Triple = (1.0, 0.0, 0.0)
    offset_mm: float = 0.0
    half_width_mm: float = 0.0
    gate: Triple = (0.0, 0.0, 1.0)
    gate_offset_mm: float = 0.0
    wobble_mm: float = 0.0
    wobble_length_mm: float = 100.0
    rgb: Triple = (0.9, 0.9, 0.9)
    opacity: float = 0.0
    patchiness: float = 0.0
    dashes: float = 0.0
    roughness: float = 0.7
    metallic: float = 0.0
    follow: float = 0.0
    at: float = 0.5
    turn_deg: float = 0.0
    reach_mm: float = 1.0e5
    repeats: float = 0.0
    pitch_mm: float = 10.0
    raised: float = 0.0
    rim: float = 0.0
    soft: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Skin:
    """The outside of a piece: two colours mixed by noise, rust over them, and how they shine.

    Over these lie, each with a share of 0 to 1: `flakes` of `flake_rgb` with sharp edges (scale
    coming off); `pits` of `pit_mm`; `spangle`, crystals of `spangle_mm` (galvanising); `brush`,
    lines `brush_mm` apart round the body or, with `brush_along` 1, along it; `runs`, drips and
    streaks of `runs_rgb` and roughness `runs_roughness`, `runs_mm` apart, down the world's
    vertical; `worn`, the coat gone to `worn_rgb` in patches, most within `worn_mm` of the ends;
    and `turned`, a band of bright metal turned on a lathe, `turned_mm` wide, at the open ends.
    """

    name: str = "mill scale"
    rgb: Triple = (0.1, 0.1, 0.11)
    second_rgb: Triple = (0.14, 0.13, 0.13)
    patch_mm: float = 60.0
    patch_contrast: float = 0.5
    grain_mm: float = 3.0
    grain_contrast: float = 0.2
    rust_rgb: Triple = (0.25, 0.09, 0.03)
    rust_amount: float = 0.0
    rust_patch_mm: float = 80.0
    roughness: float = 0.5
    metallic: float = 0.2
    gloss: float = 0.04
    bump: float = 0.0
    bump_mm: float = 4.0
    wave: float = 0.0
    wave_mm: float = 120.0
    dust: float = 0.0
    bore_rgb: Triple = (0.08, 0.07, 0.06)
    flakes: float = 0.0
    flake_rgb: Triple = (0.25, 0.24, 0.24)
    pits: float = 0.0
    pit_mm: float = 3.0
    spangle: float = 0.0
    spangle_mm: float = 12.0
    brush: float = 0.0
    brush_mm: float = 0.8
    brush_along: float = 0.0
    runs: float = 0.0
    runs_rgb: Triple = (0.22, 0.09, 0.03)
    runs_roughness: float = 0.8
    runs_mm: float = 20.0
    worn: float = 0.0
    worn_mm: float = 30.0
    worn_rgb: Triple = (0.3, 0.28, 0.26)
    turned: float = 0.0
    turned_mm: float = 15.0
    turned_rgb: Triple = (0.5, 0.5, 0.5)


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One fitting, its make, its pose (world_from_piece rotation, row by row, and position in mm).

    One set of numbers serves the three kinds; `synthetic.shapes` says which each kind reads:
    `radius_mm` is the outside radius of elbow, run or large end; `second_radius_mm` that of outlet
    or small end; `length_mm` is the elbow's bend radius, the run's half length, or the reducer's
    end-to-end length; `second_length_mm` the outlet's height. A fabricated elbow has `pieces`
    joined at multiples of `cut_deg`, a fabricated reducer `steps` between its stubs; with `kinked`
    0 they keep the formed profile and only the joints are there. A reducer's longitudinal seams go
    on over its stubs with `long_on_stubs` 1, else they end where the cone does.

    A welded-on outlet may have a reinforcing pad about it, a plate of `pad_thickness_mm` that lies
    on the run and reaches `pad_width_mm` beyond the outlet (0: no pad); a fillet runs along its
    edge. `root_shift_mm` moves the weld's middle from the corner up the outlet (set on, positive)
    or out on the run (set in, negative).

    What forming left in the metal, no seam: a ridge `ridge_mm` high (negative: a groove) and two
    times `ridge_half_mm` wide, and across it a step by which the metal stands `ridge_step_mm` lower
    on the near side. On elbow and reducer both lie `ridge_at_mm` from either end, on a tee so far
    from the corner between run and outlet.
    """

    kind: Kind = Kind.ELBOW
    construction: Construction = Construction.SEAMLESS
    label: str = ""
    radius_mm: float = 100.0
    second_radius_mm: float = 60.0
    wall_mm: float = 8.0
    second_wall_mm: float = 8.0
    length_mm: float = 300.0
    second_length_mm: float = 200.0
    bend_deg: float = 90.0
    cut_deg: float = 0.0
    pieces: float = 1.0
    kinked: float = 1.0
    stub_mm: float = 0.0
    second_stub_mm: float = 0.0
    crotch_radius_mm: float = 0.0
    bell: float = 1.0
    corner: float = 0.1
    steps: float = 0.0
    eccentric: float = 0.0
    bevel: float = 1.0
    root_face_mm: float = 1.6
    long_count: float = 1.0
    long_deg: float = 0.0
    long_stagger_deg: float = 0.0
    long_on_outlet: float = 0.0
    long_on_stubs: float = 1.0
    pad_width_mm: float = 0.0
    pad_thickness_mm: float = 0.0
    root_shift_mm: float = 0.0
    ridge_mm: float = 0.0
    ridge_step_mm: float = 0.0
    ridge_at_mm: float = 20.0
    ridge_half_mm: float = 8.0
    rotation: Matrix = IDENTITY
    position_mm: Triple = (0.0, 0.0, 0.0)
    along_weld: Weld = Weld()
    cross_weld: Weld = Weld()
    skin: Skin = Skin()
    marks: tuple[Mark, Mark, Mark] = (Mark(), Mark(), Mark())


@dataclass(frozen=True, slots=True, kw_only=True)
class Prop:
    """Something else in view, about the x axis of its own frame:

    - shape 0, a capped cylinder of radius `half_height_mm`, or a pipe of `wall_mm`;
    - shape 1, a box of three half sides;
    - shape 2, a cap: a skirt of radius `half_depth_mm`, open at -x, closed at +x by half an
      ellipsoid `dome_mm` high; hollow where it has a wall;
    - shape 3, a ring of radius `half_height_mm` whose section is an ellipse, `half_depth_mm` by
      `dome_mm` along the axis, drawn out by the half length; with radius 0 a rod with round ends
      (a finger, a hose), and with the ellipse flat the bead of a girth weld;
    - shape 4, a flange: a disc of radius `half_height_mm` with a tapered hub of `hub_radius_mm`
      reaching to +`hub_mm`, `holes` (4 or 8) of radius `hole_mm` on a circle of
      `hole_circle_mm`, and with a wall a bore within it;
    - shape 5, a cone cut off: of radius `half_height_mm` at -x and `half_depth_mm` at +x; hollow
      where it has a wall, with a floor `dome_mm` thick at -x (0: open there too).

    With `own_skin` 0 it has the first piece's skin in place of its own colour: painted with it. In
    a scene without a piece it then has the scene's `wear`, its marks included.
    """

    shape: float = 0.0
    half_length_mm: float = 0.0
    half_height_mm: float = 0.0
    half_depth_mm: float = 0.0
    wall_mm: float = 0.0
    dome_mm: float = 1.0
    hub_mm: float = 0.0
    hub_radius_mm: float = 0.0
    holes: float = 8.0
    hole_mm: float = 0.0
    hole_circle_mm: float = 0.0
    own_skin: float = 1.0
    rotation: Matrix = IDENTITY
    position_mm: Triple = (0.0, 0.0, -1.0e5)
    rgb: Triple = (0.3, 0.3, 0.3)
    roughness: float = 0.5
    metallic: float = 0.0
    stripe_mm: float = 1.0e6
    stripe: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Wear:
    """What things that are no fitting wear where there is no piece: a piece's skin and marks, so
    that neither tells a fitting. `radius_mm` is about the things' radius; shadows, the march and
    the marks' lengths round a thing go by it, as by a piece's."""

    radius_mm: float = 100.0
    skin: Skin = Skin()
    marks: tuple[Mark, Mark, Mark] = (Mark(), Mark(), Mark())


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """What the pieces lie on: a mix of noise, over it what the place is made of, each as strong as
    its number (0 to 1) and as coarse as its length.

    `stones`, `planks` (with `gap` of their pitch open, as bright there as `gap_tone`), `cracks`,
    `joints` of slabs, `grate` (a steel grating's bars with holes between), `ribs` (corrugated
    board), `folds` (a tarpaulin's slopes), `blades` of grass, `wet` patches. A `studio` has an even
    backdrop with `contact` of the shadow left on it.
    """

    name: str = "concrete"
    rgb: Triple = (0.3, 0.3, 0.28)
    second_rgb: Triple = (0.2, 0.2, 0.19)
    patch_mm: float = 200.0
    contrast: float = 0.5
    stone_mm: float = 40.0
    stones: float = 0.0
    plank_mm: float = 120.0
    planks: float = 0.0
    gap: float = 0.09
    gap_tone: float = 0.25
    cracks: float = 0.0
    crack_mm: float = 300.0
    joints: float = 0.0
    joint_mm: float = 2000.0
    grate: float = 0.0
    grate_mm: float = 35.0
    ribs: float = 0.0
    ribs_mm: float = 8.0
    folds: float = 0.0
    fold_mm: float = 150.0
    blades: float = 0.0
    wet: float = 0.0
    turn_deg: float = 0.0
    gloss: float = 0.0
    studio: float = 0.0
    contact: float = 0.25


@dataclass(frozen=True, slots=True, kw_only=True)
class Lamp:
    """A soft patch of light in the environment: a window, a lamp, a bright cloud."""

    direction: Triple = (0.0, 0.0, 1.0)
    size: float = 0.3
    power: float = 0.0
    rgb: Triple = (1.0, 1.0, 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Light:
    """Sun, sky, and what shines or stands about. Directions point towards the light; powers are
    linear; `_deg` about the world's z axis.

    The surroundings, as seen in the sky and in reflections: `clouds`, patches on the `floor`; a
    `skyline` of trees or, as far as `buildings` says, of blocks; on a hall's wall `windows` (panes
    of `windows_pitch` times the wall's distance) and an open `door`; under its roof `rows` of lamps
    (their pitch in heights of the roof, `rows_length` the share of a row that shines). Between the
    sun and the pieces: `bars` (with `rungs` across; sagging as cables do) and `leaves`. `flash` is
    a light at the lens, its power that at `flash_mm`.
    """

    name: str = "sun"
    sun: Triple = (0.3, 0.2, 0.9)
    sun_rgb: Triple = (1.0, 0.95, 0.9)
    sun_power: float = 2.0
    sun_softness: float = 0.02
    sky_rgb: Triple = (0.5, 0.6, 0.8)
    horizon_rgb: Triple = (0.7, 0.7, 0.7)
    ground_rgb: Triple = (0.2, 0.2, 0.18)
    sky_power: float = 0.8
    lamps: tuple[Lamp, Lamp, Lamp] = (Lamp(), Lamp(), Lamp())
    bars: float = 0.0
    bars_mm: float = 100.0
    bars_duty: float = 0.3
    bars_deg: float = 0.0
    bars_edge: float = 0.08
    bars_sag: float = 0.0
    rungs: float = 0.0
    rungs_mm: float = 280.0
    leaves: float = 0.0
    leaves_mm: float = 60.0
    skyline: float = 0.0
    buildings: float = 0.0
    clouds: float = 0.0
    cloud_scale: float = 1.0
    floor: float = 0.0
    windows: float = 0.0
    windows_deg: float = 0.0
    windows_pitch: float = 0.3
    windows_low: float = 0.2
    windows_high: float = 0.9
    windows_span: float = 1.5
    rows: float = 0.0
    rows_rgb: Triple = (1.0, 1.0, 1.0)
    rows_deg: float = 0.0
    rows_pitch: float = 0.8
    rows_length: float = 0.8
    door: float = 0.0
    door_deg: float = 0.0
    door_width: float = 0.3
    door_height: float = 0.4
    flash: float = 0.0
    flash_mm: float = 1000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Camera:
    """Pinhole with radial distortion. `focal` is the focal length over the picture's long side;
    `rotation` is camera_from_world, row by row (x right, y down, z forward). `centre_across` and
    `centre_down` say where the lens's axis lies in the picture, from its middle in shares of the
    long side: off it in a picture cut from a larger one."""

    position_mm: Triple = (0.0, -1000.0, 500.0)
    rotation: Matrix = IDENTITY
    focal: float = 0.9
    k1: float = 0.0
    k2: float = 0.0
    centre_across: float = 0.0
    centre_down: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Effects:
    """What lens, phone and messenger did, in the order in which `synthetic.effects` does it.

    Pixels are those of a 512-pixel long side, sides are measured as shares of themselves, places
    from the picture's middle (-0.5 to 0.5). JPEG quality 0 turns JPEG off. Bars (of a screenshot)
    and a stamp's box cover the picture: what is under them is background in the truth too.

    `noise` and `colour_noise` differ from pixel to pixel; `blotch` and `colour_blotch` are what a
    denoiser leaves of strong noise, blotches of `blotch_px` (twice that in colour). All four are
    standard deviations, in shares of white, at a middle tone.
    """

    exposure: float = 1.0
    balance: Triple = (1.0, 1.0, 1.0)
    veil: float = 0.0
    smudge: float = 0.0
    smudge_across: float = 0.0
    smudge_down: float = 0.0
    smudge_size: float = 0.25
    hard_clip: float = 0.0
    lift: float = 0.0
    saturation: float = 1.0
    contrast: float = 1.0
    fade: float = 0.0
    vignette: float = 0.0
    blur_px: float = 0.5
    motion_px: float = 0.0
    motion_deg: float = 0.0
    noise: float = 0.0
    colour_noise: float = 0.0
    blotch: float = 0.0
    colour_blotch: float = 0.0
    blotch_px: float = 2.0
    smear: float = 0.0
    chroma_smear: float = 0.0
    sharpen: float = 0.0
    sharpen_px: float = 1.2
    first_jpeg_quality: float = 0.0
    grid_across_px: float = 0.0
    grid_down_px: float = 0.0
    bar_left: float = 0.0
    bar_right: float = 0.0
    bar_top: float = 0.0
    bar_bottom: float = 0.0
    bar_rgb: Triple = (0.0, 0.0, 0.0)
    stamp: float = 0.0
    stamp_across: float = 0.3
    stamp_down: float = 0.4
    stamp_size: float = 0.04
    stamp_rgb: Triple = (1.0, 0.6, 0.1)
    stamp_box: float = 0.0
    scale: float = 1.0
    jpeg_quality: float = 0.0


MOST_PROPS = 8
ABSENT_MM = -9.0e4
"""A prop deeper below the ground than this is none: the place of one that is not given."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """One picture's whole recipe. `props` holds at most MOST_PROPS."""

    pieces: tuple[Piece, ...] = ()
    props: tuple[Prop, ...] = ()
    wear: Wear = Wear()
    ground: Ground = Ground()
    light: Light = Light()
    camera: Camera = Camera()
    effects: Effects = Effects()
    noise_seed: float = 1.0
    version: str = GENERATOR_VERSION

    def __post_init__(self) -> None:
        if not 0.0 <= self.noise_seed < 280.0:
            raise ValueError(f"noise_seed must lie in [0, 280), got {self.noise_seed}")
        if len(self.props) > MOST_PROPS:
            raise ValueError(f"a scene holds {MOST_PROPS} props at most, got {len(self.props)}")

    def as_json(self) -> dict[str, Any]:
        """JSON types only; `scene_from_json` is the inverse."""
        return typing.cast(dict[str, Any], _plain(self))


def _plain(value: Any) -> Any:
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {f.name: _plain(getattr(value, f.name)) for f in dataclasses.fields(value)}
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, tuple):
        return [_plain(v) for v in value]
    return value


def scene_from_json(data: dict[str, Any]) -> Scene:
    """The scene that `Scene.as_json` wrote. Raises ValueError for unknown names or versions."""
    if data.get("version") != GENERATOR_VERSION:
        raise ValueError(
            f"scene of generator version {data.get('version')!r}; this is {GENERATOR_VERSION!r}. "
            "Render it with the version that made it."
        )
    return typing.cast(Scene, _build(Scene, data))


def _build(hint: Any, value: Any) -> Any:
    if isinstance(hint, type) and dataclasses.is_dataclass(hint):
        hints = typing.get_type_hints(hint)
        unknown = set(value) - set(hints)
        if unknown:
            raise ValueError(f"{hint.__name__} has no {', '.join(sorted(unknown))}")
        return hint(**{name: _build(hints[name], v) for name, v in value.items()})
    if isinstance(hint, type) and issubclass(hint, Enum):
        return hint(value)
    if typing.get_origin(hint) is tuple:
        inner = typing.get_args(hint)
        return tuple(_build(inner[0], v) for v in value)
    return hint(value) if hint in (float, str, bool) else value
