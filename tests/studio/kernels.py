"""The compiled inner loops of the tracer. Linear light, mm, world frame = mat frame."""

from __future__ import annotations

import math
from typing import Any

import numba as nb
import numpy as np

from tests.studio.materials import BURST, CARD, ROSETTE, blend, noise

PI = math.pi
#: upward part of a direction above which a ray passes over the bench
HORIZON = -0.02


@nb.njit(cache=True, inline="always")
def _mix(h: Any) -> Any:
    h = (h ^ (h >> np.uint64(33))) * np.uint64(0xFF51AFD7ED558CCD)
    h = (h ^ (h >> np.uint64(33))) * np.uint64(0xC4CEB9FE1A85EC53)
    return h ^ (h >> np.uint64(33))


@nb.njit(cache=True, inline="always")
def rnd(a: int, b: int, c: int) -> float:
    """A number in [0, 1) that depends on three counters only, so that renders repeat."""
    h = _mix(np.uint64(a) * np.uint64(0x9E3779B97F4A7C15) + np.uint64(b))
    h = _mix(h + np.uint64(c) * np.uint64(0xD1B54A32D192ED03))
    return float(h >> np.uint64(11)) / 9007199254740992.0


@nb.njit(cache=True, inline="always")
def undistort(xd: float, yd: float, d: Any) -> tuple[float, float]:
    """Brown's model inverted by Newton's method to 1e-13; d = k1 k2 p1 p2 k3.

    More numbers in d are a lens that Brown's model does not describe: the radius up to which they
    reach, and undistorted over distorted radius at even steps up to there.
    """
    if len(d) > 5:
        steps = len(d) - 7
        at = min(math.sqrt(xd * xd + yd * yd) / d[5] * steps, steps - 1e-9)
        k = int(at)
        factor = d[6 + k] * (1 - (at - k)) + d[7 + k] * (at - k)
        xd, yd = xd * factor, yd * factor
    x, y = xd, yd
    for _ in range(20):
        r2 = x * x + y * y
        rad = 1 + r2 * (d[0] + r2 * (d[1] + r2 * d[4]))
        slope = d[0] + r2 * (2 * d[1] + 3 * r2 * d[4])
        ex = x * rad + 2 * d[2] * x * y + d[3] * (r2 + 2 * x * x) - xd
        ey = y * rad + 2 * d[3] * x * y + d[2] * (r2 + 2 * y * y) - yd
        a = rad + 2 * x * x * slope + 2 * d[2] * y + 6 * d[3] * x
        b = 2 * x * y * slope + 2 * d[2] * x + 2 * d[3] * y
        c = rad + 2 * y * y * slope + 2 * d[3] * x + 6 * d[2] * y
        det = a * c - b * b
        dx = (c * ex - b * ey) / det
        dy = (a * ey - b * ex) / det
        x -= dx
        y -= dy
        if dx * dx + dy * dy < 1e-26:
            break
    return x, y


@nb.njit(cache=True)
def primary(
    px: Any, py: Any, K: Any, dist: Any, R: Any, centre: Any, rays: Any, exact: Any
) -> None:
    """Rays through pixel places.

    Args:
        px, py: (N,) px.
        K: (4,) fx fy cx cy.
        R: (3, 3) camera from world.
        rays: (N, 6) float32, out.
        exact: (N, 3) float64 unit directions, out.
    """
    for i in range(len(px)):
        x, y = undistort((px[i] - K[2]) / K[0], (py[i] - K[3]) / K[1], dist)
        dx = R[0, 0] * x + R[1, 0] * y + R[2, 0]
        dy = R[0, 1] * x + R[1, 1] * y + R[2, 1]
        dz = R[0, 2] * x + R[1, 2] * y + R[2, 2]
        s = 1 / math.sqrt(dx * dx + dy * dy + dz * dz)
        exact[i, 0] = dx * s
        exact[i, 1] = dy * s
        exact[i, 2] = dz * s
        for k in range(3):
            rays[i, k] = centre[k]
            rays[i, 3 + k] = exact[i, k]


@nb.njit(cache=True)
def bilinear(tex: Any, lut: Any, u: float, v: float, out: Any) -> None:
    """Colour of a byte picture at a place in texels (centres at whole numbers), linear light."""
    h, w = tex.shape[0], tex.shape[1]
    u = min(max(u, 0.0), w - 1.001)
    v = min(max(v, 0.0), h - 1.001)
    i, j = int(u), int(v)
    fu, fv = u - i, v - j
    for k in range(3):
        a = lut[tex[j, i, k]] * (1 - fu) + lut[tex[j, i + 1, k]] * fu
        b = lut[tex[j + 1, i, k]] * (1 - fu) + lut[tex[j + 1, i + 1, k]] * fu
        out[k] = a * (1 - fv) + b * fv


@nb.njit(cache=True)
def raised(q: Any, u: float, v: float) -> float:
    """mm by which a curling sheet lies higher there; q: its row, see `ground`."""
    away = u
    if q[10] == 1:
        away = q[5] - u
    elif q[10] == 2:
        away = v
    elif q[10] == 3:
        away = q[6] - v
    part = min(max(1 - away / q[12], 0.0), 1.0)
    return float(q[11] * part * part)


@nb.njit(cache=True)
def ground(
    cx: float, cy: float, cz: float, dx: float, dy: float, dz: float,
    sheets: Any, tex: Any, lut: Any, bench: Any, colour: Any, point: Any,
) -> None:  # fmt: skip
    """What a ray sees of the mat and the bench below it.

    Args:
        sheets: (S, 13) topmost first: tx ty cos sin z width height scale_x scale_y texture, and
            the edge that curls (0 left, 1 right, 2 bottom, 3 top), how high, over what length.
        tex: (T, H, W, 3) uint8 printed faces, row 0 at the top.
        bench: (7,) z, rgb, rgb2 of the bench.
        colour, point: (3,) out.
    """
    shade = 1.0
    for s in range(sheets.shape[0]):
        q = sheets[s]
        t = (q[4] - cz) / dz
        x, y = cx + t * dx - q[0], cy + t * dy - q[1]
        u = q[2] * x + q[3] * y
        v = -q[3] * x + q[2] * y
        z = q[4]
        if q[11] != 0.0:  # where the ray meets the bent sheet, found by going there and back
            for _ in range(12):
                z = q[4] + raised(q, u, v)
                t = (z - cz) / dz
                x, y = cx + t * dx - q[0], cy + t * dy - q[1]
                u = q[2] * x + q[3] * y
                v = -q[3] * x + q[2] * y
        if 0 <= u <= q[5] and 0 <= v <= q[6]:
            # the printer scales about the middle of the page
            pu = (u - q[5] / 2) / q[7] + q[5] / 2
            pv = (v - q[6] / 2) / q[8] + q[6] / 2
            if 0 <= pu <= q[5] and 0 <= pv <= q[6]:
                dx_, dy_ = tex.shape[2] / q[5], tex.shape[1] / q[6]
                bilinear(tex[int(q[9])], lut, pu * dx_ - 0.5, (q[6] - pv) * dy_ - 0.5, colour)
            else:
                colour[:] = lut[255]
            fibre = 0.985 + 0.03 * noise(u * 0.9 + 31 * s, v * 0.9, 3.0)
            for k in range(3):
                colour[k] *= shade * fibre
            point[0], point[1], point[2] = cx + t * dx, cy + t * dy, z
            return
        # the soft dark line beside the edge of a sheet that lies higher
        if -0.5 < u < q[5] + 0.5 and -0.5 < v < q[6] + 0.5:
            away = max(max(-u, u - q[5]), max(-v, v - q[6]))
            shade = min(shade, 0.72 + 0.56 * away)
    t = (bench[0] - cz) / dz
    x, y = cx + t * dx, cy + t * dy
    board = math.floor(y / 118.0)
    w = 3.0 * noise(x * 0.004, y * 0.02, board) + 0.6 * noise(x * 0.03, y * 0.35, board)
    line = y / 9.0 + w + 7 * board
    g = 0.5 * (line - math.floor(line)) + 0.5 * noise(x * 0.08, y * 1.3, 5.0)
    g = min(1.0, g + 0.35 * noise(board * 1.7, 2.0, 9.0))
    seam = 0.45 if (y / 118.0 - board) * 118.0 < 1.0 else 1.0
    for k in range(3):
        colour[k] = (bench[1 + k] * (1 - g) + bench[4 + k] * g) * seam
    point[0], point[1], point[2] = x, y, bench[0]


@nb.njit(cache=True)
def lit(lightmap: Any, frame: Any, x: float, y: float, out: Any) -> None:
    """Irradiance on the ground from the precomputed map; frame: x0 y0 step."""
    h, w = lightmap.shape[0], lightmap.shape[1]
    u = min(max((x - frame[0]) / frame[2], 0.0), w - 1.001)
    v = min(max((y - frame[1]) / frame[2], 0.0), h - 1.001)
    i, j = int(u), int(v)
    fu, fv = u - i, v - j
    for k in range(3):
        a = lightmap[j, i, k] * (1 - fu) + lightmap[j, i + 1, k] * fu
        b = lightmap[j + 1, i, k] * (1 - fu) + lightmap[j + 1, i + 1, k] * fu
        out[k] = a * (1 - fv) + b * fv


@nb.njit(cache=True)
def plain_ground(
    px: Any, py: Any, K: Any, dist: Any, R: Any, centre: Any, side: int, seed: int,
    sheets: Any, tex: Any, lut: Any, bench: Any, lightmap: Any, frame: Any, out: Any, quick: bool,
) -> None:  # fmt: skip
    """Pixels that see nothing but ground, `side` by `side` places each; out (N, 3) radiance.

    quick: two places are enough where both look alike.
    """
    colour, point, e = np.zeros(3), np.zeros(3), np.zeros(3)
    for i in range(len(px)):
        total = np.zeros(3)
        first = np.zeros(3)
        count = 0
        for j in range(side * side):
            # from one corner to the one across first: where both see the same, that is all
            k = j if j != 1 else side * side - 1
            if j > 1 and k == side * side - 1:
                k = 1
            ox = ((k % side) + rnd(seed, i, 2 * k)) / side - 0.5
            oy = ((k // side) + rnd(seed, i, 2 * k + 1)) / side - 0.5
            x, y = undistort((px[i] + ox - K[2]) / K[0], (py[i] + oy - K[3]) / K[1], dist)
            dx = R[0, 0] * x + R[1, 0] * y + R[2, 0]
            dy = R[0, 1] * x + R[1, 1] * y + R[2, 1]
            dz = R[0, 2] * x + R[1, 2] * y + R[2, 2]
            ground(centre[0], centre[1], centre[2], dx, dy, dz, sheets, tex, lut, bench, colour,
                   point)  # fmt: skip
            total += colour
            count += 1
            if j == 0:
                first[:] = colour
            elif j == 1 and quick:
                apart = max(
                    abs(colour[0] - first[0]),
                    max(abs(colour[1] - first[1]), abs(colour[2] - first[2])),
                )
                if apart < 0.012:
                    break
        lit(lightmap, frame, point[0], point[1], e)
        for k in range(3):
            out[i, k] = total[k] / count * e[k] / PI


@nb.njit(cache=True)
def surface(
    rays: Any, exact: Any, t_hit: Any, geom: Any, prim: Any, uv: Any,
    faces: Any, face_at: Any, normals: Any, local: Any, material: Any, table: Any, burst: Any,
    sheets: Any, tex: Any, lut: Any, bench: Any, card_tex: Any, card_row: Any,
    P: Any, N: Any, albedo: Any, coat: Any,
) -> None:  # fmt: skip
    """Place, normal and colour of every hit; a miss sees the ground.

    Args:
        face_at: (G,) first row of each mesh in `faces`.
        material: (G,) row in `table`.
        card_tex: (C, H, W, 3) uint8.
        card_row: (G, 4) picture, dots per mm across and up, its height mm.
        P, N, albedo: (n, 3) out; coat: (n, 3) reflectance, roughness, metal, out.
    """
    c = np.zeros(3)
    p = np.zeros(3)
    for i in range(len(t_hit)):
        g = geom[i]
        if g >= len(material) and exact[i, 2] > HORIZON:  # over the bench: the room, out of focus
            for k in range(3):
                P[i, k] = rays[i, k] + 2500.0 * exact[i, k]
                N[i, k] = -exact[i, k]
                albedo[i, k] = 0.32 - 0.04 * k + 0.1 * noise(exact[i, 0] * 9, exact[i, 2] * 9, 2.0)
                coat[i, k] = 0.0
            continue
        if g >= len(material):
            ground(rays[i, 0], rays[i, 1], rays[i, 2], exact[i, 0], exact[i, 1], exact[i, 2],
                   sheets, tex, lut, bench, c, p)  # fmt: skip
            for k in range(3):
                P[i, k] = p[k]
                N[i, k] = 0.0
                albedo[i, k] = c[k]
                coat[i, k] = 0.0
            N[i, 2] = 1.0
            continue
        f = faces[face_at[g] + prim[i]]
        b1, b2 = uv[i, 0], uv[i, 1]
        b0 = 1 - b1 - b2
        n2 = 0.0
        d = 0.0
        for k in range(3):
            P[i, k] = rays[i, k] + t_hit[i] * exact[i, k]
            N[i, k] = b0 * normals[f[0], k] + b1 * normals[f[1], k] + b2 * normals[f[2], k]
            p[k] = b0 * local[f[0], k] + b1 * local[f[1], k] + b2 * local[f[2], k]
            n2 += N[i, k] * N[i, k]
            d += N[i, k] * exact[i, k]
        s = 1 / math.sqrt(n2) if n2 > 0 else 0.0
        if d > 0:
            s = -s
        for k in range(3):
            N[i, k] *= s
        row = table[material[g]]
        kind = int(row[0])
        if kind == CARD:
            q = card_row[g]
            bilinear(card_tex[int(q[0])], lut, p[0] * q[1] - 0.5, (q[3] - p[1]) * q[2] - 0.5, c)
        else:
            if kind == ROSETTE:
                r = math.sqrt((p[0] - burst[0, 0]) ** 2 + p[1] ** 2)
                ring = r % 2.7
                blocks = math.sin(math.atan2(p[1], p[0] - burst[0, 0]) * 60.0) > 0
                t = 1.0 if ring < 0.5 or (blocks and 34.6 < r < 39.0) else 0.0
            else:
                t = blend(row, p[0], p[1], p[2])
            for k in range(3):
                c[k] = row[1 + k] * (1 - t) + row[4 + k] * t
            if kind == BURST:
                # the middle glows, the rim is dark
                e = ((p[0] - burst[1, 0]) / burst[1, 1]) ** 2 + (p[1] / burst[1, 2]) ** 2
                m = min(max((math.sqrt(e) - 0.45) / 0.5, 0.0), 1.0)
                m = m * m * (3 - 2 * m)
                for k in range(3):
                    c[k] = row[1 + k] * (1 - 0.45 * t) * (1 - m) + row[4 + k] * m
        for k in range(3):
            albedo[i, k] = c[k]
        coat[i, 0] = row[9]
        coat[i, 1] = row[10]
        coat[i, 2] = row[11]


@nb.njit(cache=True)
def sky(d: Any, env: Any, out: Any) -> None:
    """The room seen from the bench; env: (8, 3): ceiling, wall, far wall, person, light colour,
    second light's direction, second light's colour, person's direction."""
    z = d[2]
    t = math.sqrt(max(z, 0.0))
    az = d[0] * env[5, 0] + d[1] * env[5, 1]
    w = 0.5 + 0.5 * az
    for k in range(3):
        wall = env[1, k] * w + env[2, k] * (1 - w)
        out[k] = wall * (1 - t) + env[0, k] * t
    s = d[0] * env[5, 0] + d[1] * env[5, 1] + d[2] * env[5, 2]
    if s > 0.93:
        m = min((s - 0.93) / 0.02, 1.0)
        for k in range(3):
            out[k] = out[k] * (1 - m) + env[6, k] * m
    p = d[0] * env[7, 0] + d[1] * env[7, 1] + d[2] * env[7, 2]
    if p > 0.955:
        m = min((p - 0.955) / 0.02, 1.0)
        for k in range(3):
            out[k] = out[k] * (1 - m) + env[3, k] * m


@nb.njit(cache=True)
def light_rays(
    P: Any, N: Any, light: Any, colour: Any, side: int, seed: int, rays: Any, weight: Any
) -> None:
    """One ray to a random place in each cell of the light.

    Args:
        light: (4, 3) corner, two edges, normal.
        rays: (n * side * side, 6) out, length 1 reaches the light; weight: (n * side * side) out.
    """
    area = math.sqrt(
        (light[1, 1] * light[2, 2] - light[1, 2] * light[2, 1]) ** 2
        + (light[1, 2] * light[2, 0] - light[1, 0] * light[2, 2]) ** 2
        + (light[1, 0] * light[2, 1] - light[1, 1] * light[2, 0]) ** 2
    )
    m = side * side
    for i in range(len(P)):
        for c in range(m):
            u = ((c % side) + rnd(seed, i, 2 * c + 101)) / side
            v = ((c // side) + rnd(seed, i, 2 * c + 102)) / side
            j = i * m + c
            r2 = 0.0
            cs = 0.0
            cl = 0.0
            for k in range(3):
                d = light[0, k] + u * light[1, k] + v * light[2, k] - P[i, k]
                rays[j, k] = P[i, k] + 0.02 * N[i, k]
                rays[j, 3 + k] = d
                r2 += d * d
                cs += d * N[i, k]
                cl -= d * light[3, k]
            weight[j] = max(cs, 0.0) * max(cl, 0.0) / (r2 * r2) * area / m
            if weight[j] <= 0:  # nothing to gain: a ray that ends at once
                for k in range(3):
                    rays[j, 3 + k] = 0.0
                rays[j, 5] = 1e-6


@nb.njit(cache=True)
def ambient_rays(P: Any, N: Any, count: int, seed: int, rays: Any) -> None:
    """Cosine-weighted directions, one in each cell of azimuth and of distance from the normal."""
    rings = max(1, int(math.sqrt(count * 0.5)))
    slices = count // rings
    for i in range(len(P)):
        n0, n1, n2 = N[i, 0], N[i, 1], N[i, 2]
        if abs(n2) < 0.9:
            s = 1 / math.sqrt(n0 * n0 + n1 * n1)
            a0, a1, a2 = -n1 * s, n0 * s, 0.0
        else:
            s = 1 / math.sqrt(n1 * n1 + n2 * n2)
            a0, a1, a2 = 0.0, -n2 * s, n1 * s
        b0, b1, b2 = n1 * a2 - n2 * a1, n2 * a0 - n0 * a2, n0 * a1 - n1 * a0
        for c in range(count):
            ring, slice_ = c % rings, c // rings
            phi = 2 * PI * (slice_ + rnd(seed, i, 3 * c + 501)) / slices
            r = (ring + rnd(seed, i, 3 * c + 502)) / rings
            x, y, z = math.sqrt(r) * math.cos(phi), math.sqrt(r) * math.sin(phi), math.sqrt(1 - r)
            j = i * count + c
            rays[j, 0] = P[i, 0] + 0.02 * n0
            rays[j, 1] = P[i, 1] + 0.02 * n1
            rays[j, 2] = P[i, 2] + 0.02 * n2
            rays[j, 3] = x * a0 + y * b0 + z * n0
            rays[j, 4] = x * a1 + y * b1 + z * n1
            rays[j, 5] = x * a2 + y * b2 + z * n2


@nb.njit(cache=True)
def mirror_rays(P: Any, N: Any, exact: Any, coat: Any, seed: int, rays: Any) -> None:
    """Reflected directions, spread by the surface's roughness."""
    for i in range(len(P)):
        a = coat[i, 1] * math.sqrt(-2 * math.log(1 - rnd(seed, i, 901)))
        ph = 2 * PI * rnd(seed, i, 902)
        # the micro-facet's normal: the smooth one plus a small random vector
        m0 = N[i, 0] + a * math.cos(ph)
        m1 = N[i, 1] + a * math.sin(ph)
        m2 = N[i, 2] + a * math.cos(ph + 1.9) * 0.7
        s = 1 / math.sqrt(m0 * m0 + m1 * m1 + m2 * m2)
        m0, m1, m2 = m0 * s, m1 * s, m2 * s
        d = exact[i, 0] * m0 + exact[i, 1] * m1 + exact[i, 2] * m2
        rays[i, 0] = P[i, 0] + 0.02 * N[i, 0]
        rays[i, 1] = P[i, 1] + 0.02 * N[i, 1]
        rays[i, 2] = P[i, 2] + 0.02 * N[i, 2]
        rays[i, 3] = exact[i, 0] - 2 * d * m0
        rays[i, 4] = exact[i, 1] - 2 * d * m1
        rays[i, 5] = exact[i, 2] - 2 * d * m2


@nb.njit(cache=True)
def incoming(
    rays: Any, geom: Any, mean: Any, sheets: Any, tex: Any, lut: Any, bench: Any, lightmap: Any,
    frame: Any, env: Any, light: Any, glow: Any, see_light: bool, out: Any,
) -> None:  # fmt: skip
    """Radiance that arrives along secondary rays: room, ground, or a rough idea of a mesh.

    Args:
        mean: (G, 3) mean colour of each mesh times a typical irradiance over pi.
        see_light: whether the light itself is seen (a mirror does; the ambient term must not).
    """
    c, p, e, d = np.zeros(3), np.zeros(3), np.zeros(3), np.zeros(3)
    for i in range(len(geom)):
        g = geom[i]
        if g < len(mean):
            for k in range(3):
                out[i, k] = mean[g, k]
            continue
        for k in range(3):
            d[k] = rays[i, 3 + k]
        if d[2] < -1e-4:
            ground(rays[i, 0], rays[i, 1], rays[i, 2], d[0], d[1], d[2], sheets, tex, lut, bench,
                   c, p)  # fmt: skip
            lit(lightmap, frame, p[0], p[1], e)
            for k in range(3):
                out[i, k] = c[k] * e[k] / PI
            continue
        sky(d, env, c)
        if see_light:
            dn = d[0] * light[3, 0] + d[1] * light[3, 1] + d[2] * light[3, 2]
            if dn < 0:
                w0 = light[0, 0] - rays[i, 0]
                w1 = light[0, 1] - rays[i, 1]
                w2 = light[0, 2] - rays[i, 2]
                t = (w0 * light[3, 0] + w1 * light[3, 1] + w2 * light[3, 2]) / dn
                q0, q1, q2 = d[0] * t - w0, d[1] * t - w1, d[2] * t - w2
                uu = light[1, 0] ** 2 + light[1, 1] ** 2 + light[1, 2] ** 2
                vv = light[2, 0] ** 2 + light[2, 1] ** 2 + light[2, 2] ** 2
                u = (q0 * light[1, 0] + q1 * light[1, 1] + q2 * light[1, 2]) / uu
                v = (q0 * light[2, 0] + q1 * light[2, 1] + q2 * light[2, 2]) / vv
                if t > 0 and 0 <= u <= 1 and 0 <= v <= 1:
                    bar = abs(u - 0.5) < 0.02 or abs(v - 0.55) < 0.02
                    for k in range(3):
                        c[k] = glow[k] * (0.25 if bar else 1.0)
        for k in range(3):
            out[i, k] = c[k]
