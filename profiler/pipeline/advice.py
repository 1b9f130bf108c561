"""Which one photo, card or reading would make the numbers better most."""

from __future__ import annotations

from collections import defaultdict

import numpy as np

from profiler.findings import Finding, Level
from profiler.instrument.record import Measurement, Quantity
from profiler.pipeline.unseen import HIDDEN_BUTTON

#: what budgets call what an outline's own shape says against it
JUMPS = "where the outline jumps aside"
UNLIKE_SIDES = "where the sides are not alike"

#: a gain below this is not worth a walk to the bench: part of a number's u95, and mm
_LEAST_GAIN, _LEAST_MM = 0.15, 0.1
_ANOTHER = "another photo from a step further {}, with nothing touched in between"
#: source to what helps against it; {photo} is another photo, where one helps
_CURES = {
    "the height of the body": "a card on the body near its edge, or --height body=…; or {photo}",
    "the height of the back's edge": "a rule held up beside the back's edge: --height back=…",
    "the height of the neck": "the height of the fretboard's edge: --height neck=…; or {photo}",
    "the height of the headstock": "a card on the headstock, or --height headstock=…; or {photo}",
    "the height of the tuners": "{photo}; or the height of the buttons' middle: --height tuners=…",
    "the height of the button": "{photo}; or one from the side, beside the tail (--side); or the"
    " height of its middle: --height button=…",
    "the height of the side-button": "{photo}; or the height of its middle: --height side-button=…",
    HIDDEN_BUTTON: "{photo}; or one from the side, beside the tail (--side); or, if there is no"
    " strap button, --height button=0",
    "how far the strap button stands out": "a rule from the button's end to the head, over all",
    "the lens": "'profiler calibrate', once for this phone",
    "the print scale": "reading both check bars again, to a tenth of a millimetre",
    "how high the cards are seen": "a larger card, or two far apart; or {photo}",
    "where the camera was": "{photo}",
    "how the sheets lie": "more of the mat in sight, or a mat on one large sheet",
    "how round the edge is": "a caliper over the widest place: photos alone go no further",
    "what bulges out below the rim": "a square held up to the side where it is widest, and to the"
    " tail: no photo from above sees that",
    "how upright the sides of the tuners are": "a rule across the tuner buttons, over all; or"
    " {photo}",
    "how the sides lean": "a rule from the tail to the head, over all: one photo from above does"
    " not see how the tail's side stands; or {photo}",
    "which edge is seen": "{photo}",
    JUMPS: "{photo}, in other light; or drawing the edge there on the page ('profiler serve')",
    UNLIKE_SIDES: "a rule across, where the sides are not alike; or {photo}",
    "the edge in the photo": "a photo from nearer, or in more even light",
}
#: where the other photo is best taken from
_WHERE = {
    "the height of the tuners": "towards the head",
    "the height of the headstock": "towards the head",
    "the height of the button": "towards the tail",
    HIDDEN_BUTTON: "towards the tail",
    # from beyond the neck's end of the body the shoulders' walls are seen from outside
    "how the sides lean": "towards the head",
}


def advice(measurement: Measurement) -> Finding | None:
    """What would help most, in words; None where nothing stands out.

    What a source costs is told by the budgets: by how much each number's u95 would shrink without
    it. The source with the largest sum of squares is named, with the number that it costs most.
    """
    numbers: dict[str, Quantity] = {
        "length": measurement.length,
        "width": measurement.width,
        **{f"width, {name.replace('_', ' ')}": q for name, q in measurement.widths.items()},
    }
    gains: dict[str, dict[str, float]] = defaultdict(dict)
    for name, q in numbers.items():
        for source, u95 in q.budget:
            if q.u95 and source in _CURES:
                left = float(np.sqrt(max(q.u95**2 - u95**2, 0.0)))
                if q.u95 - left > max(_LEAST_GAIN * q.u95, _LEAST_MM):
                    gains[source][name] = q.u95 - left
    if not gains:
        return None
    # squared: one number that is far out is worse than several that are nearly right
    source = max(gains, key=lambda s: sum(gain**2 for gain in gains[s].values()))
    name = max(gains[source], key=lambda n: gains[source][n])
    before = numbers[name].u95 or 0.0
    cure = _CURES[source].format(photo=_ANOTHER.format(_WHERE.get(source, "to one side")))
    return Finding(
        601,
        Level.NOTE,
        f"What would help most: {cure}{'' if cure.endswith('…') else '.'} The largest share of what"
        f" is uncertain is {source}: the"
        f" {name} is known to ± {before:.1f} mm, and to ± {before - gains[source][name]:.1f} mm"
        " without it.",
        name,
    )
