"""The back that a contour gauge in a photo was pressed to."""

from __future__ import annotations

import numpy as np

from profiler.errors import OutlineError, RequestError
from profiler.findings import Finding, Level
from profiler.instrument.gauge import Tips, back_from_tips, tips_named
from profiler.instrument.traced import SeenBack
from profiler.pipeline.laid import Laid, scale_uncertainty
from profiler.pipeline.section import Typed
from profiler.silhouette.needles import find_needles

#: height of the needles' middle above the mat where nobody says, and its standard uncertainty, mm
#: (common practice, no source: bars are 9 to 14 mm thick, needles run through their middle)
USUAL_HEIGHT, U_USUAL = 6.0, 1.5
#: standard uncertainty of a typed height without its own, and of half a card's height, mm
_U_TYPED, _U_CARD = 0.5, 0.6
#: part of the needles on the back that may stay unseen without a word
_MOST_UNSEEN = 0.08
#: of the mat, every eighth of a turn from its x axis
_SIDES = (
    "right side", "upper right corner", "upper side", "upper left corner",
    "left side", "lower left corner", "lower side", "lower right corner",
)  # fmt: skip
#: no gauge's needles lie higher than this, mm
HIGHEST = 40.0


class NoGauge(OutlineError):
    """What lies on the mat is no contour gauge."""

    def __init__(self, photo: str) -> None:
        self.photo = photo
        super().__init__(
            f"{photo}: what lies on the mat does not look like a contour gauge: no row of needles"
            " is seen in it. Come nearer (half a metre above the mat), hold still, and let no lamp"
            " mirror in it. If its needles cannot be told apart, give their --pitch."
        )


def seen_back(
    laid: Laid, typed_height: Typed | None, tips: str, flush: bool, pitch: float | None = None
) -> tuple[SeenBack, list[Finding]]:
    """Find the needles, lift their tips, follow the hollow.

    Args:
        laid: the photo with the gauge.
        typed_height: of the needles' middle above the mat, mm.
        tips: their form.
        flush: the needles beside the neck stand level with the face.
        pitch: of the needles, None to find it.

    Raises:
        NoGauge, NoHollow, GaugeTooNarrow, RequestError: see there.
    """
    form = tips_named(tips)
    findings: list[Finding] = []
    height, u_height = _height(laid, typed_height, findings)
    camera = laid.scene.cameras[0]
    needles = find_needles(
        laid.pixels, camera, laid.plan, laid.lighting, laid.silhouette, height, pitch
    )
    if needles is None:
        raise NoGauge(laid.name)
    ends = needles.upper[needles.upper_found]
    if len(ends) < 2:
        raise NoGauge(laid.name)
    middle = np.append(needles.to_mat().mean(axis=0), height)
    across = camera.project(np.stack([middle, middle + np.array([1.0, 0.0, 0.0])]))
    px = 1.0 / float(np.hypot(*(across[1] - across[0])))
    back = back_from_tips(
        Tips(
            needles.places,
            needles.upper_v,
            needles.lower_v,
            needles.pitch,
            needles.sigma,
            px,
            scale_uncertainty(laid.scene, ends, height, u_height),
        ),
        form,
        flush,
        laid.name,
    )
    up = needles.angle + np.pi / 2 + (np.pi if back.upside_down else 0.0)
    findings.append(
        Finding(
            617,
            Level.NOTE,
            f"{len(needles.places)} needles, {needles.pitch:.2f} mm apart. Their hollow opens"
            f" towards the {_SIDES[round(np.degrees(up) / 45) % 8]} of the mat: that is where the"
            " face is.",
        )
    )
    if back.unseen > _MOST_UNSEEN:
        findings.append(
            Finding(
                618,
                Level.CAUTION,
                f"{back.unseen:.0%} of the needles on the back do not show where they end (a print"
                " of their colour beside them, or glare): the curve was carried across them. Lay"
                " the gauge where its hollow is over plain tint, and photograph it again.",
            )
        )
    if not needles.told_apart:
        findings.append(
            Finding(
                616,
                Level.CAUTION,
                f"Single needles cannot be told apart in {laid.name}: the edge was taken every"
                f" {needles.pitch:.2f} mm.",
            )
        )
    return back, findings


def _height(laid: Laid, typed: Typed | None, findings: list[Finding]) -> tuple[float, float]:
    """Of the needles' middle above the mat: typed, half of a card's on the bar, or the usual."""
    if typed is not None:
        if not 0 <= typed[0] <= HIGHEST:
            raise RequestError(
                f"--needle-height: {typed[0]:.1f} mm cannot be: a gauge's needles lie 0 to"
                f" {HIGHEST:.0f} mm above the mat."
            )
        return typed[0], _U_TYPED if typed[1] is None else typed[1] / 2
    for card in laid.scene.cards:
        centre = card.to_mat(np.array([[card.panel.width / 2, card.panel.height / 2]]))[0]
        on_bar = float(centre[2]) - laid.card_thickness
        seen = laid.scene.cameras[0].at_height(laid.scene.cameras[0].project(centre[None]), 0.0)
        if laid.plan.at(laid.silhouette.mask.astype(np.uint8), seen)[0] and on_bar > 1.0:
            findings.append(
                Finding(
                    615,
                    Level.NOTE,
                    f"{card.panel.name} lies {on_bar:.1f} mm high on the gauge: the needles are"
                    f" taken to run half way up, at {on_bar / 2:.1f} mm. Give --needle-height if"
                    " they do not.",
                )
            )
            return on_bar / 2, _U_CARD
    findings.append(
        Finding(
            615,
            Level.NOTE,
            f"The needles are taken to lie {USUAL_HEIGHT:.0f} mm above the mat. Give"
            " --needle-height, or lay a card on the gauge's bar, to be surer.",
        )
    )
    return USUAL_HEIGHT, U_USUAL
