"""The rules that sizes come from, by name: one sentence each, with its source.

Where no source is named the rule is geometry. 'common practice, no source' is a fact of the trade.
"""

from __future__ import annotations

PRACTICE = "common practice, no source"

RULES: dict[str, str] = {
    "typed": "Typed by you.",
    "measured": "Measured from the photo.",
    "default": f"Taken where nothing was typed ({PRACTICE}).",
    "stock": "The sheet's actual thickness: measured by you, or else what the table holds.",
    "inside-along": "Instrument, plus clearance and lining at both ends.",
    "inside-across": "Instrument, plus clearance and lining on both sides.",
    "inside-deep": "Foam under the instrument, its thickest place with strings and bridge, room"
    " above, lining of the lid. Lid and base share it.",
    "board-length": "A board of a finger joint runs through at both ends: inside plus two"
    " thicknesses.",
    "board-width": "A whole, odd number of fingers, and the saw cut that parts the lid.",
    "finger": f"Near the stock's thickness ({PRACTICE}), so that an odd number of whole fingers"
    " gives the depth.",
    "inside-high": "Board width less both rabbets; before the lid is sawn off.",
    "inside-closed": "Board width less both rabbets and less the wood that the saw turns to dust.",
    "outside-high": "Board width plus what the two panels stand proud, less the saw cut.",
    "rabbet-width": f"About half of the board's thickness, so that a lip is left ({PRACTICE}).",
    "rabbet-depth": "The panel's actual thickness, less what stands proud.",
    "panel": "Inside plus the rabbet on both sides, less the play that lets the panel drop in.",
    "lid": "Whole fingers, at least as high as the hardware needs above the saw cut, plus what the"
    " panel stands proud.",
    "lid-needs": "The tallest upper leaf, and its clearance to the edge.",
    "base-needs": "The tallest lower leaf, and its clearance to the edge.",
    "base": "What is left: outside height before sawing, less lid and saw cut.",
    "line": "The saw cut starts where the base's last whole finger ends.",
    "kerf": "Width of the saw's cut, as typed; a full blade takes about 1/8 in.",
    "groove-width": "The wall's actual thickness and a little play.",
    "groove-depth": f"About a third of the board ({PRACTICE}); never deeper than the rabbet is"
    " wide, or it shows outside.",
    "groove-place": "From the end of the board, on its inside face.",
    "wall-length": "Between the faces it stands between, plus its tongue in each groove.",
    "wall-height": "From the floor to the saw cut, less the gap that keeps the lid off the wall.",
    "compartment": "The largest upright rectangle that is left beside the instrument with its"
    " clearance and lining, less walls and lining.",
    "filler": "What the wall leaves open of its groove.",
    "cover": "The compartment, less lining and a gap on each side.",
    "cover-gap": "Plywood hardly moves: a gap for the fingers to find.",
    "cover-season": "Width × coefficient × change in moisture content (USDA Wood Handbook,"
    " FPL-GTR-190, Table 13-5); the gap holds all of it.",
    "cleat": "As long as the compartment is wide; the cover lies on it, level with the wall.",
    "magnet": "The middle of the washer's ring: a quarter of inner and outer diameter together. A"
    f" magnet over the hole slides off ({PRACTICE}).",
    "spacer": "As thick as the saw cut, so that it cannot close on the blade during the last cuts"
    f" ({PRACTICE}).",
    "handle": "Over the centre of gravity, or as near to it as latches and grooves let it.",
    "fitting": f"A fifth from each end, moved off fingers, grooves and handle ({PRACTICE}).",
    "screw": f"Shorter than leaf and board together by 1 mm ({PRACTICE}).",
    "feet": f"Near the corners, clear of the fingers ({PRACTICE}).",
    "station": "Where the instrument was measured, counted from the tail board's inside.",
    "cradle": "Foam under the instrument: what stands on the floor carries it this high.",
    "cradle-lift": "The lining under the body, squeezed by the instrument's weight"
    f" ({PRACTICE} for how much it gives).",
    "cradle-station": "Where a section was measured, where the maker wants it, or where tuners"
    " leave room.",
    "cradle-notch": "Neck and body rest together, so that nothing twists the joint between them:"
    " the instrument's own height there, carried by the lining under the body, less the lining in"
    " the notch, both squeezed.",
    "cradle-free": "It guards and does not bear: the instrument's own height there, less lining and"
    " clearance.",
    "cradle-length": "Between the sides, less the play that lets it in, plus its tongues in"
    " grooves.",
    "cradle-height": "As much of the depth as the notch is to hold; what is let into the floor is"
    " added.",
    "cradle-block": "As far as there is firm wood between the body's true offset and the board"
    " behind it.",
    "cradle-layers": "Whole thicknesses of stock, up past half of the body's side.",
}
