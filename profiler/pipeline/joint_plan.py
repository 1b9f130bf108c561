"""The merged outline with what is known of each of its points."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from profiler.instrument.assemble import PlanOutline
from profiler.outline.heights import PartEdges
from profiler.outline.lift import Lifted
from profiler.outline.merge import Merged, OwnOutline
from profiler.outline.mistaken import mistaken_edge, outvoted
from profiler.outline.rims import LOWER
from profiler.outline.spread import Field
from profiler.pipeline.joint import Joint
from profiler.pipeline.joint_outlines import EDGE_MM
from profiler.pipeline.shape import known_heights

Heights = Mapping[str, PartEdges]


def plan_outline(
    joint: Joint,
    joined: Sequence[Lifted],
    outlines: Sequence[OwnOutline],
    merged: Merged,
    heights: Heights,
    fields: Sequence[Field],
) -> PlanOutline:
    """The merged outline, each point with part, rim and doubts from the photos that made it.

    Args:
        joint: what the photos know together.
        joined: each photo's lifted parts laid together.
        outlines: of each photo.
        merged: the outline, M points.
        heights: by part.
        fields: (M, 2) mm each, what would move it.
    """
    sights, scene = joint.sights, joint.scene
    count = len(sights)
    everywhere = np.arange(len(merged.points))
    foremost = merged.share.argmax(axis=0)

    def of_each(values: Sequence[NDArray[np.generic]]) -> NDArray[np.generic]:
        """What the foremost photo says at each point."""
        each = np.array([values[k][merged.source[k]] for k in range(count)])
        return np.asarray(each[foremost, everywhere])

    labels = of_each([s.parts.labels[j.source] for s, j in zip(sights, joined, strict=True)])
    lower = of_each([(s.rim == LOWER)[j.source] for s, j in zip(sights, joined, strict=True)])
    carried = np.array(
        [
            (j.bridged | ~s.edge.measured[j.source])[merged.source[k]]
            for k, (s, j) in enumerate(zip(sights, joined, strict=True))
        ]
    )
    own = np.array(
        [
            np.hypot(s.edge.sigma[j.source], EDGE_MM)[merged.source[k]]
            for k, (s, j) in enumerate(zip(sights, joined, strict=True))
        ]
    )
    mistaken = np.array(
        [
            mistaken_edge(s, scene.cameras[s.index], heights)[j.source][merged.source[k]]
            for k, (s, j) in enumerate(zip(sights, joined, strict=True))
        ]
    )
    # what the photos' own errors leave of themselves, and how far apart they are found to be
    mean = np.sqrt((merged.share**2 * own**2).sum(axis=0))
    spread = np.sqrt((merged.share * merged.apart**2).sum(axis=0))
    labels_text = labels.astype(np.str_)
    return PlanOutline(
        points=merged.points,
        labels=labels_text,
        known=known_heights(labels_text, lower.astype(bool), heights),
        bridged=(merged.share * carried).sum(axis=0) > 0.5,
        sigma=np.hypot(mean, spread / np.sqrt(count)),
        mistaken=np.hypot(
            np.sqrt((merged.share**2 * mistaken**2).sum(axis=0)), outvoted(merged, outlines)
        ),
        fields=fields,
    )
