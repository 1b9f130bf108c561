"""Parts lifted to their own heights no longer meet; laid together they cover what they cover."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from shapely.geometry import Polygon, box
from shapely.ops import unary_union

from profiler.geometry.curves import evenly_spaced
from profiler.outline.together import lay_together

#: what each part really covers, mm: the shaft goes on below the headstock, the neck into the body
BODY, NECK, HEAD = box(0, -60, 200, 60), box(190, -11, 330, 11), box(318, -18, 420, 18)
TUNERS = [box(350, 10, 356, 30), box(380, -30, 386, -10)]
TRUTH = unary_union([BODY, NECK, HEAD, *TUNERS])


def _line(*corners: tuple[float, float]) -> np.ndarray:
    pieces = [
        np.linspace(a, b, int(np.hypot(b[0] - a[0], b[1] - a[1])) + 1, endpoint=False)
        for a, b in pairwise(corners)
    ]
    return np.vstack([*pieces, corners[-1:]])


def _seen() -> tuple[np.ndarray, np.ndarray]:
    """Points of each part as far as it is seen, with gaps of mm between the parts."""
    runs = [
        ("body", _line((200, 14), (200, 60), (0, 60), (0, -60), (200, -60), (200, -14))),
        ("neck", _line((204, -11), (316, -11))),
        ("headstock", _line((320, -11), (320, -18), (379, -18))),
        ("tuners", _line((380, -21), (380, -30), (386, -30), (386, -21))),
        ("headstock", _line((387, -18), (420, -18), (420, 18), (357, 18))),
        ("tuners", _line((356, 21), (356, 30), (350, 30), (350, 21))),
        ("headstock", _line((349, 18), (320, 18), (320, 11))),
        ("neck", _line((316, 11), (204, 11))),
    ]
    labels = np.concatenate([np.full(len(p), part) for part, p in runs])
    return np.vstack([p for _, p in runs]), labels


def test_gaps_between_the_parts_are_closed_by_the_parts_themselves() -> None:
    plan, labels = _seen()
    joined = lay_together(plan, np.ones(len(plan)), labels)
    found = Polygon(joined.points)
    assert found.is_valid
    assert found.exterior.is_ccw
    # the drawing's own square corners between neck and headstock are not met
    assert found.symmetric_difference(TRUTH).area < 35.0
    assert found.hausdorff_distance(TRUTH) < 3.0
    # the points as they were seen leave gaps at every joint
    assert Polygon(plan).symmetric_difference(TRUTH).area > 45.0


def test_a_headstock_comes_smoothly_out_of_the_neck_that_hides_its_beginning() -> None:
    along = np.arange(0, 61.0)
    flare = np.column_stack([320 + along, 11 + 0.01 * along**2])
    hidden = 12
    below = flare[hidden:] * [1, -1]
    runs = [
        ("body", _line((200, 14), (200, 60), (0, 60), (0, -60), (200, -60), (200, -14))),
        ("neck", _line((204, -11), (319, -11))),
        ("headstock", np.vstack([below, _line((380, -46), (380, 46)), flare[hidden:][::-1]])),
        ("neck", _line((319, 11), (204, 11))),
    ]
    labels = np.concatenate([np.full(len(p), part) for part, p in runs])
    plan = np.vstack([p for _, p in runs])
    found = lay_together(plan, np.ones(len(plan)), labels)
    for side in (-1, 1):
        mine = found.points[
            (found.points[:, 1] * side > 0) & (np.abs(found.points[:, 0] - 329) < 14)
        ]
        true = 11 + 0.01 * np.maximum(mine[:, 0] - 320, 0) ** 2
        assert len(mine) > 20
        assert np.abs(mine[:, 1] * side - true).max() < 0.2
    # what was not seen is said to be carried across
    assert found.bridged[(np.abs(found.points[:, 0] - 326) < 4) & (found.points[:, 1] > 0)].all()


def test_a_corner_blurred_beside_a_shaft_does_not_bend_the_edge_that_the_shaft_hides() -> None:
    plan, labels = _seen()
    on_head = labels == "headstock"
    # the last millimetres before the shaft run inwards, as a corner does that is blurred
    near = np.clip(1 - (np.abs(plan[:, 0] - 383) - 3) / 7, 0.0, 1.0)
    plan[:, 1] += np.where(on_head & (plan[:, 1] < 0), 1.2 * near, 0.0)
    found = Polygon(lay_together(plan, np.ones(len(plan)), labels).points)
    lost = TRUTH.difference(found).intersection(box(372, -20, 394, -10))
    lost = lost.difference(TUNERS[1].buffer(0.3))
    # no deeper below the shaft than beside it, where two points are left out
    assert lost.bounds[3] + 18 < 0.9


def test_every_point_knows_the_edge_point_it_came_from() -> None:
    plan, labels = _seen()
    joined = lay_together(plan, np.ones(len(plan)), labels)
    away = np.hypot(*(plan[joined.source] - joined.points).T)
    assert away[~joined.bridged].max() < 0.51


def test_a_shaded_corner_beside_the_neck_is_cut_back() -> None:
    plan, labels = _seen()
    # shadow fills the corner between neck and body for 12 mm
    side = (labels == "neck") & (plan[:, 1] > 0) & (plan[:, 0] < 216)
    plan[side, 1] += 0.4 * (216 - plan[side, 0])
    found = Polygon(lay_together(plan, np.ones(len(plan)), labels).points)
    assert Polygon(plan).symmetric_difference(TRUTH).area > 70.0
    assert found.symmetric_difference(TRUTH).area < 50.0


def test_a_body_alone_stays_as_it_is() -> None:
    ring = evenly_spaced(np.array(box(0, 0, 80, 50).exterior.coords)[:-1], 1.0)
    joined = lay_together(ring, np.ones(len(ring)), np.full(len(ring), "body"))
    assert np.allclose(joined.points, ring)


def test_the_body_comes_up_to_the_neck_where_the_silhouettes_corner_is_rounded() -> None:
    """A body that slopes up to the neck, its last 4 mm lost in the corner."""
    plan, labels = _seen()
    body = _line((199, 15), (188, 60), (0, 60), (0, -60), (188, -60), (199, -15))
    plan = np.vstack([body, plan[labels != "body"]])
    labels = np.concatenate([np.full(len(body), "body"), labels[labels != "body"]])
    found = Polygon(lay_together(plan, np.ones(len(plan)), labels).points)
    corner = Polygon([(199, 15), (200, 11), (196, 11), (196, 15)])
    assert found.intersection(corner).area > 0.9 * corner.area


def test_a_button_of_which_one_side_is_seen_stands_square_on_the_wall() -> None:
    """The rim hides its stem and most of one flank; what is seen leans, and the button does not."""
    seen = _line((-12, 7), (-14, 5), (-14, -5), (-12.5, -7), (-12, -11))
    runs = [
        ("body", _line((200, -60), (200, 60), (0, 60), (0, 12))),
        ("button", seen),
        ("body", _line((0, -12), (0, -60), (200, -60))),
    ]
    labels = np.concatenate([np.full(len(p), part) for part, p in runs])
    plan = np.vstack([p for _, p in runs])
    found = lay_together(plan, np.ones(len(plan)), labels).points
    # it comes straight back from where it was last seen, but for a point at either corner
    foot = found[(np.abs(found[:, 0]) < 0.5) & (np.abs(found[:, 1]) < 30), 1]
    assert abs(foot[foot > 0].min() - seen[1, 1]) < 0.3
    assert abs(foot[foot < 0].max() - seen[-2, 1]) < 0.3


def test_a_head_that_does_not_reach_its_neck_is_not_lost() -> None:
    """Told too short, or lifted wrongly: 60 mm of a dulcimer's head went without a word."""
    plan, labels = _seen()
    gap = np.where(np.isin(labels, ("headstock", "tuners")), 30.0, 0.0)
    joined = lay_together(plan + gap[:, None] * (1.0, 0.0), np.ones(len(plan)), labels)
    found = Polygon(joined.points)
    assert found.is_valid and found.exterior.is_ccw
    assert found.bounds[2] == 420.0 + 30.0
    assert len(joined.points) == len(joined.source) == len(joined.bridged)
