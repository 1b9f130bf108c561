"""A measurement's numbers held against the truth: error and stated u95 of each, by kind."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from profiler.target.card import THICKNESS_MM, card_panels
from tests.alignment import outline_error

#: our stations and the truth's word for each
STATIONS = {
    "lower_bout": "lower bout",
    "waist": "waist",
    "upper_bout": "upper bout",
    "nut": "nut",
    "tuners": "headstock",
}
#: kinds of numbers, in the table's order
BUTTON = "length, told: a button may be hidden"
KINDS = ("length", BUTTON, "width", "widths at stations", "card heights", "outline points")


@dataclass(frozen=True)
class Held:
    """One number, or all points of an outline.

    Attributes:
        kind: see `KINDS`.
        name: of the number within its kind.
        errors: mm, measured less true; of outline points without sign.
        u95: mm, as stated, of each.
        mostly: what its u95 is made of, as stated.
    """

    kind: str
    name: str
    errors: np.ndarray[Any, np.dtype[np.float64]]
    u95: np.ndarray[Any, np.dtype[np.float64]]
    mostly: str = ""

    @property
    def inside(self) -> float:
        """Part of them that u95 holds."""
        return float((np.abs(self.errors) <= self.u95).mean())


def held(record: Mapping[str, Any], truth: Mapping[str, Any]) -> list[Held]:
    """Everything that can be compared."""
    return [*_numbers(record, truth), *_cards(record, truth), _outline(record, truth)]


def _one(kind: str, name: str, quantity: Mapping[str, Any], true: float) -> Held:
    return Held(
        kind,
        name,
        np.array([quantity["value"] - true]),
        np.array([quantity["u95"]]),
        quantity.get("mostly", ""),
    )


def _numbers(record: Mapping[str, Any], truth: Mapping[str, Any]) -> Iterator[Held]:
    for name in ("length", "width"):
        if record["envelope"][name]["value"] is not None:
            kind = BUTTON if name == "length" and _without_a_button(record) else name
            yield _one(kind, name, record["envelope"][name], truth[name])
    for name, word in STATIONS.items():
        mine, true = record["widths"].get(name), truth["widths"].get(word)
        if true is None or not mine or mine["value"] is None:
            continue
        # from the outermost button to the outermost one, wherever along the head each is
        wide = _over_the_tuners(truth) if name == "tuners" else true["width"]
        yield _one("widths at stations", name, mine, wide)


def _without_a_button(record: Mapping[str, Any]) -> bool:
    """Whether it says that its length may lack a strap button; the truth's length has it."""
    return any(w["code"] == 402 and " short" in w["message"] for w in record["warnings"])


def _over_the_tuners(truth: Mapping[str, Any]) -> float:
    outline = np.array(truth["outline"])
    return float(np.ptp(outline[outline[:, 0] > truth["widths"]["nut"]["x"] + 5, 1]))


def _cards(record: Mapping[str, Any], truth: Mapping[str, Any]) -> Iterator[Held]:
    """How high what each card lies on is, in the card's middle."""
    panels = {panel.name: panel for panel in card_panels()}
    for card in record["cards"]:
        frame = truth["recipe"]["card_frames"].get(card["name"].split()[-1])
        if frame is None:
            continue
        panel, scale = panels[card["name"]], truth["recipe"]["scale"]
        middle = [panel.width / 2 * scale[0], panel.height / 2 * scale[1], 0.0, 1.0]
        true = float((np.array(frame) @ middle)[2]) - THICKNESS_MM
        plane = card["plane"]
        yield Held(
            "card heights",
            card["name"],
            np.array([plane["z"] - true]),
            np.array([plane["u95_z"]]),
        )


def _outline(record: Mapping[str, Any], truth: Mapping[str, Any]) -> Held:
    error = outline_error(np.array(record["outline"]), np.array(truth["outline"]))
    return Held("outline points", "outline", error.per_point, np.array(record["outline_u95"]))
