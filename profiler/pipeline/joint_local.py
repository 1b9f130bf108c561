"""The merged outline where small things have heights of their own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from profiler.geometry.curves import outward_normals
from profiler.outline.bump import stands_out_at_tail
from profiler.outline.heights import PartEdges
from profiler.outline.lift import Lifted
from profiler.outline.local import local_shift
from profiler.outline.merge import Merged, OwnOutline
from profiler.outline.rims import edge_z
from profiler.pipeline.joint import Joint

Array = NDArray[np.float64]
Heights = Mapping[str, PartEdges]

#: edges found as well as this, and as near as this to the merged outline, tell of local heights, mm
_WELL_MEASURED_MM, _NEAR_MM = 0.4, 3.0


def with_local_heights(
    joint: Joint,
    joined: Sequence[Lifted],
    outlines: Sequence[OwnOutline],
    merged: Merged,
    heights: Heights,
) -> tuple[Merged, Array]:
    """The outline, moved where small things have heights of their own; (M,) mm, its doubt."""
    normals = outward_normals(merged.points, 3.0)
    by_height, own, fair = [], [], []
    for k, sight in enumerate(joint.sights):
        source = merged.source[k]
        parts = replace(sight.parts, labels=sight.parts.labels[joined[k].source][source])
        upper, lower = edge_z(merged.points, parts, heights)
        z = lower + sight.rim[joined[k].source][source] * (upper - lower)
        centre = joint.scene.cameras[sight.index].centre
        reach = ((merged.points - centre[:2]) * normals).sum(axis=1)
        by_height.append(-reach / (centre[2] - z))
        own.append(outlines[k].own[source])
        fair.append((own[k] < _WELL_MEASURED_MM) & (np.abs(merged.apart[k]) < _NEAR_MM))
    foremost = merged.share.argmax(axis=0)
    everywhere = np.arange(len(merged.points))
    labels = np.array(
        [
            s.parts.labels[j.source][merged.source[k]]
            for k, (s, j) in enumerate(zip(joint.sights, joined, strict=True))
        ]
    )[foremost, everywhere]
    frame = joint.sights[joint.reference].parts.frame
    # a strap button's height is found already
    stands_out = stands_out_at_tail(frame.from_mat(merged.points)) & (labels == "body")
    shift, doubt = local_shift(
        merged.apart,
        np.array(by_height),
        np.array(own),
        np.array(fair),
        stands_out,
        turned=labels == "tuners",
    )
    moved = merged.points + shift[:, None] * normals
    return replace(merged, points=moved, apart=merged.apart - shift), doubt
