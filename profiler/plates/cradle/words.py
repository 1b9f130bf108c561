"""The words on a cradle's sheets: what a piece is, how it is used, how it fits, the cautions."""

from __future__ import annotations

from profiler.casework.cradle.certainty import Certainty
from profiler.casework.cradle.check import Checked
from profiler.casework.cradle.linings import Contact, Lining
from profiler.casework.cradle.pieces import CradlePiece
from profiler.casework.trace import Show

CAUTIONS = (
    "Before cutting, lay a steel rule on the check bars, both ways. If they are not true, do not"
    " cut: print again at 100 %, or give the printer's correction.",
    "Dry-fit every piece with its lining in, in scrap first, and lower the instrument by hand: it"
    " goes in and out without force, and nothing touches but what is lined.",
    "Small pieces are held in a jig or cut from a larger board, never by fingers near the blade;"
    " short-grained horns break if they are pushed.",
    "Protect eyes, ears and lungs: glasses, and dust extraction or a mask; let glue and lining air"
    " for days before the instrument lies in them.",
    "The machine maker's manual, the glue's and the lining's sheets and local rules come first.",
)

STEPS = (
    "Cut paper or card roughly round a piece and glue it to the stock, its named face as the sheet"
    " says, the grain along the arrow.",
    "Cut along the thick line, on the waste side, and file down to it; glue a block's layers on"
    " each other. The thin line is the instrument itself as it will lie there.",
    "Line the notches, lay the foam for the body, set all pieces at their stations without glue and"
    " lower the instrument in.",
    "Glue, square to the case's centreline. A string over the crosses of all boards, left and"
    " right, runs straight along the case.",
)


def lining_words(contact: Contact, show: Show) -> str:
    """As 'felt 3, gives 15 %; 1 clearance'."""
    lining = contact.lining
    words = (
        "no lining"
        if lining.thickness == 0
        else f"{lining.kind} {show(lining.thickness)}, gives {100 * lining.give:.0f} %"
    )
    return words + (f", clearance {show(contact.clearance)}" if contact.clearance else "")


def under_the_body(lining: Lining, show: Show) -> str:
    """What all heights count on."""
    return (
        f"Heights count on {show(lining.thickness)} of {lining.kind} under the body,"
        f" {show(lining.loaded)} of it left under the instrument's weight."
    )


def stock_words(piece: CradlePiece, show: Show) -> str:
    """As '12 mm birch, 12 thick'."""
    count = f"{piece.layers} × " if piece.layers > 1 else ""
    return f"{count}{piece.stock}, {show(piece.thickness)} thick"


def joint_words(piece: CradlePiece) -> str:
    """How it is let in."""
    if not piece.upright:
        return "glued to floor and side board" + (f"; {piece.note}" if piece.note else "")
    return _LET_IN[piece.joint] + (f"; {piece.note}" if piece.note else "")


_LET_IN = {
    "glued": "glued between the sides, on the floor",
    "groove": "ends in grooves of the side boards, on the floor",
    "dado": "lower edge in a dado across the floor",
}


def fact_lines(
    piece: CradlePiece,
    show: Show,
    trace: float = 0.0,
    tool: float = 0.0,
    known: Certainty | None = None,
) -> list[str]:
    """What stands beside a piece on its sheet; `trace` and `tool` as in `outlines.Lines`,
    `known` how well its gaps are known."""
    lines = [
        f"Stock {stock_words(piece, show)}. Grain along the arrow."
        f" {'Drawn face looks to the tail' if piece.upright else 'Drawn face is up'};"
        f" {joint_words(piece)}.",
    ]
    where = piece.sizes[1]
    x = piece.sizes[0].mm
    way = "from" if x >= 0 else "behind"
    first = f"{show(abs(x))} {way} the instrument's tail to its middle"
    side = "its tail face" if piece.upright else "its tail end"
    lines.append(f"Station: {first}; {show(where.mm)} from the end board's inside to {side}.")
    role = "bears" if piece.contact.bears else "guards, nothing presses"
    words = f"Lining: {lining_words(piece.contact, show)} ({role})."
    if piece.slot is not None:
        words += f" In the slot: {lining_words(piece.slot, show)}."
    lines.append(words)
    if any(s.name.endswith("notch above the floor") for s in piece.sizes):
        notch = piece.size("notch above the floor")
        lines.append(
            f"Notch's lowest point {show(notch.mm)} above the floor; wood beside it"
            f" {show(piece.beside)}, under it {show(piece.under)}."
        )
    elif not piece.upright:
        lines.append(f"Height {show(piece.size('height').mm)}; thinnest wood {show(piece.beside)}.")
    else:
        lines.append(f"Height {show(piece.size('height').mm)}.")
    if piece.key == "tail":
        lines.append(
            f"Lay the instrument in with its tail {show(piece.contact.offset)} from this wood"
            f" ({show(piece.contact.clearance)} from the lining): all stations count from there."
        )
    if known is not None and not known.promised:
        why = f", mostly because of {known.mostly}" if known.mostly else ""
        lines.append(f"Gaps known to ± {show(known.worst)} only{why}: dry-fit before you glue.")
    if trace:
        lines.append(
            f"Blue dashes: {show(trace)} inside the cut. A template cut there guides a pencil or a"
            " bit whose middle, or whose cutting edge, is that far outside it."
        )
    if tool:
        lines.append(
            f"Red dashes: {show(tool)} outside the cut, where the middle of the tool runs; cut one"
            " line or the other, not both."
        )
    return lines


HEADS = (
    "piece",
    "",
    "below",
    "left",
    "right",
    "behind",
    "least gap",
    "lining meets",
    "presses",
    "touches / hangs",
)
SHARES = (0.0, 0.19, 0.265, 0.33, 0.395, 0.46, 0.535, 0.69, 0.79, 0.88)


def fit_rows(checked: Checked, show: Show) -> list[tuple[str, ...]]:
    """The fit table, a row for each piece."""
    rows = []
    for fit in checked.fit.pieces:
        chance = checked.chances[fit.piece.name]
        _, y, z = fit.tightest.at
        sides = (fit.below, fit.left, fit.right, fit.behind)
        side = "left" if y > 0.5 else "right" if y < -0.5 else "middle"
        other = chance.touches if chance.touches is not None else chance.hangs
        word = "touches" if chance.touches is not None else "hangs"
        rows.append(
            (
                fit.piece.name,
                "bears" if fit.piece.contact.bears else "guards",
                *("–" if v is None else show(v) for v in sides),
                f"{show(fit.tightest.gap)} ± {show(chance.u95)}, {side}, {show(z)} up",
                f"{show(fit.contact)}" if fit.contact else "nowhere",
                percent(chance.presses),
                "–" if other is None else f"{word} {percent(other)}",
            )
        )
    return rows


def percent(share: float) -> str:
    """Never a false nought."""
    if share < 0.001:
        return "< 0.1 %"
    return f"{100 * share:.1f} %" if share < 0.0995 else f"{100 * share:.0f} %"


def play_words(checked: Checked, show: Show) -> list[str]:
    """How far the instrument can move, in sentences."""
    play = checked.fit.play

    def until(mm: float | None) -> str:
        return "free (the case's own lining stops it)" if mm is None else show(mm)

    lines = [
        f"Room until a lining is met: to the tail {until(play.tail)}, to the head"
        f" {until(play.head)}, to the left {until(play.left)}, to the right {until(play.right)}.",
    ]
    if play.sink is not None:
        lines.append(
            f"Downwards the seats give {show(play.sink)} more before they are hard; upwards the"
            " instrument is free and the lid's lining holds it."
        )
    return lines
