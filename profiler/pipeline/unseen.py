"""What photos from above cannot show, told with the millimetres that it may come to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from profiler.findings import Finding, Level
from profiler.instrument.propagation import less_certain
from profiler.instrument.record import Measurement
from profiler.optics.camera import Camera

#: the longest usual strap button; and from the rim down to the lowest place where one is put, as a
#: share of the rim's height; common practice, no source
_LONGEST_BUTTON_MM, _LOWEST_SHARE = 15.0, 0.7
#: less than this needs no word, mm
_LEAST_MM = 1.0
#: what the budget of a length calls it
HIDDEN_BUTTON = "a strap button that may be hidden"


def unseen(short: float | None, photos: int, aside: str = "") -> Finding:
    """What is hidden below the rim.

    Args:
        short: mm, from `hidden_button`; None where it is known whether there is a strap button.
        photos: how many looked from above.
        aside: the photo from the side that shows that there is none, '' for none.
    """
    one = photos == 1
    start = f"{'One photo' if one else 'Photos'} from above {'does' if one else 'do'} not see what"
    start += " is hidden below the rim: a back that bulges out further"
    if short is None:
        return Finding(402, Level.NOTE, f"{start}.")
    if aside:
        text = f"{start}. No strap button is seen at the tail in {aside}, which shows its place."
        return Finding(402, Level.NOTE, text)
    if short < _LEAST_MM:
        text = f"{start}. A strap button at the tail would have been seen: there is none."
        return Finding(402, Level.NOTE, text)
    text = (
        f"{start}, or a strap button: the length is without one, up to {np.ceil(short):.0f} mm"
        " short, and its ± holds that. Say --height button=0 if there is none, else take another"
        " photo from a step nearer to the tail."
    )
    return Finding(402, Level.CAUTION, text, "length")


def with_hidden_button(measurement: Measurement, short: float) -> Measurement:
    """The same, its length and the long side of its box as uncertain as a strap button that may be
    hidden makes them.

    Nothing says whether there is one, nor how far it stands out: all of what may be hidden, mm, is
    taken for the expanded uncertainty of that source.
    """
    if short < _LEAST_MM:
        return measurement
    longer, across = measurement.box
    return replace(
        measurement,
        length=less_certain(measurement.length, HIDDEN_BUTTON, short),
        box=(less_certain(longer, HIDDEN_BUTTON, short), across),
    )


def side_plates(measurement: Measurement) -> Finding | None:
    """What stands out of a slotted head's sides, whose height no photo from above tells; None where
    nothing does."""
    # loads SciPy, while the photo is already being looked at
    from profiler.outline.plates import on_side_plates

    outline, labels = np.asarray(measurement.outline), np.asarray(measurement.outline_part)
    plates = on_side_plates(outline, labels)
    if not plates.any():
        return None
    wide = float(np.ceil(np.asarray(measurement.outline_u95)[plates].max()))
    return Finding(
        513,
        Level.CAUTION,
        "The headstock's sides have bumps in a row. If they are the side plates and buttons of a"
        f" slotted head, they lie below its face by what is not known, and the outline may be"
        f" {wide:.0f} mm or more too wide there: lay a rule across the head before you cut.",
        "headstock",
    )


def button_is_seen(measurement: Measurement) -> bool:
    """Whether what stands out at the tail, if anything does, may be its strap button.

    What is measured to be as high as the rim is none: a saddle, a tailpiece's loop.
    """
    if "button" not in measurement.outline_part:
        return False
    at = {h.part: h for h in measurement.heights}
    button, body = at.get("button"), at.get("body")
    if button is None or body is None or button.source.startswith("assumed"):
        return True
    return (button.height.value or 0.0) < (body.height.value or 0.0)


def hidden_button(measurement: Measurement, cameras: Sequence[Camera]) -> float:
    """mm by which a strap button may stand out at the tail, unseen by all cameras.

    A camera over the body looks past the rim outward: what is lower by d may reach out by d times
    the slope of that line of sight and still be hidden.
    """
    rims = [h.height.value for h in measurement.heights if h.part == "body"]
    rim = rims[0] if rims and rims[0] is not None else 0.0
    slopes = []
    for camera in cameras:
        inward = float(measurement.frame.from_mat(camera.centre[None, :2])[0, 0])
        slopes.append(max(inward, 0.0) / max(float(camera.centre[2]) - rim, 1.0))
    return min(min(slopes) * _LOWEST_SHARE * rim, _LONGEST_BUTTON_MM)
