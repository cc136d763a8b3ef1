"""Meshes, a ground and a sky in, a picture out, by Mitsuba 3 (path tracing); and which triangle
each pixel's middle sees, from the same geometry.

Everything is one mesh with one material whose numbers stand at its vertices, so that the renderer
compiles its loop once and not for every picture.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tests.second_renderer.denoising import denoised
from tests.second_renderer.meshes import Mesh
from tests.second_renderer.places import TILE_MM

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """The camera: `eye` and `target` in millimetres, `up` the picture's upward direction, `fov_deg`
    across the picture's width."""

    eye: Array
    target: Array
    up: Array
    fov_deg: float
    width_px: int = 512
    height_px: int = 384


@dataclass(frozen=True, slots=True, kw_only=True)
class Lamp:
    """A round lamp that shines from `place` towards `target`."""

    place: Array
    target: Array
    radius_mm: float
    radiance: tuple[float, float, float]


def mitsuba() -> Any:
    """The library with its quickest variant chosen: LLVM's where that is found, else plain."""
    import mitsuba as mi

    if mi.variant() is None:
        found = sorted(Path("/usr/lib").glob("*/libLLVM*.so*"), key=_llvm_version)
        # Before version 16 LLVM lacks an instruction that the library asks for.
        if found and _llvm_version(found[-1]) >= 16 and "DRJIT_LIBLLVM_PATH" not in os.environ:
            os.environ["DRJIT_LIBLLVM_PATH"] = str(found[-1])
        mi.set_variant("llvm_ad_rgb" if os.environ.get("DRJIT_LIBLLVM_PATH") else "scalar_rgb")
    return mi


def _llvm_version(path: Path) -> int:
    digits = "".join(c if c.isdigit() else " " for c in path.name).split()
    return int(digits[0]) if digits else 0


def load(mesh: Mesh, ground: Array, sky: Array, view: View, lamp: Lamp | None = None) -> Any:
    """Mitsuba's scene. `ground` (H, W, 3) is the tile of `places`, `sky` (H, W, 3) radiance."""
    mi = mitsuba()
    across = mi.ScalarTransform4f
    look = {
        "type": "twosided",
        "inner": {
            "type": "principled",
            "base_color": {"type": "mesh_attribute", "name": "vertex_color"},
            "roughness": {"type": "mesh_attribute", "name": "vertex_rough"},
            "metallic": {"type": "mesh_attribute", "name": "vertex_metal"},
            "specular": 0.5,
        },
    }
    wide = 40_000.0
    scene = {
        "type": "scene",
        "integrator": {"type": "path", "max_depth": 3},
        "things": _shape(mi, mesh, look),
        "ground": {
            "type": "rectangle",
            "to_world": across().scale([wide, wide, 1.0]),
            "look": {
                "type": "twosided",
                "inner": {
                    "type": "principled",
                    "base_color": {
                        "type": "bitmap",
                        "bitmap": mi.Bitmap(ground.astype(np.float32)),
                        "raw": True,
                        "to_uv": across().scale([2 * wide / TILE_MM, 2 * wide / TILE_MM, 1.0]),
                    },
                    "roughness": 0.75,
                    "specular": 0.3,
                },
            },
        },
        "sky": {
            "type": "envmap",
            "bitmap": mi.Bitmap(sky.astype(np.float32)),
            # The library's maps have y upwards, ours z.
            "to_world": across().rotate([1, 0, 0], 90),
        },
        "camera": _camera(mi, view),
    }
    if lamp is not None:
        scene["lamp"] = {
            "type": "disk",
            "to_world": across()
            .look_at(origin=list(lamp.place), target=list(lamp.target), up=[0.1, 0.2, 1.0])
            .scale([lamp.radius_mm] * 3),
            "light": {"type": "area", "radiance": {"type": "rgb", "value": list(lamp.radiance)}},
        }
    return mi.load_dict(scene)


def render(scene: Any, samples: int, seed: int) -> Array:
    """(H, W, 3) linear radiance, its noise taken out."""
    mi = mitsuba()
    radiance = np.asarray(mi.render(scene, spp=samples, seed=seed), float)[..., :3]
    # In a pass of its own: along with the light it costs more than both.
    aside = mi.load_dict({"type": "aov", "aovs": "material:albedo,normal:sh_normal,away:depth"})
    layers = np.asarray(mi.render(scene, integrator=aside, spp=4, seed=seed), float)
    layers = layers[..., layers.shape[-1] - 7 :]
    return np.asarray(
        denoised(radiance, layers[..., :3], layers[..., 3:6], layers[..., 6]), np.float64
    )


def seen_faces(scene: Any, mesh: Mesh, view: View) -> NDArray[np.int64]:
    """(H, W) the number of the mesh's face at each pixel's middle, −1 where there is none."""
    mi = mitsuba()
    shape = next(s for s in scene.shapes() if s.is_mesh() and s.face_count() == len(mesh.faces))
    rows, columns = view.height_px, view.width_px
    if mi.variant().startswith("scalar"):
        found = np.full(rows * columns, -1)
        sensor = scene.sensors()[0]
        for i in range(rows * columns):
            place = [(i % columns + 0.5) / columns, (i // columns + 0.5) / rows]
            ray, _ = sensor.sample_ray(0.0, 0.5, place, [0.5, 0.5])
            hit = scene.ray_intersect_preliminary(ray)
            if hit.is_valid() and hit.shape == shape:
                found[i] = hit.prim_index
        return found.reshape(rows, columns)
    y, x = np.meshgrid(np.arange(rows) + 0.5, np.arange(columns) + 0.5, indexing="ij")
    place = mi.Point2f(
        (x.ravel() / columns).astype(np.float32), (y.ravel() / rows).astype(np.float32)
    )
    ray, _ = scene.sensors()[0].sample_ray(
        mi.Float(0.0), mi.Float(0.5), place, mi.Point2f(0.5, 0.5)
    )
    hit = scene.ray_intersect_preliminary(ray)
    ours = np.array(hit.is_valid() & (hit.shape == mi.ShapePtr(shape)), bool)
    faces = np.array(hit.prim_index).astype(np.int64)
    return np.where(ours, faces, -1).reshape(rows, columns)


def _shape(mi: Any, mesh: Mesh, look: dict[str, Any]) -> Any:
    props = mi.Properties()
    props["look"] = mi.load_dict(look)
    made = mi.Mesh(
        "things", len(mesh.points), len(mesh.faces), has_vertex_normals=True, props=props
    )
    made.add_attribute("vertex_color", 3, mesh.color.astype(np.float32).ravel())
    made.add_attribute("vertex_rough", 1, mesh.rough.astype(np.float32).ravel())
    made.add_attribute("vertex_metal", 1, mesh.metal.astype(np.float32).ravel())
    numbers = mi.traverse(made)
    numbers["vertex_positions"] = mesh.points.astype(np.float32).ravel()
    numbers["faces"] = mesh.faces.astype(np.uint32).ravel()
    numbers.update()
    return made


def _camera(mi: Any, view: View) -> dict[str, Any]:
    return {
        "type": "perspective",
        "fov": view.fov_deg,
        "fov_axis": "x",
        "near_clip": 5.0,
        "far_clip": 200_000.0,
        "to_world": mi.ScalarTransform4f().look_at(
            origin=list(view.eye), target=list(view.target), up=list(view.up)
        ),
        "film": {
            "type": "hdrfilm",
            "width": view.width_px,
            "height": view.height_px,
            "rfilter": {"type": "tent"},
            "pixel_format": "rgb",
        },
        "sampler": {"type": "independent"},
    }
