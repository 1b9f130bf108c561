"""How high the visible edge of each part lies above the bench.

A card tells the height of the place where it lies, which is not always the rim: an arched top
stands above its rim, strings stand above the fretboard, a tapered body falls towards the neck,
a headstock slopes away from the nut. What is measured, typed or only assumed is kept apart.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from profiler.geometry.frames import Frame2D
from profiler.outline.build import share_solid
from profiler.outline.parts import Parts
from profiler.outline.side_button import SIDE_BUTTON
from profiler.scene.record import PlacedPanel, Scene

Array = NDArray[np.float64]

PARTS = ("body", "back", "neck", "headstock", "tuners", "button", SIDE_BUTTON)
#: a top that falls outward by more than this under a card is arched, not flat: rad
_ARCHED = 0.03
#: how much lower than the card the rim is, as a share of what a parabola through the slope under
#: the card makes of it; an arch that ends in a hollow along the rim, as a raised cosine does, makes
#: 0.42 to 0.46 (reckoned), one that is flat on top and falls steeply at its edge up to 1.4 under a
#: card three quarters out, and more further in. One instrument's arch is of one kind: cards share
#: that doubt, and by this share of it they differ. A guess, by rendered violins
_ARCH_SHARE, _ARCH_SHARE_U, _ARCH_DIFFERS = 1.05, 0.5, 0.5
#: the arch of a body that has the violin family's corners, as a share of half its width: 15 to 16
#: of 104 (values from memory); how much of it is left along the middle line towards the ends, and
#: how far both together stray
_ARCH_OF_HALF, _ARCH_ALONG, _ARCH_STRAYS = 0.15, 0.85, 0.4
#: a card lies on the fretboard where that reaches over the body, from this share of the way to the
#: join
_BOARD_FROM = 0.55
#: a neck is narrower than this share of the body
_NARROWER = 0.6
#: below this a card lies on the mat, not on the instrument, mm
ON_THE_MAT_MM = 4.0

#: a card with fewer saddles, a doubt (mm) or a slope above these tells nothing
_LEAST_POINTS = 6
_MOST_DOUBT_MM = 6.0
_STEEPEST = 0.5

# Common practice, no source: how instruments are usually built, with how far they stray, mm.
#: strings and frets hold a card this much above the fretboard's edge
_CARD_OVER_FRETBOARD = (3.0, 1.5)
#: from the fretboard's edge down to where a neck is widest seen from below
_NECK_EDGE_DROP = (8.0, 3.0)
#: the headstock's face, where it begins, below the fretboard's edge: the fretboard's thickness
_FACE_BELOW_FRETBOARD = (5.0, 2.0)
_HEADSTOCK_THICKNESS = (14.0, 3.0)
#: from the headstock's face down to the middle of its tuner buttons: through 12 of wood in a small
#: headstock, 15 in a large one, so wide where it has tuners, then 5 to 6 to the worm of a geared
#: one; and through the walls of a pegbox of the violin family
_TUNERS_BELOW_FACE, _HEAD_WIDTHS, _TUNERS_STRAY = (17.5, 20.5), (50.0, 75.0), 3.5
_PEGS_BELOW_EDGE = (8.0, 4.0)
#: a pegbox is no broader than this share of the neck, measured so far before the nut, mm; other
#: headstocks are
_PEGBOX_OF_NUT, _BEFORE_THE_NUT_MM = 1.25, 15.0
#: how far a strap button's tip is from the wall, and how far up or down the wall it strays from
#: where it usually is, as a share of the rim's height
_BUTTON_LENGTH, _BUTTON_STRAYS, _LEAST_BUTTON_U = (12.5, 2.5), 0.2, 4.0
#: where a strap button is on a round back, as a share of the rim's height
_ROUND_SHARE = 0.8
#: an end pin of the violin family is shorter, and the edge of the plates reaches out over the ribs
#: towards its tip (values from memory)
_PIN_LENGTH = (8.0, 3.0)
#: a fretboard's face above the soundboard
_FRETBOARD_OVER_BODY = (6.0, 3.0)
#: the same over an arched one's rim, where the neck meets it, and its rise per mm: it falls towards
#: the nut (values from memory)
_FINGERBOARD_OVER_RIM, _FINGERBOARD_SLOPE = (15.0, 5.0), (-0.07, 0.04)
_BODY_OF_WIDTH = 0.3
#: a top that falls more steeply than this, with nothing but its back's edge on the bench, lies on
#: a round back: flat-backed bodies are not so much shallower at the neck
_STEEP_FOR_FLAT = 0.06
#: nor is a flat-backed body deeper than this share of its length: guitars are up to 0.25, a lute or
#: a bowl-backed mandolin 0.3 to 0.5 (common practice, no source)
_DEEP_FOR_FLAT = 0.34
#: nor both steep and deep to a good part of these: together no more than so much (a guess)
_STEEP_AND_DEEP = 1.2
#: how far a top's slope strays from level: where the back is flat, arched or round
_FLAT_TIPS, _ARCHED_TIPS, _ROUND_TIPS = 0.02, 0.04, 0.1
#: how much lower ribs round an arched top may be at one end, mm for each mm along it
_RIBS_TAPER = 0.015
#: half the thickness of an arched back's edge
_HALF_EDGE = 2.0
#: how far a headstock without a card falls away, rise per mm: on a body cut from the solid level or
#: tilted back; on one built up tilted by 8 to 18 degrees, now and then level; and a pegbox of the
#: violin family. Common practice, no source
_SLAB_HEAD_SLOPE, _SHELL_HEAD_SLOPE = (-0.12, 0.09), (-0.23, 0.1)
_PEGBOX_SLOPE = (-0.2, 0.12)

#: source of a height that a person gave
TYPED = "typed"


@dataclass(frozen=True)
class CardPlace:
    """A card on the instrument, in the rough frame.

    Attributes:
        name: as printed.
        x, y: its centre, mm.
        z: height of what lies under it, mm.
        slope_x, slope_y: rise per mm.
        covariance: (2, 2) of z and slope_x. A leaning card's height and slope are strongly tied:
            shorter because it leans, or because it is lower?
        points: saddles of it that were used.
        by_lens: mm, what one standard uncertainty of the focal length does to z. It is no part of
            the covariance: it moves camera and card together, and cancels where an edge is lifted.
    """

    name: str
    x: float
    y: float
    z: float
    slope_x: float
    slope_y: float
    covariance: Array
    points: int
    by_lens: float = 0.0

    @property
    def trusted(self) -> bool:
        """Whether it is seen well enough to say anything about a height."""
        return (
            self.points >= _LEAST_POINTS
            and float(np.sqrt(self.covariance[0, 0])) < _MOST_DOUBT_MM
            and float(np.hypot(self.slope_x, self.slope_y)) < _STEEPEST
        )


@dataclass(frozen=True)
class ButtonSeen:
    """How far a strap button stands out of the tail's wall, if its tip is at height z.

    Attributes:
        level: mm, were the tip on the mat.
        by_height: mm more for each mm of height; negative where the camera looks from the inside.
    """

    level: float
    by_height: float


@dataclass(frozen=True)
class EdgeHeight:
    """Height of a visible edge along x: at x0, rising with slope.

    Attributes:
        u: mm, standard uncertainty at x0 beyond what the solved scene carries.
        u_slope: the same for the slope.
        source: 'card 2', 'typed', 'assumed …'.
        known: False where it rests on custom alone.
    """

    x0: float
    z0: float
    slope: float
    u: float
    u_slope: float
    source: str
    known: bool

    def at(self, x: Array) -> Array:
        """(N,) mm at (N,) x."""
        value: Array = self.z0 + self.slope * (x - self.x0)
        return value

    def u_at(self, x: Array) -> Array:
        """(N,) mm, standard uncertainty."""
        value: Array = np.hypot(self.u, self.u_slope * (x - self.x0))
        return value


#: heights that go before cards and custom: part to (mm, standard uncertainty mm), or a whole edge
Given = Mapping[str, tuple[float, float] | EdgeHeight]


def typed_height(given: Given, part: str) -> tuple[float, float] | None:
    """Height and standard uncertainty of a part that was given as one number."""
    value = given.get(part)
    return None if value is None or isinstance(value, EdgeHeight) else value


#: sides need not be square to the face: on a tapered body some are square to the back that lies on
#: the bench. Of the lean reckoned with, this much may not be there, standard; a guess, no source
SQUARE_U = 0.5


@dataclass(frozen=True)
class PartEdges:
    """Upper and lower visible edge of a part; the same one where its side is round or thin.

    Sides are built square to the face they carry (common practice, no source), so where the face
    slopes the sides lean, and the lower edge stands a little along x from the upper.

    Attributes:
        each_level: the part is several things side by side, each of them level at the height that
            the line has at its middle: pegs, turned any way, while the box they are in slopes.
        upright: mm, by how much its sides are less round than usual: half the height over which
            they stand upright.
        square: how much of the lean there is that sides square to the face have.
        square_u: its standard uncertainty.
    """

    upper: EdgeHeight
    lower: EdgeHeight
    each_level: bool = False
    upright: float = 0.0
    square: float = 1.0
    square_u: float = SQUARE_U

    def lean(self, x: Array) -> Array:
        """(N,) mm along x from the upper edge to the lower one."""
        if self.upper is self.lower:
            return np.zeros(len(x))
        deep = np.maximum(self.upper.at(x) - self.lower.at(x), 0.0)
        lean: Array = self.square * self.upper.slope * deep
        return lean


def place_cards(
    scene: Scene, frame: Frame2D, thickness: float, like: Sequence[CardPlace] = ()
) -> list[CardPlace]:
    """Where each card lies, in the rough frame.

    Args:
        scene: solved, or moved along its uncertainty.
        frame: rough frame.
        thickness: mm, from what a card lies on up to its printed face.
        like: the cards of the unmoved scene, whose covariances are taken over.
    """
    known = {card.name: (card.covariance, card.by_lens) for card in like}
    placed = []
    for card in scene.cards:
        middle = card.to_mat(np.array([(card.panel.width / 2, card.panel.height / 2)]))[0]
        normal = card.mat_from_panel.rotation[:, 2]
        spot = frame.from_mat(middle[None, :2])[0]
        tilt = frame.turned_back(normal[None, :2])[0]
        doubt = known.get(card.panel.name) or _covariance(scene, card, frame, middle)
        placed.append(
            CardPlace(
                card.panel.name,
                float(spot[0]),
                float(spot[1]),
                float(middle[2]) - thickness,
                float(-tilt[0] / normal[2]),
                float(-tilt[1] / normal[2]),
                doubt[0],
                card.points,
                doubt[1],
            )
        )
    return placed


def _covariance(
    scene: Scene, card: PlacedPanel, frame: Frame2D, middle: Array
) -> tuple[Array, float]:
    """(2, 2) of the card's height at its middle and its slope along x, the focal length's share
    left out; and mm, that share of the height."""
    stem = card.panel.name
    wanted = [f"{stem} turn {a}" for a in "xyz"] + [f"{stem} shift {a}" for a in "xyz"]
    if not all(name in scene.parameters for name in wanted):
        return np.zeros((2, 2)), 0.0
    at = [scene.parameters.index(name) for name in wanted]
    block = scene.covariance[np.ix_(at, at)]
    by_lens = np.zeros(6)
    if "lens f" in scene.parameters:
        f = scene.parameters.index("lens f")
        by_lens = scene.covariance[at, f] / np.sqrt(scene.covariance[f, f])
        block = block - np.outer(by_lens, by_lens)
    normal = card.mat_from_panel.rotation[:, 2]
    arm = middle - card.mat_from_panel.translation
    axis = frame.turned(np.array([[1.0, 0.0]]))[0]
    by = np.zeros((2, 6))
    for k in range(3):
        turn = np.zeros(3)
        turn[k] = 1.0
        by[0, k] = np.cross(turn, arm)[2]
        moved = np.cross(turn, normal)
        # slope = -(n . axis) / n_z
        by[1, k] = -(moved[:2] @ axis) / normal[2] + (normal[:2] @ axis) * moved[2] / normal[2] ** 2
    by[0, 5] = 1.0
    return by @ block @ by.T, abs(float(by[0] @ by_lens))


def lens_share(cards: Sequence[CardPlace]) -> float:
    """By how much, relative, the focal length's doubt moves all heights that the photo tells."""
    return max((card.by_lens / card.z for card in cards if card.z > ON_THE_MAT_MM), default=0.0)


def cards_by_part(cards: Sequence[CardPlace], parts: Parts) -> dict[str, list[CardPlace]]:
    """Cards that lie on the instrument, by the part under them."""
    sorted_cards: dict[str, list[CardPlace]] = {"body": [], "neck": [], "headstock": []}
    for card in cards:
        inside = 0 <= card.x <= parts.length and abs(card.y) < 12 + float(
            parts.half_width_at(np.array([card.x]))[0]
        )
        if inside and card.z > ON_THE_MAT_MM and card.trusted:
            part = "neck" if _over_the_body(card, parts) else parts.part_at(card.x)
            sorted_cards[part].append(card)
    return sorted_cards


def _over_the_body(card: CardPlace, parts: Parts) -> bool:
    """Whether a card lies on the fretboard where that reaches over the body: in the middle between
    bridge and neck there is nothing else to lay it on."""
    if not _BOARD_FROM * parts.join < card.x < parts.join or parts.nut <= parts.join:
        return False
    return abs(card.y) < parts.board_half_width < _NARROWER * float(parts.half_width.max())


def edge_heights(
    parts: Parts,
    cards: Sequence[CardPlace],
    typed: Given,
    button: ButtonSeen | None = None,
) -> dict[str, PartEdges]:
    """The height of every part's visible edges.

    Args:
        parts: the split.
        cards: from `place_cards`.
        typed: part to (height mm, standard uncertainty mm).
        button: what a photo says of the strap button, if it does.

    Returns:
        part to edges, for body, neck, headstock, tuners and both kinds of strap button.
    """
    by_part = cards_by_part(cards, parts)
    body, arch = _body(parts, by_part["body"], typed)
    sides = _sides(body, arch, typed, parts)
    # on a round back the whole instrument tips, and neck and head with it
    tip = body.slope if sides.lower is sides.upper else 0.0
    neck = _neck(parts, by_part["neck"], body, tip, arched=arch > 0)
    neck = _typed("neck", typed, neck, (parts.join + parts.nut) / 2)
    usual = _PEGBOX_SLOPE if arch > 0 else _head_slope(sides, parts)
    head = _headstock(parts, by_part["headstock"], neck, tip, usual)
    head = _typed("headstock", typed, head, (parts.nut + parts.length) / 2)
    middle = body.at(np.array([0.0]))[0]
    along = (parts.nut + parts.length) / 2 if parts.tuners_middle is None else parts.tuners_middle
    pegs = arch > 0 and _has_pegbox(parts)
    if pegs:
        tuners = _below(head, _PEGS_BELOW_EDGE, "pegs")
    else:
        width = 2 * float(parts.half_width_at(np.array([along]))[0])
        below = float(np.interp(width, _HEAD_WIDTHS, _TUNERS_BELOW_FACE))
        tuners = _below(head, (below, _TUNERS_STRAY), "tuners")
    return {
        "body": sides,
        "neck": PartEdges(neck, _below(neck, _NECK_EDGE_DROP, "neck side")),
        "headstock": PartEdges(head, _below(head, _HEADSTOCK_THICKNESS, "headstock thickness")),
        "tuners": replace(_single("tuners", typed, tuners, along), each_level=pegs),
        "button": _single(
            "button", typed, _strap_button(sides, float(middle), button, pin=parts.cornered), 0.0
        ),
        SIDE_BUTTON: _single(SIDE_BUTTON, typed, _side_button(sides), parts.join),
    }


def _has_pegbox(parts: Parts) -> bool:
    """Whether the headstock is as narrow as the neck that it goes on from."""
    head = parts.half_width_at(np.arange(parts.nut + 1.0, parts.length))
    nut = float(parts.half_width_at(np.array([parts.nut - _BEFORE_THE_NUT_MM]))[0])
    return len(head) > 0 and float(np.median(head)) < _PEGBOX_OF_NUT * nut


def _strap_button(
    sides: PartEdges, rim: float, seen: ButtonSeen | None, *, pin: bool
) -> EdgeHeight:
    """Half way up a wall; a round back has its tail block right below the rim. Where a photo shows
    how far it would stand out, the usual length of a button weighs in."""
    share, words = 0.5, "assumed half way up the side"
    if sides.lower is sides.upper:
        share, words = _ROUND_SHARE, "assumed a little below the rim"
    # an arched back's edge does not lie on the bench
    foot = 0.0 if sides.lower is sides.upper else float(sides.lower.at(np.array([0.0]))[0])
    z, u = foot + share * (rim - foot), max(_BUTTON_STRAYS * rim, _LEAST_BUTTON_U)
    if seen is not None and abs(seen.by_height) > 1e-3:
        length, u_length = _PIN_LENGTH if pin else _BUTTON_LENGTH
        by_length = (length - seen.level) / seen.by_height
        weight = (seen.by_height * u / u_length) ** 2
        z, u = (z + weight * by_length) / (1 + weight), u / float(np.sqrt(1 + weight))
        if weight > 1:
            words = f"assumed so that a button of the usual {length:.0f} mm is seen"
    return EdgeHeight(0.0, float(np.clip(z, 0.0, rim)), 0.0, u, 0.0, words, False)


def _side_button(sides: PartEdges) -> EdgeHeight:
    """Half way up the wall where it is, or right below the rim of a round back."""
    rim, foot = sides.upper, sides.lower
    u = max(_BUTTON_STRAYS * rim.z0, _LEAST_BUTTON_U)
    if rim is foot:
        words = "assumed a little below the rim"
        return replace(rim, z0=_ROUND_SHARE * rim.z0, u=u, source=words, known=False)
    below = float(foot.at(np.array([rim.x0]))[0])
    middle, slope = (rim.z0 + below) / 2, (rim.slope + foot.slope) / 2
    return EdgeHeight(rim.x0, middle, slope, u, 0.0, "assumed half way up the side", False)


def _typed(part: str, typed: Given, otherwise: EdgeHeight, x: float) -> EdgeHeight:
    """A part's edge through the height that was typed for its middle, else as it would be.

    A rule is set to one place; which way the edge slopes from there is still for cards and custom.
    """
    if part not in typed:
        return otherwise
    given = typed[part]
    if isinstance(given, EdgeHeight):
        return given
    height, u = given
    u_slope = max(otherwise.u_slope, 0.01)
    return EdgeHeight(x, height, otherwise.slope, u, u_slope, TYPED, True)


def _single(part: str, typed: Given, otherwise: EdgeHeight, x: float) -> PartEdges:
    edge = _typed(part, typed, otherwise, x)
    return PartEdges(edge, edge)


def _below(edge: EdgeHeight, drop: tuple[float, float], word: str) -> EdgeHeight:
    """What lies so far, mm give or take, square to the face, below its edge."""
    return EdgeHeight(
        edge.x0,
        edge.z0 - drop[0] * float(np.hypot(1.0, edge.slope)),
        edge.slope,
        float(np.hypot(edge.u, drop[1])),
        edge.u_slope,
        f"{edge.source}, less an assumed {word} of {drop[0]:.0f} mm",
        False,
    )


def _body(parts: Parts, cards: Sequence[CardPlace], typed: Given) -> tuple[EdgeHeight, float]:
    """The top rim, and how high an arch was seen (0 for a flat top)."""
    middle = parts.join / 2
    arch = 0.0
    heights: list[tuple[CardPlace, float, float]] = []
    doubts: list[float] = []
    for card in cards:
        half = float(parts.half_width_at(np.array([card.x]))[0])
        outward_fall = -np.sign(card.y) * card.slope_y
        u = 0.35
        drop = 0.0
        if abs(card.y) > 12.0 and outward_fall > _ARCHED and half > abs(card.y):
            # z = rim + a (1 - (y / half)²): the fall under the card gives a
            a = outward_fall * half**2 / (2 * abs(card.y))
            drop, doubt = _below_slope(a * (1 - (card.y / half) ** 2), card, parts)
            arch = max(arch, a)
            u = float(np.hypot(u, _ARCH_DIFFERS * doubt))
            doubts.append(doubt)
        heights.append((card, card.z - drop, u))
    if parts.cornered and not doubts:
        arch = _usual_arch(parts)
        return _typed("body", typed, _rim_below_arch(parts, cards, arch, middle), middle), arch
    rim = _rim_by_cards(parts, heights, arch, middle)
    if doubts:
        # all cards alike: those with a large fall have less say in the line, so this is on the safe
        # side
        shared = float(np.sqrt(1 - _ARCH_DIFFERS**2)) * sum(doubts) / len(cards)
        rim = replace(rim, u=float(np.hypot(rim.u, shared)))
    return _typed("body", typed, rim, middle), arch


def _usual_arch(parts: Parts) -> float:
    """How high the arch of a body with the violin family's corners usually is, mm."""
    return _ARCH_OF_HALF * float(parts.half_width.max())


def _below_usual(card: CardPlace, parts: Parts) -> float:
    """How much lower than a card the rim is below the usual arch of such a body, mm."""
    half = max(float(parts.half_width_at(np.array([card.x]))[0]), 1.0)
    return _ARCH_ALONG * _usual_arch(parts) * max(1 - (card.y / half) ** 2, 0.0)


def _below_slope(fall: float, card: CardPlace, parts: Parts) -> tuple[float, float]:
    """How much lower than a card the rim is, and the doubt of it, mm, by what a parabola through
    the slope under it makes; where corners tell how high an arch is, that weighs in."""
    drop, u = _ARCH_SHARE * fall, _ARCH_SHARE_U * fall
    usual = _below_usual(card, parts) if parts.cornered else 0.0
    if usual <= 0 or u <= 0:
        return drop, u
    strays = _ARCH_STRAYS * usual
    weight = (u / strays) ** 2
    return (drop + weight * usual) / (1 + weight), u / float(np.sqrt(1 + weight))


def _rim_below_arch(
    parts: Parts, cards: Sequence[CardPlace], arch: float, middle: float
) -> EdgeHeight:
    """The top rim where the body's corners say that it is arched, so many mm usually, and no card
    on it lies where the arch falls."""
    drops = [_below_usual(card, parts) for card in cards]
    heights = [(card, card.z - drop, 0.35) for card, drop in zip(cards, drops, strict=True)]
    rim = _rim_by_cards(parts, heights, arch, middle)
    if not cards:
        return rim
    # one instrument's arch is of one kind: cards share the doubt
    u = float(np.hypot(rim.u, _ARCH_STRAYS * sum(drops) / len(drops)))
    names = " and ".join(card.name for card in cards)
    words = f"{names}, less an arch of {arch:.0f} mm that its corners make likely"
    return replace(rim, u=u, source=words, known=False)


def _rim_by_cards(
    parts: Parts, heights: Sequence[tuple[CardPlace, float, float]], arch: float, middle: float
) -> EdgeHeight:
    """The top rim by what cards say of it: (card, height of the rim beside it, its u), mm."""
    if not heights:
        widest = 2 * float(parts.half_width.max())
        guess = _BODY_OF_WIDTH * widest
        return EdgeHeight(middle, guess, 0.0, 0.4 * guess, 0.0, "assumed from its width", False)
    usual = _BODY_OF_WIDTH * 2 * float(parts.half_width.max())

    def solved(tips: float) -> tuple[float, float, float, float, float]:
        # one line for all cards; under an arch a card's own slope is the arch's
        line = _Line(middle)
        line.believe_slope(0.0, tips)
        line.believe_height(usual, 0.5 * usual)
        for card, z, u in heights:
            line.see(card, z, u, 0.006 if arch == 0 else None)
        return line.solved()

    z_pivot, slope, pivot, u_pivot, u_slope = solved(_FLAT_TIPS if arch == 0 else _ARCHED_TIPS)
    if arch == 0 and abs(slope) > _STEEP_FOR_FLAT:
        z_pivot, slope, pivot, u_pivot, u_slope = solved(_ROUND_TIPS)
    names = " and ".join(card.name for card, _, _ in heights)
    if arch > 0:
        names += ", less the arch seen under it"
    return EdgeHeight(pivot, z_pivot, slope, max(u_pivot, 0.4), u_slope, names, True)


def _sides(body: EdgeHeight, arch: float, typed: Given, parts: Parts) -> PartEdges:
    """Top rim and back rim, the same one on a round back: it has no wall to look at."""
    middle = parts.join / 2
    high = float(body.at(np.array([middle]))[0]) if body.known else 0.0
    deep, steep = high / (_DEEP_FOR_FLAT * parts.join), abs(body.slope) / _STEEP_FOR_FLAT
    is_round = max(deep, steep) > 1 or float(np.hypot(deep, steep)) > _STEEP_AND_DEEP
    if "back" not in typed and arch == 0 and is_round:
        return PartEdges(body, body)
    return PartEdges(body, _back(arch, typed, body, middle))


def _back(arch: float, typed: Given, body: EdgeHeight, middle: float) -> EdgeHeight:
    back = EdgeHeight(0.0, 1.0, 0.0, 1.2, 0.0, "assumed flat on the bench", True)
    if arch > 0:
        # common practice, no source: a back is arched about as much as its top above an edge some
        # 4 mm thick, and the ribs between them are about as high all round: it lies on its middle,
        # and tips as its top does
        u_slope = float(np.hypot(body.u_slope, _RIBS_TAPER))
        words = "assumed arched like the top"
        back = EdgeHeight(middle, arch + _HALF_EDGE, body.slope, 4.0, u_slope, words, False)
    return _typed("back", typed, back, middle)


def _neck(
    parts: Parts, cards: Sequence[CardPlace], body: EdgeHeight, tip: float, arched: bool
) -> EdgeHeight:
    """The fretboard's edge, by its cards or a little above the body."""
    middle = (parts.join + parts.nut) / 2
    if not cards:
        over, u = _FINGERBOARD_OVER_RIM if arched else _FRETBOARD_OVER_BODY
        slope, u_slope = _FINGERBOARD_SLOPE if arched else (0.0, 0.02)
        z = float(body.at(np.array([parts.join]))[0]) + over
        return EdgeHeight(
            parts.join,
            z,
            slope + tip,
            float(np.hypot(body.u, u)),
            u_slope,
            "assumed a little above the body",
            False,
        )
    over, u = _CARD_OVER_FRETBOARD
    line = _Line(middle)
    line.believe_slope(tip, 0.02)  # a fretboard lies nearly level
    for card in cards:
        line.see(card, card.z, 0.3, 0.01)
    z, slope, pivot, u_line, u_slope = line.solved()
    names = " and ".join(c.name for c in cards)
    return EdgeHeight(pivot, z - over, slope, float(np.hypot(u, u_line)), u_slope, names, True)


def _head_slope(body: PartEdges, parts: Parts) -> tuple[float, float]:
    """How far the headstock of such a body usually falls away, and how far that strays."""
    high = float(body.upper.at(np.array([parts.join / 2]))[0])
    # what has a round back is built up, however low
    solid = 0.0 if body.lower is body.upper else share_solid(high)
    level, tilted = np.array(_SLAB_HEAD_SLOPE), np.array(_SHELL_HEAD_SLOPE)
    slope, u_slope = tilted + solid * (level - tilted)
    return float(slope), float(u_slope)


def _headstock(
    parts: Parts,
    cards: Sequence[CardPlace],
    neck: EdgeHeight,
    tip: float,
    usual: tuple[float, float],
) -> EdgeHeight:
    """The headstock's face, by its cards or tilted as usual: its slope and how far that strays."""
    at_nut = float(neck.at(np.array([parts.nut]))[0])
    slope, u_slope = usual
    if not cards:
        below, u = _FACE_BELOW_FRETBOARD
        return EdgeHeight(
            parts.nut,
            at_nut - below,
            slope + tip,
            float(np.hypot(neck.u, u)),
            u_slope,
            "assumed tilted a little",
            False,
        )
    line = _Line(parts.nut)
    line.believe_slope(tip + slope, 0.15)
    if neck.known:
        below, u = _FACE_BELOW_FRETBOARD
        line.believe_height(at_nut - below, float(np.hypot(neck.u, u)))
    for card in cards:
        line.see(card, card.z, 0.3, 0.006)
    z, slope, pivot, u_line, u_slope = line.solved()
    names = " and ".join(c.name for c in cards)
    return EdgeHeight(pivot, z, slope, max(u_line, 0.3), u_slope, names, True)


class _Line:
    """A straight line z(x) from cards and beliefs, by weighted least squares."""

    def __init__(self, x0: float) -> None:
        self.x0 = x0
        self.gram = np.zeros((2, 2))
        self.right = np.zeros(2)

    def _add(self, design: Array, values: Array, covariance: Array) -> None:
        weight = np.linalg.inv(covariance)
        self.gram += design.T @ weight @ design
        self.right += design.T @ weight @ values

    def believe_slope(self, slope: float, u: float) -> None:
        self._add(np.array([[0.0, 1.0]]), np.array([slope]), np.array([[u * u]]))

    def believe_height(self, z: float, u: float) -> None:
        """Height at x0."""
        self._add(np.array([[1.0, 0.0]]), np.array([z]), np.array([[u * u]]))

    def see(self, card: CardPlace, z: float, u: float, u_slope: float | None) -> None:
        """A card's height and slope; u and u_slope are how truly it lies. None: height only."""
        height = [1.0, card.x - self.x0]
        if u_slope is None:
            self._add(
                np.array([height]), np.array([z]), np.array([[card.covariance[0, 0] + u * u]])
            )
            return
        noise = card.covariance + np.diag([u * u, u_slope * u_slope])
        self._add(np.array([height, [0.0, 1.0]]), np.array([z, card.slope_x]), noise)

    def solved(self) -> tuple[float, float, float, float, float]:
        """z at the pivot, slope, the pivot's x, u of z there, u of the slope.

        At the pivot height and slope are not tied to each other.
        """
        covariance = np.linalg.inv(self.gram)
        z0, slope = covariance @ self.right
        shift = -covariance[0, 1] / covariance[1, 1]
        u = float(np.sqrt(max(covariance[0, 0] - covariance[0, 1] ** 2 / covariance[1, 1], 0.0)))
        return (
            float(z0 + slope * shift),
            float(slope),
            float(self.x0 + shift),
            u,
            float(np.sqrt(covariance[1, 1])),
        )
