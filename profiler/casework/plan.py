"""The whole plan: instrument and wishes in, everything that is built from out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from profiler.casework.boards import Groove, box_boards
from profiler.casework.body import Body
from profiler.casework.covers import plan_covers
from profiler.casework.fingers import Fingers, Needs, hardware_needs, plan_fingers
from profiler.casework.fittings import Fittings, plan_fittings
from profiler.casework.grooves import GrooveSizes, groove_sizes
from profiler.casework.inside import Inside, inside_size, touching
from profiler.casework.mass import Weight, weigh
from profiler.casework.nesting import SheetPlan, lay_out
from profiler.casework.panels import Heights, Rabbet, heights, panel_size, plan_rabbet
from profiler.casework.pieces import Cut, Piece, Place
from profiler.casework.stations import Station, stations
from profiler.casework.storage import Compartment, find_compartments
from profiler.casework.trace import Size, Term, chosen, round_up
from profiler.casework.walls import plan_walls
from profiler.casework.wishes import SHEETS_AT_HAND, CaseWishes
from profiler.findings import Finding, Level
from profiler.units import MM_PER_INCH

#: slips that keep the saw cut open: how many, and their size, mm
SPACERS, SPACER_LENGTH_MM, SPACER_WIDTH_MM = 6, 2.5 * MM_PER_INCH, 0.75 * MM_PER_INCH


@dataclass(frozen=True)
class CasePlan:
    """One case.

    Attributes:
        body: the instrument.
        wishes: the maker's.
        inside: what was promised; `heights.inside` is what became of its depth.
        asked_lid, asked_base: heights that the hardware needs.
        fingers, rabbet, heights: the box.
        groove_sizes, grooves: of the walls.
        rooms: compartments.
        wall_height: None without compartments.
        pieces: the cut list.
        sheets: the layout; empty where nobody asked for it.
        fittings, weight, stations: the rest.
        at: where the instrument's tail and centreline lie, case frame, mm.
        findings: remarks.
    """

    body: Body
    wishes: CaseWishes
    inside: Inside
    asked_lid: Size
    asked_base: Size
    fingers: Fingers
    rabbet: Rabbet
    heights: Heights
    groove_sizes: GrooveSizes
    grooves: tuple[Groove, ...]
    rooms: tuple[Compartment, ...]
    wall_height: Size | None
    pieces: tuple[Piece, ...]
    sheets: tuple[SheetPlan, ...]
    fittings: Fittings
    weight: Weight
    stations: tuple[Station, ...]
    at: tuple[float, float]
    findings: tuple[Finding, ...]

    @property
    def outline(self) -> shapely.Polygon:
        """The instrument in the case frame."""
        return _moved(self.body.outline, self.at)

    def piece(self, name: str) -> Piece:
        """The piece of that name.

        Raises:
            KeyError: there is none.
        """
        for piece in self.pieces:
            if piece.name == name:
                return piece
        raise KeyError(name)


def plan_case(
    body: Body,
    wishes: CaseWishes,
    extra: Sequence[Piece] = (),
    with_sheets: bool = True,
    channels: Mapping[str, Sequence[Cut]] | None = None,
) -> CasePlan:
    """Plan a case.

    Args:
        body: the instrument.
        wishes: the maker's.
        extra: pieces that others planned, as cradles, in the case frame.
        with_sheets: whether to lay the pieces out on sheets.
        channels: that such pieces stand in, by the name of the piece they are cut into.

    Raises:
        RequestError: a wish that cannot be; the sentence names the nearest that can.
    """
    joints, hardware, step = wishes.joints, wishes.hardware, wishes.step
    t = wishes.boards.mm
    findings = list(touching(body, wishes.room))
    inside = inside_size(body, wishes.room, step)
    rabbet = plan_rabbet(t, wishes.panels.mm, joints, step)
    asked_lid, asked_base = hardware_needs(hardware)
    needs = Needs(
        deep=inside.deep.mm,
        rabbet_depth=rabbet.depth.mm,
        proud=joints.proud,
        kerf=joints.kerf,
        thickness=t,
        lid=asked_lid.mm,
        base=asked_base.mm,
        step=step,
    )
    fingers = plan_fingers(needs, joints.finger, joints.board_width, hardware.lid)
    high = heights(
        fingers.board_width.mm,
        rabbet.depth.mm,
        joints.proud,
        joints.kerf,
        fingers.lid_count * fingers.width.mm,
    )
    room = wishes.room
    at = (room.ends + room.lining + room.behind, inside.across.mm / 2)
    sizes, remarks = groove_sizes(wishes.boards, wishes.walls, rabbet, joints, step)
    findings += remarks
    rooms = _rooms(body, wishes, inside, at, findings)
    walls = plan_walls(
        rooms,
        inside,
        wishes.boards,
        wishes.walls,
        fingers,
        rabbet,
        sizes,
        wishes.storage.wall_gap,
    )
    covers = plan_covers(
        rooms, inside, rabbet, walls.height, wishes.boards, wishes.walls, wishes.storage
    )
    findings += covers.findings
    pieces = (
        *box_boards(inside, wishes.boards, fingers, rabbet, walls.grooves),
        *_panels(inside, wishes, fingers, rabbet),
        *walls.pieces,
        *covers.pieces,
        *extra,
        _spacers(joints.kerf, step),
    )
    channels = channels or {}
    pieces = tuple(
        replace(p, cuts=(*p.cuts, *channels[p.name])) if p.name in channels else p for p in pieces
    )
    weight = weigh(pieces, body, wishes, at, rabbet.depth.mm)
    if wishes.instrument_mass is None:
        findings.append(
            Finding(
                809,
                Level.NOTE,
                "The instrument's mass is not known, so the centre of gravity is the empty case's:"
                " give --mass, or hang the loaded case from a strap before you screw the handle"
                " on.",
                "handle",
            )
        )
    fittings = plan_fittings(
        hardware,
        pieces[0].length.mm,
        t,
        fingers.line.mm,
        fingers.kerf,
        (*walls.grooves, *_as_grooves(channels)),
        weight.centre[0],
        pieces[2].length.mm,
    )
    findings += fittings.findings
    return CasePlan(
        body=body,
        wishes=wishes,
        inside=inside,
        asked_lid=asked_lid,
        asked_base=asked_base,
        fingers=fingers,
        rabbet=rabbet,
        heights=high,
        groove_sizes=sizes,
        grooves=walls.grooves,
        rooms=rooms,
        wall_height=walls.height,
        pieces=pieces,
        sheets=_sheets(pieces, wishes) if with_sheets else (),
        fittings=fittings,
        weight=weight,
        stations=stations(body, wishes.room, t),
        at=at,
        findings=tuple(findings),
    )


def _as_grooves(channels: Mapping[str, Sequence[Cut]]) -> list[Groove]:
    """Channels in the long boards, for what must keep off them."""
    return [
        Groove(name.split()[0], c.box[0], c.box[3] - c.box[0], c.box[5], c.label)
        for name, cuts in channels.items()
        if name in ("front board", "back board")
        for c in cuts
    ]


def _rooms(
    body: Body,
    wishes: CaseWishes,
    inside: Inside,
    at: tuple[float, float],
    findings: list[Finding],
) -> tuple[Compartment, ...]:
    storage = wishes.storage
    if storage.sides == "none":
        return ()
    if storage.sides == "auto" and not body.has_neck:
        findings.append(
            Finding(
                810,
                Level.NOTE,
                "No compartments: only length and width were typed, so nobody knows what is free"
                " beside the neck. Give --body-length and --neck-width, or a measured job.",
                "compartments",
            )
        )
        return ()
    shape = _moved(body.outline, at).buffer(wishes.room.side + wishes.room.lining)
    rooms = find_compartments(
        shape, inside, storage, wishes.walls.mm, wishes.room.lining, wishes.step
    )
    if not rooms and storage.sides == "auto":
        findings.append(
            Finding(
                811,
                Level.NOTE,
                "No compartments: nothing useful is left beside the neck.",
                "compartments",
            )
        )
    return rooms


def _moved(shape: shapely.Polygon, by: tuple[float, float]) -> shapely.Polygon:
    moved: shapely.Polygon = shapely.transform(shape, lambda p: p + np.array(by))
    return moved


def _panels(
    inside: Inside, wishes: CaseWishes, fingers: Fingers, rabbet: Rabbet
) -> tuple[Piece, Piece]:
    length, width = panel_size(inside, rabbet, wishes.joints.panel_play)
    ledge = rabbet.width.mm - wishes.joints.panel_play / 2
    high = fingers.board_width.mm
    thick = wishes.panels.thickness
    bottom = Piece(
        "E",
        "bottom panel",
        "panels",
        length,
        width,
        thick,
        ends=("tail", "head"),
        # the marked face is the inside one
        places=(Place((-ledge, -ledge, rabbet.depth.mm), ("+x", "+y", "-z"), "base"),),
        note="round the corners to the bit that makes the rabbet, or chisel the rabbet square",
    )
    top = replace(
        bottom,
        mark="F",
        name="top panel",
        places=(Place((-ledge, -ledge, high - rabbet.depth.mm), ("+x", "+y", "+z"), "lid"),),
    )
    return bottom, top


def _spacers(kerf: float, step: float) -> Piece:
    return Piece(
        "X",
        "spacer, for the saw cut",
        "slips",
        chosen("spacer, length", round_up(SPACER_LENGTH_MM, step), "default"),
        chosen("spacer, width", round_up(SPACER_WIDTH_MM, step), "default"),
        chosen("spacer, thickness", kerf, "spacer", Term("saw cut", kerf)),
        grain="any",
        count=SPACERS,
        note="hard wood or card, as thick as the cut; does not stay in the case",
    )


def _sheets(pieces: Sequence[Piece], wishes: CaseWishes) -> tuple[SheetPlan, ...]:
    """One layout for each kind of sheet; panels and walls may come from the same."""
    kinds: dict[tuple[str, float], list[str]] = {}
    for stock in (wishes.boards, wishes.panels, wishes.walls, *wishes.others):
        kinds.setdefault((stock.name, round(stock.mm, 3)), []).append(stock.use)
    plans: list[SheetPlan] = []
    for (name, mm), uses in kinds.items():
        mine = [p for p in pieces if p.use in uses]
        at_hand = [s for use in uses for s in wishes.sheets.get(use, ())] or list(SHEETS_AT_HAND)
        plans += lay_out(mine, name, mm, at_hand, wishes.saw, wishes.trim)
    return tuple(plans)
