"""The order of work with its numbers, what one stop setting serves, and the cautions."""

from __future__ import annotations

from profiler.casework.pieces import Piece
from profiler.casework.plan import CasePlan
from profiler.casework.trace import Show

CAUTIONS = (
    "The machine maker's manual, the material's safety sheet and local rules come before this"
    " sheet. Work that needs a licence where you live is done by who holds it.",
    "Guards and riving knife stay on wherever the cut allows; push sticks, no gloves, no loose"
    " sleeves. Unplug before you change a blade or a bit.",
    "Small pieces (fillers, cleats, covers) are held in a jig or cut from a long strip, never by"
    " fingers near the blade.",
    "The last cuts free the lid: put the spacers into the cut and tape over them before you cut the"
    " fourth side, or the parts pinch the blade and are thrown.",
    "Feed a hand router against the turn of the bit: inside a frame clockwise, outside it"
    " anticlockwise, seen from above. Never climb-cut by hand.",
    "Plywood dust and glue dust harm the lungs: extraction and a mask made for it; glasses and"
    " hearing protection.",
    "Glue and spray give off vapours that burn and harm: fresh air, no flame, no sparks, gloves.",
    "Flocking fibres float and hang in the air, and as dust they can burn: mask, glasses, no flame;"
    " sweep up damp. Let solvents in glue, paint and flock dry out for days before an instrument"
    " lies in them.",
    "Small strong magnets: whoever swallows two needs a hospital at once, so glue them in and keep"
    " spares from children; keep them away from pacemakers and other implants.",
    "Handle, latches and hinges are to be rated for more than the loaded case weighs; through"
    " bolts or blocks behind them where screws would be too short. Try the handle low over"
    " something soft.",
)


def stop_notes(plan: CasePlan) -> tuple[str, ...]:
    """Grooves that one setting of the stop serves."""
    notes = []
    by_board: dict[str, list[float]] = {}
    lengths = {p.name.split()[0]: p.length.mm for p in plan.pieces[:4]}
    for g in plan.grooves:
        by_board.setdefault(g.board, []).append(g.u)
    front, back = sorted(by_board.get("front", [])), sorted(by_board.get("back", []))
    if front and len(front) == len(back) and _same(front, back):
        notes.append(
            "The grooves of front and back board lie at the same distances from the same end: one"
            " stop setting for both boards, head end against the stop, and the boards turned edge"
            " for edge so that the inside faces lie down."
        )
    elif front and back:
        notes.append(
            "The compartments differ, so front and back board are no mirror images: set the stop"
            " for each groove."
        )
    for name in ("head", "front", "back"):
        places = sorted(by_board.get(name, []))
        if len(places) < 2:
            continue
        width = plan.groove_sizes.width.mm
        mirrored = sorted(lengths[name] - u - width for u in places)
        if _same(places, mirrored):
            notes.append(
                f"The {name} board's grooves lie at the same distance from either end: one stop"
                " setting, then turn the board round."
            )
    return tuple(notes)


def _same(a: list[float], b: list[float]) -> bool:
    return all(abs(x - y) < 0.02 for x, y in zip(a, b, strict=True))


def order_of_work(plan: CasePlan, show: Show) -> tuple[str, ...]:
    """Numbered steps, each with the numbers it needs."""
    f, w = plan.fingers, plan.wishes
    lid_edge = f.board_width.mm - f.line.mm - f.kerf
    long, end = plan.piece("front board"), plan.piece("tail board")
    steps = [
        f"Measure the sheets in four places. This plan counts on {show(w.boards.mm)} for the"
        f" boards, {show(w.panels.mm)} for the panels, {show(w.walls.mm)} for the walls. If yours"
        " differ, have the plan made again with --boards-actual and the like before you cut.",
        f"Cut the four boards: A and B {show(long.length.mm)} long, C and D {show(end.length.mm)},"
        f" all {show(f.board_width.mm)} wide. Mark inside faces, lower edges and the named ends.",
    ]
    if plan.grooves:
        steps.append(
            f"Grooves, before the fingers: {show(plan.groove_sizes.width.mm)} wide,"
            f" {show(plan.groove_sizes.board_depth.mm)} deep, at the distances on the board pages."
            " Try the width in scrap: the wall slides in by hand. " + " ".join(stop_notes(plan))
        )
    steps += [
        f"Draw the saw cut on every board: it starts {show(f.line.mm)} above the lower edge and is"
        f" {show(f.kerf)} wide.",
        f"Fingers, before any glue: {f.count} of {show(f.width.mm)}; A and B begin with a finger,"
        f" C and D with a socket. Index from the lower edge up to the saw cut"
        f" ({f.base_count} fingers), then turn the board over and index from the upper edge"
        f" ({f.lid_count}). What the saw will take, {show(f.kerf)}, stays with the finger above the"
        " cut; where a socket lies there, open it that much wider. Try scrap until two boards go"
        " together with a light tap.",
        "Dry fit all four boards; lay both diagonals off: they must be equal. Check that the"
        f" inside is {show(plan.inside.along.mm)} × {show(plan.inside.across.mm)}.",
        "Sand the inside faces now; later the corners are out of reach.",
        "Glue the box, clamp it square on a flat table, wipe glue out of the grooves.",
        f"Rabbets, with a bearing bit round the inside of both edges: {show(plan.rabbet.width.mm)}"
        f" wide, {show(plan.rabbet.depth.mm)} deep, in several passes. Corners keep the bit's"
        f" radius, {show(w.joints.corner_radius)}: round the panels to it, or chisel the corners"
        " square.",
        f"Panels E and F, {show(plan.piece('top panel').length.mm)} ×"
        f" {show(plan.piece('top panel').width.mm)}: dry fit, then glue to ledge and lip. "
        + (
            f"They stand {show(plan.rabbet.proud)} proud; round that over once dry."
            if plan.rabbet.proud
            else "They end flush; trim what stands out."
        ),
        "Trim fingers and edges flush and sand the outside, while the box is still whole.",
        f"Saw the lid off: fence {show(lid_edge + plan.rabbet.proud)} from the top. Both long sides"
        f" first, then one end, with the spacers X ({show(f.kerf)} thick) in the cut and taped"
        " across, then the last end. The closed case is then"
        f" {show(plan.heights.outside.mm)} high and {show(plan.heights.inside.mm)} deep inside.",
    ]
    if plan.rooms and plan.wall_height is not None:
        steps.append(
            f"Walls, {show(plan.wall_height.mm)} high: slide them into their grooves dry, lay the"
            " instrument in with its lining held beside it, then glue. Glue the fillers into the"
            " grooves of the lid and plane them flush."
        )
        if any(p.name == "cover" for p in plan.pieces):
            steps.append(_covers(plan, show))
    cradle = [p for p in plan.pieces if p.profile]
    if cradle:
        steps.append(_cradle(plan, cradle, show))
    for s in plan.stations if not cradle else ():
        if s.name == "nut":
            steps.append(
                f"Neck rest and other cradle pieces stand on the floor; the instrument's underside"
                f" is {show(s.lift.mm)} above it. The nut lies {show(s.x.mm)} from the tail"
                " board's inside face."
            )
    steps.append(_lining(plan, show))
    steps.append(_hardware(plan, show))
    return tuple(steps)


def _cradle(plan: CasePlan, cradle: list[Piece], show: Show) -> str:
    places = "; ".join(f"{p.mark} {p.name} {show(p.places[0].origin[0])}" for p in cradle)
    room = plan.wishes.room
    loaded = room.foam if room.foam_loaded is None else room.foam_loaded
    return (
        "Cradle pieces: cut them to their full-size sheets (cradle.pdf in this folder), line them,"
        f" and stand them with their tail faces or tail ends at these distances from the tail"
        f" board's inside face: {places}. Before any glue lay the instrument in, on"
        f" {show(room.foam)} of foam, of which {show(loaded)} are left under its weight: it goes in"
        " without force, and neck and body bear together."
    )


def _covers(plan: CasePlan, show: Show) -> str:
    s = plan.wishes.storage
    cover = plan.piece("cover")
    words = (
        f"Cleats flush with the ends of each compartment, upper face {show(cover.thickness.mm)}"
        " below the walls' upper edge; covers lie on them, level with the walls."
    )
    if s.closure == "hole":
        return words + " Bore the finger hole before you cut the cover out of its strip."
    return (
        f"{words} Screw a washer ({show(s.washer_inner)} / {show(s.washer_outer)}) to the middle of"
        f" each cleat, sunk flush, and let the magnet ({show(s.magnet)}) into the cover's underside"
        f" {show(cover.extra[0].mm)} to the side of the washer's middle, so that it bears on the"
        " ring: over the hole it slides off. Glue a ribbon under the cover to lift it by."
    )


def _lining(plan: CasePlan, show: Show) -> str:
    room = plan.wishes.room
    when = (
        "The inside was lined flat before glue-up; mend the corners now."
        if room.lining_now
        else "Lining last."
    )
    return (
        f"{when} {show(room.lining)} on walls, boards and lid, {show(room.foam)} of foam under the"
        f" instrument: all sizes count on that. Then {show(room.side)} are left on either side,"
        f" {show(room.ends)} at either end and at least {show(room.above)} above."
    )


def _hardware(plan: CasePlan, show: Show) -> str:
    items = plan.fittings.items
    foot = next(f for f in items if f.kind == "foot")
    places = "; ".join(
        f"{kind} {' and '.join(show(f.u.mm) for f in items if f.kind == kind)}"
        for kind in ("latch", "hinge", "handle")
        if any(f.kind == kind for f in items)
    )
    return (
        f"Hardware, middles from the tail end of the board: {places}. Screws at most"
        f" {show(plan.fittings.screw.mm)} long. Feet below, {show(foot.u.mm)} from the end and"
        f" {show(foot.v)} from the side. Lay the instrument in, hang the case by a strap"
        " where the handle will be, and correct before you drill."
    )
