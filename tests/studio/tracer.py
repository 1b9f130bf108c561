"""From a scene to linear radiance in every pixel: shadows, room light and reflections."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
import open3d as o3d
from numpy.typing import NDArray

from profiler.optics.camera import Camera
from tests.studio import kernels, materials
from tests.studio.ground import Ground
from tests.studio.light import Light
from tests.studio.meshes import Part

Array = NDArray[np.float64]

THREADS = 2
#: samples in one go; bounds the memory
BATCH = 120_000


@dataclass(frozen=True)
class CardFace:
    """What is printed on a card's mesh: picture number, dots per mm, the picture's height in mm."""

    texture: int
    dots: tuple[float, float]
    height: float


@dataclass(frozen=True)
class Quality:
    """How many rays; mm between the places at which light on the ground is computed ahead; dots of
    a printed sheet in an inch at most; whether plain ground may be looked at less often."""

    plain_side: int = 3
    edge_spp: int = 9
    inner_spp: int = 4
    light_side: int = 3
    inner_light_side: int = 3
    ambient: int = 6
    mirrors: int = 3
    map_light_side: int = 8
    map_ambient: int = 72
    map_step: float = 1.5
    dpi: float = 300.0
    quick: bool = False


class Tracer:
    """A scene ready to be photographed."""

    def __init__(
        self,
        parts: list[Part],
        cards: dict[int, CardFace],
        card_tex: NDArray[np.uint8],
        ground: Ground,
        light: Light,
        quality: Quality,
        seed: int,
        burst: Array,
        extent: tuple[Array, Array],
        bend: Sequence[float] = (),
    ) -> None:
        self.bend = np.array(bend, dtype=np.float64)
        self.ground, self.light, self.quality, self.seed = ground, light, quality, seed
        self.card_tex, self.burst = card_tex, burst
        self.scene = o3d.t.geometry.RaycastingScene(nthreads=THREADS)
        faces, face_at, vertex_at = [], [], 0
        n_faces = 0
        for p in parts:
            self.scene.add_triangles(
                o3d.core.Tensor(np.ascontiguousarray(p.points, dtype=np.float32)),
                o3d.core.Tensor(np.ascontiguousarray(p.faces, dtype=np.uint32)),
            )
            faces.append(p.faces + vertex_at)
            face_at.append(n_faces)
            vertex_at += len(p.points)
            n_faces += len(p.faces)
        self.faces = np.vstack(faces).astype(np.int64)
        self.face_at = np.array(face_at, dtype=np.int64)
        self.normals = np.vstack([p.normals for p in parts])
        self.local = np.vstack([p.local for p in parts])
        self.material = np.array([materials.NAMES.index(p.material) for p in parts])
        self.table = materials.table()
        self.card_row = np.full((len(parts), 4), -1.0)
        for g, face in cards.items():
            self.card_row[g] = (face.texture, *face.dots, face.height)
        level = light.typical / np.pi
        rows = self.table[self.material]
        self.mean = 0.5 * (rows[:, 1:4] + rows[:, 4:7]) * level
        self.mean[self.material == materials.NAMES.index("card")] = 0.8 * level
        # shadows do not reach further than this
        low, high = extent[0] - 330, extent[1] + 330
        self.frame = np.array([low[0], low[1], quality.map_step])
        self.lightmap = np.ones((2, 2, 3)) * light.typical
        self.lightmap = self._lightmap(high)

    # ------------------------------------------------------------------ rays

    def _cast(
        self, rays: NDArray[np.float32]
    ) -> tuple[Array, NDArray[np.uint32], NDArray[np.uint32], Array]:
        got = self.scene.cast_rays(o3d.core.Tensor(rays), THREADS)
        return (
            got["t_hit"].numpy(),
            got["geometry_ids"].numpy(),
            got["primitive_ids"].numpy(),
            got["primitive_uvs"].numpy(),
        )

    def _direct(self, P: Array, N: Array, side: int, seed: int) -> Array:
        """(n, 3) irradiance from the light."""
        m = side * side
        rays = np.empty((len(P) * m, 6), dtype=np.float32)
        weight = np.empty(len(P) * m)
        kernels.light_rays(P, N, self.light.quad, self.light.glow, side, seed, rays, weight)
        dark = self.scene.test_occlusions(o3d.core.Tensor(rays), 0.0, 0.999, THREADS).numpy()
        seen = np.where(dark, 0.0, weight).reshape(len(P), m).sum(axis=1)
        return seen[:, None] * self.light.glow[None, :]

    def _ambient(self, P: Array, N: Array, count: int, seed: int) -> Array:
        """(n, 3) irradiance from the room and from what stands round the point."""
        rays = np.empty((len(P) * count, 6), dtype=np.float32)
        kernels.ambient_rays(P, N, count, seed, rays)
        come = self._incoming(rays, False)
        mean: Array = come.reshape(len(P), count, 3).mean(axis=1) * np.pi
        return mean

    def _incoming(self, rays: NDArray[np.float32], see_light: bool) -> Array:
        _, geom, _, _ = self._cast(rays)
        out = np.empty((len(rays), 3))
        g = self.ground
        kernels.incoming(
            rays, geom, self.mean, g.sheets, g.textures, g.lut, g.bench, self.lightmap,
            self.frame, self.light.room, self.light.quad, self.light.glow, see_light, out,
        )  # fmt: skip
        return out

    def _lightmap(self, high: Array) -> Array:
        step = self.quality.map_step
        w, h = (np.ceil((high - self.frame[:2]) / step)).astype(int)
        y, x = np.mgrid[0:h, 0:w]
        P = np.column_stack(
            [
                self.frame[0] + x.ravel() * step,
                self.frame[1] + y.ravel() * step,
                np.full(h * w, 0.15),
            ]
        )
        N = np.zeros_like(P)
        N[:, 2] = 1.0
        out = np.empty_like(P)
        q = self.quality
        few = max(1, 1_500_000 // (q.map_light_side**2))
        for a in range(0, len(P), few):
            s = slice(a, a + few)
            out[s] = self._direct(P[s], N[s], q.map_light_side, self.seed + a)
            out[s] += self._ambient(P[s], N[s], q.map_ambient, self.seed + a + 7)
        # what is left of the sampling noise goes; pixels near the instrument do not use the map
        fine = cv2.GaussianBlur(out.reshape(h, w, 3), (0, 0), 1.0)
        # towards its border the map goes over to a broad mean, since what lies beyond repeats it
        broad = cv2.GaussianBlur(out.reshape(h, w, 3), (0, 0), 22.5 / step)
        rim = np.minimum(np.minimum(y, h - 1 - y), np.minimum(x, w - 1 - x)) * step
        share = np.clip(rim / 90.0 - 0.4, 0.0, 1.0)[..., None]
        return fine * share + broad * (1 - share)

    # ---------------------------------------------------------------- shading

    def _shade(self, px: Array, py: Array, camera: Camera, light_side: int, seed: int) -> Array:
        """(n, 3) radiance along the ray through each place."""
        rays = np.empty((len(px), 6), dtype=np.float32)
        exact = np.empty((len(px), 3))
        kernels.primary(px, py, *self._lens(camera), rays, exact)
        t, geom, prim, uv = self._cast(rays)
        n = len(px)
        P, N, albedo, coat = (np.empty((n, 3)) for _ in range(4))
        g = self.ground
        kernels.surface(
            rays, exact, t, geom, prim, uv, self.faces, self.face_at, self.normals, self.local,
            self.material, self.table, self.burst, g.sheets, g.textures, g.lut, g.bench,
            self.card_tex, self.card_row, P, N, albedo, coat,
        )  # fmt: skip
        q = self.quality
        e = self._direct(P, N, light_side, seed) + self._ambient(P, N, q.ambient, seed + 1)
        radiance = albedo * e / np.pi
        shiny = np.flatnonzero(coat[:, 0] > 0)
        if len(shiny):
            d, m, c = exact[shiny], N[shiny], coat[shiny]
            mirror = np.empty((len(shiny), 6), dtype=np.float32)
            shares = []
            for k in range(q.mirrors):
                kernels.mirror_rays(P[shiny], m, d, c, seed + 2 + 7919 * k, mirror)
                shares.append(self._incoming(mirror, True))
            come = np.mean(shares, axis=0)
            # few rays find the window on rough surfaces; the rare hits would show as sparks
            most = np.select([c[:, 1] > 0.055, c[:, 1] > 0.02], [2.5, 5.0], 60.0)
            most *= self.light.typical / np.pi
            come = np.minimum(come, most[:, None])
            cosine = np.clip(-(d * m).sum(axis=1), 0, 1)
            # Schlick 1994: reflectance rises towards grazing
            fresnel = (c[:, 0] + (1 - c[:, 0]) * (1 - cosine) ** 5)[:, None]
            metal = c[:, 2:3]
            tint = 1 - metal + metal * albedo[shiny]
            radiance[shiny] = (
                radiance[shiny] * (1 - fresnel) * (1 - 0.85 * metal) + fresnel * tint * come
            )
        return radiance

    def photograph(
        self, camera: Camera, say: Callable[[str], None] = lambda _: None
    ) -> NDArray[np.float32]:
        """(H, W, 3) float32 linear radiance, box-filtered over each pixel."""
        w, h = camera.lens.width, camera.lens.height
        ids = np.empty((h, w), dtype=np.int32)
        room = np.zeros((h, w), dtype=bool)
        facing = np.empty((h, w), dtype=np.float32)
        for rows in _strips(h, w):
            yy, xx = np.mgrid[rows, 0:w]
            rays = np.empty((yy.size, 6), dtype=np.float32)
            exact = np.empty((yy.size, 3))
            kernels.primary(
                xx.ravel().astype(float), yy.ravel().astype(float), *self._lens(camera), rays, exact
            )
            got = self.scene.cast_rays(o3d.core.Tensor(rays), THREADS)
            geom = got["geometry_ids"].numpy()
            room[rows] = (exact[:, 2] > kernels.HORIZON).reshape(-1, w)
            ids[rows] = np.where(geom == 0xFFFFFFFF, -1, geom).reshape(-1, w)
            facing[rows] = got["primitive_normals"].numpy()[:, 2].reshape(-1, w)
        body = (ids >= 0).astype(np.uint8)
        near = cv2.dilate(body, np.ones((11, 11), np.uint8)) > 0
        near |= room
        kernel = np.ones((3, 3), np.uint8)
        f = ids.astype(np.float32)
        edge = cv2.dilate(f, kernel) != cv2.erode(f, kernel)
        edge |= (cv2.dilate(facing, kernel) - cv2.erode(facing, kernel)) > 0.15
        edge = cv2.dilate(edge.astype(np.uint8), kernel) > 0
        edge |= near & (body == 0) & ~room
        inner = near & ~edge
        say(f"ground {np.mean(~near):.2f} edges {np.mean(edge):.2f} inner {np.mean(inner):.2f}")
        image = np.zeros((h, w, 3), dtype=np.float32)
        self._plain(image, np.flatnonzero(~near), camera)
        say("ground done")
        q = self.quality
        self._fine(image, np.flatnonzero(edge), camera, q.edge_spp, q.light_side)
        say("edges done")
        self._fine(image, np.flatnonzero(inner), camera, q.inner_spp, q.inner_light_side)
        say("inner done")
        return image

    def _lens(self, camera: Camera) -> tuple[Array, Array, Array, Array]:
        """What the kernels need: fx fy cx cy; k1 k2 p1 p2 k3 and the bend; rotation; centre."""
        lens = camera.lens
        return (
            np.array([lens.f, lens.f * lens.aspect, lens.cx, lens.cy]),
            np.concatenate([lens.distortion, self.bend]),
            np.ascontiguousarray(camera.camera_from_mat.rotation),
            np.ascontiguousarray(camera.centre),
        )

    def _plain(self, image: NDArray[np.float32], where: NDArray[np.intp], camera: Camera) -> None:
        w = camera.lens.width
        flat = image.reshape(-1, 3)
        g = self.ground
        for a in range(0, len(where), 500_000):
            at = where[a : a + 500_000]
            out = np.empty((len(at), 3))
            kernels.plain_ground(
                (at % w).astype(float), (at // w).astype(float), *self._lens(camera),
                self.quality.plain_side, self.seed + a, g.sheets, g.textures, g.lut, g.bench,
                self.lightmap, self.frame, out, self.quality.quick,
            )  # fmt: skip
            flat[at] = out

    def _fine(
        self,
        image: NDArray[np.float32],
        where: NDArray[np.intp],
        camera: Camera,
        spp: int,
        light_side: int,
    ) -> None:
        w = camera.lens.width
        flat = image.reshape(-1, 3)
        side = int(np.sqrt(spp))
        rng = np.random.default_rng(self.seed + spp)
        cells = np.arange(side * side)
        step = max(1, BATCH // spp)
        for a in range(0, len(where), step):
            at = where[a : a + step]
            jitter = rng.random((2, len(at), side * side))
            px = (at % w)[:, None] + ((cells % side) + jitter[0]) / side - 0.5
            py = (at // w)[:, None] + ((cells // side) + jitter[1]) / side - 0.5
            got = self._shade(px.ravel(), py.ravel(), camera, light_side, self.seed * 31 + a)
            flat[at] = got.reshape(len(at), side * side, 3).mean(axis=1)


def _strips(h: int, w: int) -> list[slice]:
    rows = max(1, 1_000_000 // w)
    return [slice(a, min(a + rows, h)) for a in range(0, h, rows)]
