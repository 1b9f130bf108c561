"""Parts whose edge is hardly told from the mat: their numbers get a wide doubt, and a word."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from profiler.findings import Finding, Level
from profiler.outline.parts import Parts
from profiler.silhouette.edge import Edge
from profiler.silhouette.faint import faintly_seen, plain_behind, softly_bounded
from profiler.silhouette.ground import Lighting, Plan

#: small and bright ones mirror the mat without being lost
_PARTS = ("body", "neck", "headstock")
#: a part with this share of its edge faint may have lost a piece, and has this doubt, mm standard:
#: a guess between rendered ones
_MOSTLY, _LOST_U_MM = 0.12, 3.0
#: where only a strip along the edge is faint, as a pale binding, no piece is lost, but the edge may
#: lie anywhere in its blur, mm standard: a guess
_STRIP_U_MM = 0.6
#: a border that may be a shadow's may be out by this share of the way to the
#: sharpest step within, standard
_SOFT_SHARE = 0.5


def faint_and_strips(plan: Plan, edge: Edge) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """(N,) where what lies along an edge is nearly of the mat's colour as far as is looked, and
    (N,) where only a strip is, with something else behind it; neither where a hand drew.

    Args:
        plan: the photo laid flat.
        edge: N points.
    """
    faint = faintly_seen(plan, edge)
    if edge.drawn is not None:
        faint &= ~edge.drawn
    behind = plain_behind(plan, edge)
    return faint & ~behind, faint & behind


def faint_parts(faint: NDArray[np.bool_], parts: Parts) -> tuple[str, ...]:
    """Parts whose colour is so near the ground's that their edge may be lost: `faint` (N,) of the
    points that were split into parts."""
    return tuple(
        part for part in _PARTS if len(mine := parts.members(part)) and faint[mine].mean() > _MOSTLY
    )


def with_faint_strips(edge: Edge, parts: Parts, strip: NDArray[np.bool_]) -> Edge:
    """The edge with some doubt on the points (N,) where only a strip along it is faint."""
    strip = strip & np.isin(parts.labels, _PARTS)
    return replace(edge, sigma=np.where(strip, np.hypot(edge.sigma, _STRIP_U_MM), edge.sigma))


def doubted(edge: Edge, parts: Parts, faint: Sequence[str]) -> Edge:
    """The edge with that doubt on the faint parts' points, apart from those that a hand drew."""
    lost = np.isin(parts.labels, faint)
    if edge.drawn is not None:
        lost &= ~edge.drawn
    return replace(edge, sigma=np.where(lost, np.hypot(edge.sigma, _LOST_U_MM), edge.sigma))


def faint_finding(photo: str, faint: Sequence[str]) -> Finding:
    """What a person is told of them."""
    names = " and ".join(faint)
    return Finding(
        306,
        Level.DOUBT,
        f"{photo}: the {names} {'is' if len(faint) == 1 else 'are'} nearly of the mat's colour, so"
        " the edge there may be lost, and its ± is wide. Look at the overlay picture; print the"
        " mat in another tint ('profiler mat --tint'), or draw the edge on the page"
        " ('profiler serve').",
        photo,
    )


def in_soft_shadow(
    photo: str, plan: Plan, lighting: Lighting, edge: Edge, parts: Parts
) -> tuple[Edge, Finding | None]:
    """The edge in doubt where it may be a shadow's border, and what a person is told of it.

    Args:
        photo: its name.
        plan: the photo laid flat.
        lighting: of the ground.
        edge: N points.
        parts: split of them.
    """
    deep = softly_bounded(plan, lighting, edge)
    soft = (deep > 0) & np.isin(parts.labels, _PARTS)
    if edge.drawn is not None:
        soft &= ~edge.drawn
    if not soft.any():
        return edge, None
    names = " and ".join(part for part in _PARTS if (soft & (parts.labels == part)).any())
    sigma = np.where(soft, np.hypot(edge.sigma, _SOFT_SHARE * deep), edge.sigma)
    told = Finding(
        307,
        Level.CAUTION,
        f"{photo}: in places the edge of the {names} passes softly into its own shadow, so where it"
        " is cannot be told; there the ± is wide and the overlay red. Take the photo again with"
        " light from the other side too, or draw the edge on the page ('profiler serve').",
        photo,
    )
    return replace(edge, sigma=sigma, measured=edge.measured & ~soft), told
