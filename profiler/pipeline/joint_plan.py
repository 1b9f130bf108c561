"""The merged outline with what is known of each of its points."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from profiler.instrument.assemble import PlanOutline
from profiler.outline.heights import PartEdges
from profiler.outline.lift import Lifted
from profiler.outline.merge import Merged, OwnOutline
from profiler.outline.mistaken import confirmed, outvoted, part_taken, rim_taken
from profiler.outline.rims import LOWER
from profiler.outline.spread import Field
from profiler.pipeline.joint import Joint
from profiler.pipeline.joint_outlines import EDGE_MM
from profiler.pipeline.shape import known_heights

Heights = Mapping[str, PartEdges]
Kind = TypeVar("Kind", bound=np.generic)


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

    def of_all(values: Sequence[NDArray[Kind]]) -> NDArray[Kind]:
        """(K, M) what each photo says of itself, at the merged points."""
        return np.array([mine[at] for mine, at in zip(values, merged.source, strict=True)])

    def of_foremost(values: Sequence[NDArray[Kind]]) -> NDArray[Kind]:
        """(M,) what the foremost photo says at each point."""
        return np.asarray(of_all(values)[foremost, everywhere])

    pairs = list(zip(sights, joined, strict=True))
    labels = of_foremost([s.parts.labels[j.source] for s, j in pairs])
    lower = of_foremost([(s.rim == LOWER)[j.source] for s, j in pairs])
    carried = of_all([j.bridged | ~s.edge.measured[j.source] for s, j in pairs])
    own = of_all([np.hypot(s.edge.sigma[j.source], EDGE_MM) for s, j in pairs])
    taken = [
        rim_taken(s, scene.cameras[s.index], heights).at(j.source[at])
        for (s, j), at in zip(pairs, merged.source, strict=True)
    ]
    blind = np.array([o.blind[at].T for o, at in zip(outlines, merged.source, strict=True)])
    rim = np.array([t.u for t in confirmed(taken, merged.apart, own, blind)])
    part = of_all([part_taken(s, scene.cameras[s.index], heights)[j.source] for s, j in pairs])
    mistaken = np.hypot(rim, part)
    # what the photos' own errors leave of themselves, and how far apart they are found to be
    mean = np.sqrt((merged.share**2 * own**2).sum(axis=0))
    spread = np.sqrt((merged.share * merged.apart**2).sum(axis=0))
    return PlanOutline(
        points=merged.points,
        labels=labels,
        known=known_heights(labels, lower, heights),
        bridged=(merged.share * carried).sum(axis=0) > 0.5,
        sigma=np.hypot(mean, spread / np.sqrt(count)),
        mistaken=np.hypot(
            np.sqrt((merged.share**2 * mistaken**2).sum(axis=0)), outvoted(merged, outlines)
        ),
        fields=fields,
    )
