"""Training batches: scenes drawn on worker processes, rendered on the device as they are needed.

Every batch holds the same shares: with `c` items of each kind, `c` pictures without a fitting, and
`g` pictures that show one piece of each kind together. Picture `i` of batch `b` is drawn from
`default_rng([seed, rank, b, i])`.
"""

from __future__ import annotations

import dataclasses
import signal
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import torch
from torch import Tensor
from torch.utils.data import DataLoader, Dataset

from fittings.words import Construction, Kind
from models.photographs import sample_photograph
from models.textures import STEPS, sample_texture
from synthetic import effects
from synthetic.collage import sample_collage
from synthetic.fields import Vec
from synthetic.native import native_stages
from synthetic.packing import Numbers, pack
from synthetic.render import (
    VISIBLE_SHARE,
    Layer,
    Stages,
    compose,
    finish,
    item_layer,
    plain_stages,
)
from synthetic.sample import PIECE_KINDS, sample_scene
from synthetic.sample_marks import with_wound
from synthetic.scene import Piece, Scene

SEEN_CONTRAST = 3.0
"""From this contrast (8-bit levels) on, a seam is labelled; a fainter one is not asked for."""

LOST_CONTRAST = 1.2
"""Below it a weld without a kink has left no trace: its pixels are labelled as no seam."""

TUNING_SEED = 900_001
GROUP = len(PIECE_KINDS)


@dataclasses.dataclass(frozen=True, slots=True)
class Shares:
    """How many items and pictures of each sort a batch has."""

    items: int
    groups: int

    @property
    def singles(self) -> int:
        return self.items - self.groups

    @property
    def pictures(self) -> int:
        return GROUP * self.singles + self.groups + self.items


def shares(per_rank: int) -> Shares:
    """The shares of a batch of `per_rank` pictures, a multiple of 32 (ValueError otherwise)."""
    if per_rank % 32:
        raise ValueError(f"a batch must hold a multiple of 32 pictures, got {per_rank}")
    groups = per_rank // 16
    return Shares((per_rank + 2 * groups) // 4, groups)


def draw(
    seed: Sequence[int], per_rank: int, plain_share: float = 0.0, wound_share: float = 0.0
) -> dict[str, np.ndarray]:
    """One batch, drawn: packed rows per kind, and what each item is, (c,) each. Of the pictures
    with one fitting, `plain_share` are plain scenes; about `wound_share` of their pieces something
    is wound.

    For kind k: `rows_k` (c, numbers), `fabricated_k`, `kinked_k` float; the last `groups` rows of
    the three kinds share their scenes. `rows_none` (c, numbers) has no piece.
    """
    share = shares(per_rank)
    items: dict[str, list[tuple[Scene, Piece | None]]] = {k.value: [] for k in Kind}
    number = 0
    for kind in PIECE_KINDS:
        for _ in range(share.singles):
            rng = np.random.default_rng([*seed, number])
            plain = number % 16 < 16 * plain_share
            scene = sample_scene(rng, (kind,), plain=plain)
            if rng.random() < wound_share:
                scene = dataclasses.replace(scene, pieces=(with_wound(rng, scene.pieces[0]),))
            items[kind.value].append((scene, scene.pieces[0]))
            number += 1
    for _ in range(share.groups):
        rng = np.random.default_rng([*seed, number])
        order = [PIECE_KINDS[i] for i in rng.permutation(GROUP)]
        scene = sample_scene(rng, tuple(order))
        for piece in scene.pieces:
            items[piece.kind.value].append((scene, piece))
        number += 1
    for _ in range(share.items):
        scene = sample_scene(np.random.default_rng([*seed, number]), ())
        items[Kind.NONE.value].append((scene, None))
        number += 1
    out = {}
    for name, pairs in items.items():
        out[f"rows_{name}"] = pack(pairs)
        pieces = [piece for _, piece in pairs if piece is not None]
        if pieces:
            out[f"fabricated_{name}"] = np.array(
                [p.construction is Construction.FABRICATED for p in pieces], np.float32
            )
            out[f"kinked_{name}"] = np.array(
                [p.construction is Construction.FABRICATED and p.kinked > 0.5 for p in pieces],
                np.float32,
            )
    return out


def collage_places(per_rank: int) -> np.ndarray:
    """Which pictures of a batch have a collage or a photograph for all that is no fitting: a
    quarter of those with one fitting, and half of those without any, which are nothing else."""
    share = shares(per_rank)
    behind = [kind * share.singles + i for kind in range(GROUP) for i in range(share.singles // 4)]
    alone = [share.pictures - 1 - i for i in range(share.items // 2)]
    return np.array([*behind, *alone])


@dataclasses.dataclass(frozen=True, slots=True)
class Photographs:
    """Files that stand for collages, `share` of the time; none at all where there are no files."""

    files: tuple[Path, ...] = ()
    share: float = 0.0


def draw_collages(
    seed: Sequence[int],
    per_rank: int,
    height: int,
    width: int,
    photographs: Photographs,
) -> np.ndarray:
    """(K, height, width, 3) uint8, one for each of `collage_places`."""
    drawn = []
    for i in collage_places(per_rank):
        rng = np.random.default_rng([*seed, 1_000_000 + i])
        if rng.random() < photographs.share:
            drawn.append(sample_photograph(rng, photographs.files, height, width))
        else:
            drawn.append(sample_collage(rng, height, width))
    return np.stack(drawn)


def texture_places(per_rank: int) -> np.ndarray:
    """Which pictures of a batch have a real surface on what stands in them, where there are files:
    a third of those with one fitting, half of those with several, a quarter of those without."""
    share = shares(per_rank)
    first, each = share.singles // 8, max(1, share.singles // 3)
    single = [kind * share.singles + first + i for kind in range(GROUP) for i in range(each)]
    several = [GROUP * share.singles + i for i in range(0, share.groups, 2)]
    without = [GROUP * share.singles + share.groups + i for i in range(share.items // 4)]
    return np.array([*single, *several, *without])


def draw_textures(
    seed: Sequence[int], per_rank: int, height: int, width: int, files: tuple[Path, ...]
) -> dict[str, np.ndarray]:
    """`textures` (K, height, width, 3) uint8, one for each of `texture_places`, and `all_over` (K,)
    float: 1 where it lies on all that stands there, 0 where on the pieces alone."""
    drawn, all_over = [], []
    for i in texture_places(per_rank):
        rng = np.random.default_rng([*seed, 2_000_000 + i])
        drawn.append(sample_texture(rng, files, height, width))
        all_over.append(rng.random() < 0.5)
    return {"textures": np.stack(drawn), "all_over": np.array(all_over, np.float32)}


_ENDLESS = 10_000_000  # batches


class _Drawn(Dataset):
    def __init__(
        self,
        seed: int,
        rank: int,
        per_rank: int,
        size: tuple[int, int],
        plain_batches: int,
        photographs: Photographs,
        textures: tuple[Path, ...],
        wound_share: float,
    ) -> None:
        self.seed, self.rank, self.per_rank, self.size = seed, rank, per_rank, size
        self.plain_batches, self.photographs = plain_batches, photographs
        self.textures = textures
        self.wound_share = wound_share

    def __len__(self) -> int:
        return _ENDLESS

    def __getitem__(self, index: int) -> dict[str, Tensor]:
        plain_share = max(0.0, 1.0 - index / self.plain_batches) if self.plain_batches else 0.0
        seed = (self.seed, self.rank, index)
        drawn = draw(seed, self.per_rank, plain_share, self.wound_share)
        drawn["collages"] = draw_collages(seed, self.per_rank, *self.size, self.photographs)
        if self.textures:
            drawn |= draw_textures(seed, self.per_rank, *self.size, self.textures)
        return {name: torch.from_numpy(value) for name, value in drawn.items()}


class _Rendered(_Drawn):
    """Batches rendered in the worker processes: on a CPU there is no device to leave it to."""

    @torch.no_grad()
    def __getitem__(self, index: int) -> dict[str, Tensor]:
        device = torch.device("cpu")
        return render_drawn(
            super().__getitem__(index),
            *self.size,
            stages_on(device),
            fixed_arrays(device),
        )


def stages_on(device: torch.device) -> Stages:
    """The renderer's stages for a device: CUDA kernels on a GPU, plain torch on the CPU."""
    if device.type != "cuda":
        native = native_stages()
        return plain_stages() if native is None else native | {"item": _on_torch(native["item"])}
    from models.cuda import CudaItems  # only there with a CUDA build of torch

    return plain_stages() | {"item": CudaItems(device).item}


def _on_torch(item: Callable[..., Layer]) -> Callable[..., Layer]:
    """An "item" that works on numpy arrays, for torch tensors of the CPU."""

    def render(kind: Kind | None, n: Numbers, width: int, height: int) -> Layer:
        layer = item(kind, Numbers(n.rows.numpy()), width, height)
        return _each(torch.from_numpy, layer)

    return render


def _ignore_sigterm(worker: int) -> None:
    """A run that is asked to stop saves first, and needs its workers until then."""
    del worker
    signal.signal(signal.SIGTERM, signal.SIG_IGN)


def _each(function: Callable[..., Any], *layers: Layer) -> Layer:
    """`function` of the layers' arrays, field by field and channel by channel."""
    fields: list[Any] = [
        tuple(function(*channel) for channel in zip(*values, strict=True))
        if isinstance(values[0], tuple)
        else function(*values)
        for values in zip(*layers, strict=True)
    ]
    return Layer(*fields)


def _rows(layer: Layer, keep: slice) -> Layer:
    return _each(lambda array: array[keep], layer)


def _joined(layers: Sequence[Layer]) -> Layer:
    return _each(lambda *arrays: torch.cat(arrays), *layers)


def render_drawn(
    drawn: dict[str, Tensor],
    height: int,
    width: int,
    run: Stages,
    fixed: dict[str, Tensor],
) -> dict[str, Tensor]:
    """A drawn batch, on its own device, as pictures and targets at full resolution."""
    items = drawn["rows_elbow"].shape[0]
    singles_layers, group_layers, numbers, facts = [], [], [], []
    groups = _group_count(items)
    singles = items - groups
    for kind in PIECE_KINDS:
        n = Numbers(drawn[f"rows_{kind.value}"])
        whole = item_layer(torch, kind, n, width, height, run)
        singles_layers.append(_rows(whole, slice(0, singles)))
        group_layers.append(_rows(whole, slice(singles, None)))
        numbers.append(n.rows[:singles])
        facts.append((drawn[f"fabricated_{kind.value}"], drawn[f"kinked_{kind.value}"]))
    together, piece_together = compose(torch, group_layers)
    none = Numbers(drawn["rows_none"])
    empty = item_layer(torch, None, none, width, height, run)
    whole = _joined([*singles_layers, together, empty])
    piece = torch.cat(
        [
            *((layer.part > 0.5).float() for layer in singles_layers),
            piece_together,
            torch.zeros_like(empty.part),
        ]
    )
    rows = torch.cat([*numbers, drawn["rows_elbow"][singles:], none.rows])
    if "textures" in drawn:
        whole = _with_textures(whole, drawn["textures"], drawn["all_over"])
    if "collages" in drawn:
        whole = _on_collages(whole, drawn["collages"], Numbers(rows))
    picture = finish(torch, Numbers(rows), whole, piece, width, height, 2 * GROUP, run, fixed)

    # Facts per picture and piece number: a single's piece is number 1.
    count = rows.shape[0]
    fabricated = rows.new_zeros(count, GROUP)
    kinked = rows.new_zeros(count, GROUP)
    kind_of = rows.new_zeros(count, GROUP)
    for i, (made, bent) in enumerate(facts):
        block = slice(i * singles, (i + 1) * singles)
        fabricated[block, 0], kinked[block, 0] = made[:singles], bent[:singles]
        kind_of[block, 0] = float(PIECE_KINDS[i].label)
        mixed = slice(GROUP * singles, GROUP * singles + groups)
        fabricated[mixed, i], kinked[mixed, i] = made[singles:], bent[singles:]
        kind_of[mixed, i] = float(PIECE_KINDS[i].label)
    return targets(picture, fabricated, kinked, kind_of)


def _on_collages(layer: Layer, collages: Tensor, n: Numbers) -> Layer:
    """The layer with collages for all but the pieces, in the pictures of `collage_places`.

    They are put in before the phone's effects, which then treat piece and collage alike; as light
    that `synthetic.effects.develop` would turn back into about their colours.
    """
    at = torch.from_numpy(collage_places(len(n.rows))).to(collages.device)
    shown = (collages.flatten(1, 2).float() / 255.0) ** 2.2  # (K, N, 3)
    light = shown / (1.0 - 0.85 * shown) / n["effects.exposure"][at][:, :, None]
    bare = (layer.part[at] < 0.5)[:, :, None]

    def put(rgb: Vec) -> Vec:
        mixed = torch.where(bare, light, torch.stack([c[at] for c in rgb], 2))
        r, g, b = (c.index_copy(0, at, mixed[:, :, i]) for i, c in enumerate(rgb))
        return r, g, b

    return layer._replace(rgb=put(layer.rgb), plain_rgb=put(layer.plain_rgb))


def _with_textures(layer: Layer, textures: Tensor, all_over: Tensor) -> Layer:
    """The layer with textures on what stands in the pictures of `texture_places`."""
    at = torch.from_numpy(texture_places(len(layer.part))).to(textures.device)
    factor = torch.exp((textures.flatten(1, 2).float() - 128.0) / STEPS)  # (K, N, 3)
    on = (layer.part[at] > 0.5) | (layer.solid[at] & (all_over > 0.5)[:, None])
    factor = torch.where(on[:, :, None], factor, torch.ones_like(factor))

    def laid(rgb: Vec) -> Vec:
        r, g, b = (c.index_copy(0, at, c[at] * factor[:, :, i]) for i, c in enumerate(rgb))
        return r, g, b

    return layer._replace(rgb=laid(layer.rgb), plain_rgb=laid(layer.plain_rgb))


def _group_count(items: int) -> int:
    """Groups among `items` of each kind: 9 items to 2 groups (see `shares`)."""
    return items * 2 // 9


def targets(picture: Any, fabricated: Tensor, kinked: Tensor, kind_of: Tensor) -> dict[str, Tensor]:
    """What is asked of the network: (B, pieces) facts and a picture's truth as training targets."""
    truth = picture.truth
    height, width = truth.part.shape[-2:]
    enough = VISIBLE_SHARE * height * width
    contrast, pixels = picture.contrast, picture.pixels
    seen = contrast >= SEEN_CONTRAST
    cross_seen, cross_pixels = seen[:, 1::2], pixels[:, 1::2]
    # A kink, or a crotch without a radius, shows where the weld itself does not.
    bent = torch.stack([kinked, kinked], 2).flatten(1) * 1.0
    bent[:, 0::2] = 0.0
    weight = torch.where(
        seen, 1.0, torch.where((contrast < LOST_CONTRAST) & (bent < 0.5), -1.0, 0.0)
    )
    table = torch.cat([torch.ones_like(weight[:, :1]), weight], 1)  # slot 0: no seam, asked
    slot = truth.slot.long()
    each = table.gather(1, slot.flatten(1)).reshape(slot.shape)
    seam = torch.where(each > 0.5, truth.seam, torch.zeros_like(truth.seam)).long()

    numbers = torch.arange(1, fabricated.shape[1] + 1, device=slot.device)
    area = (truth.piece.flatten(1)[:, None] == numbers[:, None]).sum(2).float()  # (B, pieces)
    biggest = area.argmax(1, keepdim=True)
    kind = kind_of.gather(1, biggest)[:, 0]
    in_view = area.sum(1) > 0.004 * height * width
    shown = (fabricated > 0.5) & cross_seen & (cross_pixels >= 0.5 * enough)
    shape_shown = (kinked > 0.5) & (area > 0.02 * height * width)
    has_part = (fabricated > 0.5) & (area > 0)
    certain = shown.any(1)
    likely = shape_shown.any(1)
    clean = ~has_part.any(1)
    asked = torch.where(certain | clean, 1.0, torch.where(likely, 0.5, 0.0))
    elbow = ((kind_of == Kind.ELBOW.label) & (area > 0)).any(1)
    tee = ((kind_of == Kind.TEE.label) & (area > 0)).any(1)
    return {
        "image": picture.rgb,
        "part": truth.part.long(),
        "seam": seam,
        "seam_weight": (each != 0).float(),
        "along": truth.along,
        "around_cos": truth.around_cos,
        "around_sin": truth.around_sin,
        "kind": torch.where(in_view, kind, torch.zeros_like(kind)).long(),
        "fabricated": (certain | likely).float(),
        "fabricated_weight": asked,
        "symmetry": elbow.long() + 2 * tee.long(),
    }


class Batches:
    """An endless stream of rendered batches on `device`; see the module's text for their shares."""

    def __init__(
        self,
        *,
        seed: int,
        per_rank: int,
        height: int,
        width: int,
        device: torch.device,
        rank: int,
        world: int,
        workers: int,
        plain_batches: int = 0,
        photographs: Photographs = Photographs(),
        textures: tuple[Path, ...] = (),
        wound_share: float = 0.0,
    ) -> None:
        del world  # each rank draws its own pictures
        self.height, self.width, self.device = height, width, device
        self.run = stages_on(device)
        self.fixed = fixed_arrays(device)
        dataset = _Drawn if device.type == "cuda" else _Rendered
        self.loader = DataLoader(
            dataset(
                seed,
                rank,
                per_rank,
                (height, width),
                plain_batches,
                photographs,
                textures,
                wound_share,
            ),
            batch_size=None,
            num_workers=workers,
            prefetch_factor=4 if workers else None,
            pin_memory=device.type == "cuda",
            worker_init_fn=_ignore_sigterm,
        )

    def __iter__(self) -> Iterator[dict[str, Tensor]]:
        for batch in self.loader:
            yield self.rendered(batch) if self.device.type == "cuda" else batch

    @torch.no_grad()
    def rendered(self, drawn: dict[str, Tensor]) -> dict[str, Tensor]:
        drawn = {k: v.to(self.device, non_blocking=True) for k, v in drawn.items()}
        return render_drawn(drawn, self.height, self.width, self.run, self.fixed)


def fixed_arrays(device: torch.device) -> dict[str, Tensor]:
    """The renderer's constants on the device."""
    return {k: torch.from_numpy(v).to(device) for k, v in effects.constants().items()}


def tuning_batches(
    *, count: int, per_rank: int, height: int, width: int, device: torch.device
) -> list[dict[str, Tensor]]:
    """At least `count` tuning pictures, from seeds that training never uses, on the CPU."""
    stream = Batches(
        seed=TUNING_SEED, per_rank=per_rank, height=height, width=width, device=device,
        rank=0, world=1, workers=0,
    )  # fmt: skip
    batches = []
    for index in range(-(-count // per_rank)):
        drawn = {k: torch.from_numpy(v) for k, v in draw((TUNING_SEED, 0, index), per_rank).items()}
        batches.append({k: v.cpu() for k, v in stream.rendered(drawn).items()})
    return batches
