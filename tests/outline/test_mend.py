"""Gaps between trusted points, ways across them, and an edge with stretches replaced."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from profiler.geometry.frames import Frame2D
from profiler.optics.camera import Camera, Pose
from profiler.optics.lens import Lens
from profiler.outline import mend
from profiler.outline.gaps import gaps_of, on_to, ways_across
from profiler.outline.heights import EdgeHeight, PartEdges
from profiler.outline.mend import _FARTHEST_ON_MM, _by_what_was_found, _foot_stands
from profiler.outline.mirrored import Mirror
from profiler.outline.parts import Parts
from profiler.outline.splice import Rimmed, Stretch, spliced
from profiler.silhouette.edge import Edge
from profiler.silhouette.seek import Sought

TURNED = np.diag([1.0, -1.0, -1.0])
CAMERA = Camera(
    Lens(1600, 1200, 1500, 799.5, 599.5), Pose(TURNED, -TURNED @ np.array([0.0, 0.0, 1000.0]))
)
RADIUS, N = 100.0, 628


def _circle(n: int = N) -> np.ndarray:
    turn = np.linspace(0, 2 * np.pi, n, endpoint=False)
    return RADIUS * np.column_stack([np.cos(turn), np.sin(turn)])


def test_gaps_are_told_apart_by_what_is_on_either_side() -> None:
    mine = np.ones(N, dtype=bool)
    mine[300:400] = False  # another part
    trusted = np.flatnonzero(mine & ~np.isin(np.arange(N), [*range(100, 140), *range(280, 300)]))
    inside, before = gaps_of(trusted, mine, beside_others=True)
    assert (inside.first, inside.last, inside.begins, inside.ends) == (99, 140, True, True)
    assert (before.first, before.last, before.begins, before.ends) == (279, 300, True, False)
    assert (
        gaps_of(trusted, mine, beside_others=False) == []
        or len(gaps_of(trusted, mine, beside_others=False)) == 1
    )


def test_a_gap_round_the_curves_own_beginning_is_one_gap() -> None:
    trusted = np.arange(20, N - 20)
    (gap,) = gaps_of(trusted, np.ones(N, dtype=bool), beside_others=True)
    assert (gap.first, gap.last, len(gap.between)) == (N - 21, 20, 40)
    assert gap.between[20] == 0


def test_ways_across_keep_to_a_circle_whatever_was_seen_there() -> None:
    seen = _circle()
    seen[100:130] *= 1 + 0.06 * np.sin(np.linspace(0, np.pi, 30))[:, None]  # a wall's foot
    trusted = np.flatnonzero(~np.isin(np.arange(N), np.arange(100, 130)))
    (gap,) = gaps_of(trusted, np.ones(N, dtype=bool), beside_others=True)
    smooth, followed = ways_across(seen, trusted, gap)
    assert np.abs(np.hypot(*smooth.T) - RADIUS).max() < 0.3
    assert np.hypot(*followed.T).max() > RADIUS + 2
    for way in (smooth, followed):  # in the curve's order
        assert way[0, 0] * way[-1, 1] - way[0, 1] * way[-1, 0] > 0


def test_a_gap_that_ends_at_another_part_is_carried_on_as_it_curves() -> None:
    seen = _circle()
    mine = np.arange(N) < 300
    trusted = np.arange(270)
    gaps = gaps_of(trusted, mine, beside_others=True)
    (gap,) = [g for g in gaps if g.begins]
    ahead = ways_across(seen, trusted, gap)[0]
    near = ahead[: len(ahead) // 2]  # further on it is less sure, and sought more widely
    assert np.abs(np.hypot(*near.T) - RADIUS).max() < 0.3
    assert np.abs(np.hypot(*ahead.T) - RADIUS).max() < 1.0
    assert np.hypot(*(ahead[0] - seen[269])) < 1.5


def test_stretches_take_the_place_of_the_points_between_their_ends() -> None:
    circle = _circle()
    labels = np.full(N, "body", dtype="<U9")
    parts = Parts(Frame2D(0.0, (-RADIUS, 0.0)), 2 * RADIUS, 200.0, 200.0, labels, np.ones(201))
    edge = Edge(
        CAMERA.project(np.column_stack([circle, np.zeros(N)])),
        circle,
        np.ones(N, dtype=bool),
        np.full(N, 0.1),
    )
    seen = Rimmed(edge, parts, np.full(N, 0.9), np.zeros(N, dtype=bool), np.zeros(N))

    def stretch(first: int, last: int, count: int) -> Stretch:
        turn = 2 * np.pi * (first + (np.arange(count) + 0.5) * ((last - first) % N) / count) / N
        on_mat = 0.97 * RADIUS * np.column_stack([np.cos(turn), np.sin(turn)])
        return Stretch(first, last, "body", on_mat, np.ones(count, dtype=bool), np.full(count, 0.2))

    # one in the middle, one across the curve's own beginning
    made = spliced(seen, CAMERA, [stretch(100, 141, 15), stretch(N - 11, 10, 8)])
    assert len(made.rim) == N - 40 - 20 + 15 + 8
    turn = np.unwrap(np.arctan2(made.edge.on_mat[:, 1], made.edge.on_mat[:, 0]))
    assert (np.diff(turn) > 0).all()
    new = made.edge.sigma == 0.2
    assert (np.hypot(*made.edge.on_mat[new].T) < 0.98 * RADIUS).all()
    assert (made.rim[new] == 1.0).all()
    assert made.sure[new].all()
    assert (made.rim[~new] == 0.0).all()
    back = CAMERA.at_height(made.edge.pixels, 0.0)
    assert np.allclose(back, made.edge.on_mat, atol=1e-6)


def test_a_rim_found_inside_what_was_seen_must_part_two_looks() -> None:
    """A wooden face 80 mm wide with grain along it; its rim is said to be 4 mm further in."""
    rng = np.random.default_rng(11)
    wood = np.array([60.0, 90.0, 140.0])
    photo = np.full((1200, 1600, 3), 210.0)
    grid = np.stack(np.meshgrid(np.arange(1600.0), np.arange(1200.0)), axis=-1)
    x, y = CAMERA.at_height(grid.reshape(-1, 2), 0.0)[:, :2].T.reshape(2, 1200, 1600)
    face = (np.abs(x) < 80) & (np.abs(y) < 40)
    grain = np.exp(0.02 * rng.standard_normal(400))[((y + 200) * 1.5).astype(int) % 400]
    photo[face] = (wood * grain[..., None])[face]
    wall = photo.copy()
    wall[face & (y > 36)] = (150.0, 160.0, 165.0)
    places = np.column_stack([np.arange(60.0, -60.0, -1.0), np.full(120, 36.0)])
    normals = np.tile([0.0, 1.0], (120, 1))
    seen = places + 4.0 * normals
    none = np.zeros(0, dtype=np.intp)
    rim = mend._Rim("headstock", none, none, np.zeros((0, 1, 3)), 0.05, rounded=False)

    def parted(picture: np.ndarray) -> bool:
        return mend._parted(picture.astype(np.uint8), CAMERA, places, normals, seen, rim)

    assert parted(wall)
    assert not parted(photo)
    # a highlight along the rounding of a lacquered edge: the same paint on both sides of it
    shiny = np.full((1200, 1600, 3), 210.0)
    shiny[face] = (40.0, 60.0, 200.0)
    shiny[face & (y > 34.5) & (y < 36.0)] = (170.0, 180.0, 240.0)
    assert not parted(shiny)
    # rounded wood that catches a little more light, and redder, than the face does
    lit = photo.copy()
    lit[face & (y > 35.8)] *= (0.91, 1.13, 1.15)
    assert not parted(lit)
    # a wall along most of the way, and then a line of the grain for 40 mm
    partly = wall.copy()
    partly[face & (x < -20)] = photo[face & (x < -20)]
    assert not parted(partly)
    spots = wall.copy()
    spots[face & (x < -45)] = photo[face & (x < -45)]
    assert parted(spots)
    # where what was seen lies on the rim there is nothing to part
    assert mend._parted(photo.astype(np.uint8), CAMERA, seen, normals, seen, rim)


def test_a_lamps_gloss_on_an_edge_that_is_plainly_shown_moves_no_rim() -> None:
    """A brown disc 60 mm high, its side facing away all round; a tenth of its rounding mirrors a
    window. Beyond the gloss the wood goes on for a millimetre before the mat begins."""
    high = np.zeros((N, 1)) + 60.0
    on_mat = CAMERA.at_height(CAMERA.project(np.hstack([_circle(), high])), 0.0)[:, :2]
    reach = float(np.hypot(*on_mat[0]))
    grid = np.stack(np.meshgrid(np.arange(1600.0), np.arange(1200.0)), axis=-1)
    x, y = CAMERA.at_height(grid.reshape(-1, 2), 0.0)[:, :2].T.reshape(2, 1200, 1600)
    away, turn = np.hypot(x, y), np.arctan2(y, x)
    photo = np.full((1200, 1600, 3), 200.0)
    photo[away < reach] = (50.0, 75.0, 120.0)
    photo *= np.exp(0.015 * np.random.default_rng(5).standard_normal(photo.shape))
    photo[(np.abs(turn - 1.0) < 0.3) & (away > reach - 3.5) & (away < reach - 1.2)] = 245.0
    level = [EdgeHeight(0.0, z, 0.0, 0.5, 0.0, "typed", True) for z in (60.0, 0.0)]
    heights = {"body": PartEdges(*level)}
    labels = np.full(N, "body", dtype="<U9")
    parts = Parts(Frame2D(0.0, (-RADIUS, 0.0)), 2 * RADIUS, 200.0, 200.0, labels, np.ones(201))
    everywhere = np.ones(N, dtype=bool)
    edge = Edge(
        CAMERA.project(np.column_stack([on_mat, np.zeros(N)])),
        on_mat,
        everywhere,
        np.full(N, 0.1),
        plain=everywhere,
    )
    seen = Rimmed(edge, parts, np.full(N, 0.1), everywhere, np.ones(N))
    assert mend.mended(photo.astype(np.uint8), CAMERA, seen, heights) is seen


def test_a_rim_must_not_run_back_along_the_edge_it_came_by() -> None:
    """A stretch that goes on from a spur meets the rest of the edge; one that crosses the gap, or
    only touches the points beside its ends, does not."""
    seen = _circle()

    def stretch(on_mat: np.ndarray) -> Stretch:
        found = np.ones(len(on_mat), dtype=bool)
        return Stretch(99, 140, "body", on_mat, found, np.full(len(on_mat), 0.1))

    across = seen[99] + np.linspace(0, 1, 40)[:, None] * (seen[140] - seen[99])
    assert not mend._runs_into(stretch(across), seen)
    assert not mend._runs_into(stretch(seen[99:141]), seen)
    back = seen[60:100][::-1] + 0.4 * np.sin(np.arange(40))[:, None]
    assert mend._runs_into(stretch(back), seen)


def test_a_rim_half_found_shows_the_way_to_the_rest() -> None:
    """A waist that bends more than the way between its ends: found at both ends, it is looked for
    further in where it must go on."""
    at = np.arange(160.0)
    way = np.column_stack([at, np.zeros(160)])
    rim = -14 * np.sin(np.pi * at / 159) ** 2
    found = np.abs(rim) < 9
    sought = Sought(np.where(found, rim, -9.0), found, found)
    better = _by_what_was_found(way, sought, np.tile([0.0, 1.0], (160, 1)))
    assert np.abs(better[:, 1] - rim)[found].max() < 1.0
    assert np.abs(better[:, 1] - rim).max() < 5.5
    assert (better[~found, 1] < -8.5).all()


def test_a_rim_is_not_carried_across_a_cutaways_pocket() -> None:
    """It ends at the horn, and the neck, where it would begin again, is 120 mm away."""
    begin = np.column_stack([np.linspace(0, 30, 31), np.zeros(31)])
    assert len(on_to(begin, np.array([70.0, 10.0]))) < _FARTHEST_ON_MM
    assert len(on_to(begin, np.array([150.0, 30.0]))) > _FARTHEST_ON_MM


def test_a_foot_of_the_wall_that_was_measured_bounds_where_its_rim_can_be() -> None:
    """The wall stands square to the bench: its rim lies above its foot, not 4 mm behind it."""
    plan = _circle()
    parts = Parts(Frame2D(0.0, (0.0, 0.0)), 200.0, 200.0, 200.0, np.full(N, "body"), np.ones(201))
    edge = Edge(plan, plan, np.ones(N, dtype=bool), np.full(N, 0.1), plain=np.ones(N, dtype=bool))
    seen = Rimmed(edge, parts, np.full(N, 0.5), np.zeros(N, dtype=bool), np.zeros(N))
    (gap,) = gaps_of(np.flatnonzero(np.arange(N) >= 60), np.ones(N, dtype=bool), True)
    outward = plan[:60] / RADIUS
    assert _foot_stands(seen, plan, gap, plan[:60] - 4.0 * outward, outward)
    assert not _foot_stands(seen, plan, gap, plan[:60] - 0.8 * outward, outward)
    assert not _foot_stands(seen, plan, gap, plan[:60] + 4.0 * outward, outward)
    # a foot that was not measured beside bare tint bounds nothing
    on_print = replace(seen, edge=replace(edge, plain=np.zeros(N, dtype=bool)))
    assert not _foot_stands(on_print, plan, gap, plan[:60] - 4.0 * outward, outward)


def _moved_stretch(on_mat: np.ndarray, first: int, last: int, by: float) -> Stretch:
    """Points of a circle between two of its points, moved outward by so many mm at most."""
    between = np.arange(first + 1, last)
    away = by * np.sin(np.linspace(0, np.pi, len(between)))
    moved = on_mat[between] * (1 + away / np.hypot(*on_mat[between].T))[:, None]
    count = len(between)
    return Stretch(first, last, "body", moved, np.ones(count, dtype=bool), np.full(count, 0.2))


def test_what_parts_two_sides_that_were_alike_is_left_as_it_was_seen() -> None:
    """On a body alike on both sides: a stretch on one of them 5 mm further out, alone and with its
    mirror image; and one that brings a side to its mirror image that was not there."""
    level = [EdgeHeight(0.0, z, 0.0, 0.5, 0.0, "typed", True) for z in (60.0, 0.0)]
    heights = {"body": PartEdges(*level)}
    on_mat = CAMERA.at_height(CAMERA.project(np.hstack([_circle(), np.full((N, 1), 60.0)])), 0.0)[
        :, :2
    ]
    parts = Parts(
        Frame2D(0.0, (-RADIUS, 0.0)), 200.0, 200.0, 200.0, np.full(N, "body"), np.ones(201)
    )
    everywhere = np.ones(N, dtype=bool)

    def rimmed(curve: np.ndarray) -> Rimmed:
        pixels = CAMERA.project(np.column_stack([curve, np.zeros(N)]))
        edge = Edge(pixels, curve, everywhere, np.full(N, 0.1))
        return Rimmed(edge, parts, np.zeros(N), everywhere, np.ones(N))

    def kept(stretches: list[Stretch], curve: np.ndarray = on_mat) -> list[int]:
        left = mend._alike_still(stretches, rimmed(curve), CAMERA, heights, Mirror(parts.frame))
        return [stretch.first for stretch in left]

    one = _moved_stretch(on_mat, 100, 160, 5.0)
    other = _moved_stretch(on_mat, N - 160, N - 100, 5.0)
    assert kept([one]) == []
    assert kept([one, other]) == [one.first, other.first]
    dented = on_mat.copy()
    dented[101:160] = _moved_stretch(on_mat, 100, 160, -5.0).on_mat
    back = _moved_stretch(on_mat, 100, 160, 0.0)
    assert kept([back], dented) == [back.first]
    # a body made otherwise says nothing: its tail's half is twice as broad on one side
    askew = on_mat.copy()
    askew[:300] *= (1.0, 1.3)
    assert kept([one], askew) == [one.first]
