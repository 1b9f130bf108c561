"""A recipe put together: printed sheets, the instrument on them, cards on it, light, cameras."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from profiler.jobs.records import cards_record, mat_record, record_bytes
from profiler.paper import Paper, paper_named
from profiler.target.card import card_bars
from profiler.target.mat import MatDesign, design_mat
from tests.studio import bodies, ground
from tests.studio.bodies.body import Body
from tests.studio.cards import lying_card
from tests.studio.light import window
from tests.studio.meshes import Part, rotation
from tests.studio.phone import held
from tests.studio.printing import printed_cards, printed_sheets
from tests.studio.recipe import Recipe, SheetTrouble
from tests.studio.tracer import CardFace, Quality, Tracer
from tests.studio.truth import outline_of

Array = NDArray[np.float64]

#: the topmost paper is this high, so the instrument rests there, mm
PAPER_TOP = 0.1


@dataclass(frozen=True)
class Stage:
    """A scene ready to photograph, with all that truth wants to know about it."""

    recipe: Recipe
    body: Body
    design: MatDesign
    #: None for a sheet that was not laid
    places: list[ground.SheetPlace | None]
    tracer: Tracer
    #: card number to (4, 4): printed mm on its face to the mat frame
    card_frames: dict[int, Array]


def design_of(recipe: Recipe) -> MatDesign:
    """The mat that the recipe asks for."""
    if recipe.paper == "roll":
        paper = Paper("roll", recipe.mat_height, recipe.mat_width)
        return MatDesign(paper, True, 1, 1, recipe.tint)
    return design_mat(paper_named(recipe.paper), recipe.mat_width, recipe.mat_height, recipe.tint)


def print_scale(recipe: Recipe, design: MatDesign) -> tuple[float, float]:
    """Printed over designed along a sheet's x and y; a turned sheet feeds along x."""
    across, along = recipe.scale
    return (along, across) if design.landscape else (across, along)


def stage(
    recipe: Recipe,
    quality: Quality,
    say: Callable[[str], None] = lambda _: None,
    body: Body | None = None,
    extra: tuple[list[Part], list[NDArray[np.uint8]]] = ([], []),
) -> Stage:
    """Build everything; the slow part is the light on the ground.

    Args:
        body: what lies on the mat, instead of the instrument that the recipe names.
        extra: what else stands there, mat frame, and the printed faces of the first of its parts.
    """
    rng = np.random.default_rng(recipe.seed)
    design = design_of(recipe)
    body = body or bodies.named(recipe.body)
    places = troubled(
        design,
        ground.uneven_places(design, rng, recipe.sheet_shift, recipe.sheet_turn),
        recipe.sheets,
    )
    sx, sy = print_scale(recipe, design)
    dpi = 300.0 if design.sheet_width * design.sheet_height < 3e5 else 200.0
    laid = ground.laid(
        design, places, printed_sheets(design, min(dpi, quality.dpi)), (sx, sy), recipe.bench
    )
    say(f"mat {design.columns} x {design.rows} sheets")
    turn = rotation("z", recipe.pose[2])
    shift = np.array([recipe.pose[0], recipe.pose[1], PAPER_TOP])
    parts: list[Part] = [p.moved(turn, shift) for p in body.parts]
    faces: dict[int, CardFace] = {}
    frames: dict[int, Array] = {}
    pictures = printed_cards(recipe.tint, 400.0)
    for put in recipe.cards:
        # cards are printed upright on the page, so across and along the feed are x and y
        mesh, frame = lying_card(
            put.number, body.places[put.place], recipe.scale, put.turn_deg, put.slide,
            pictures[put.number - 1].origin,
        )  # fmt: skip
        picture = pictures[put.number - 1]
        faces[len(parts)] = CardFace(put.number - 1, picture.dots, picture.height)
        parts.append(mesh.moved(turn, shift))
        whole = np.eye(4)
        whole[:3, :3], whole[:3, 3] = turn, shift
        frames[put.number] = whole @ frame
    if recipe.cards:
        cards = [p for p in parts if p.material == "card"]
        _cards_lie_free(body, recipe, cards, turn, shift)
    for k, face in enumerate(extra[1]):
        size = design_size(extra[0][k])
        dots = (face.shape[1] / size[0], face.shape[0] / size[1])
        faces[len(parts) + k] = CardFace(len(pictures) + k, dots, size[1])
    parts += extra[0]
    centre = (design.width / 2, design.height / 2)
    light = window(centre, **recipe.light)
    tracer = Tracer(
        parts, faces, ground.card_sheet([*(p.face for p in pictures), *extra[1]]), laid, light,
        quality, recipe.seed * 1000, body.burst, _extent(parts), recipe.phone.bend,
    )  # fmt: skip
    return Stage(recipe, body, design, places, tracer, frames)


def troubled(
    design: MatDesign,
    places: Sequence[ground.SheetPlace],
    troubles: Mapping[int, SheetTrouble],
) -> list[ground.SheetPlace | None]:
    """The places once what is the matter with single sheets has happened."""
    out: list[ground.SheetPlace | None] = list(places)
    for number, trouble in troubles.items():
        place = places[number - 1]
        if trouble.off is not None:
            x, y = design.origin(number - 1)
            dx, dy, degrees = trouble.off
            place = replace(place, x=x + dx, y=y + dy, degrees=degrees)
        place = replace(place, scale=trouble.scale, curl=trouble.curl, bare=trouble.covered)
        out[number - 1] = None if trouble.missing else place
    return out


def design_size(sheet: Part) -> tuple[float, float]:
    """Width and height of a sheet of paper that is a mesh of one rectangle, mm."""
    a, b, _, d = sheet.points[:4]
    return float(np.linalg.norm(b - a)), float(np.linalg.norm(d - a))


def _extent(parts: list[Part]) -> tuple[Array, Array]:
    """Lower left and upper right corner of what casts shadows, mm."""
    points = np.vstack([p.points[:, :2] for p in parts])
    return points.min(axis=0), points.max(axis=0)


def _cards_lie_free(
    body: Body, recipe: Recipe, cards: list[Part], turn: Array, shift: Array
) -> None:
    """No card sticks out over the instrument's outline or lies on another.

    Raises:
        ValueError: one does.
    """
    outline = outline_of(body)
    lying = []
    for card in cards:
        flat = ((card.points[:4] - shift) @ turn)[:, :2]
        lying.append(shapely.Polygon(flat))
        # what is narrower than a millimetre, as between a gauge's needles, is no gap for a card
        if not outline.buffer(0.5).buffer(-0.8).contains(lying[-1]):
            raise ValueError(f"{recipe.name}: {card.name} sticks out over the outline")
    for i, a in enumerate(lying):
        for b in lying[:i]:
            if a.intersects(b):
                raise ValueError(f"{recipe.name}: two cards overlap")


def readings(recipe: Recipe, design: MatDesign) -> dict[str, dict[str, float]]:
    """What a user reads off the check bars with a rule, mm."""
    sx, sy = print_scale(recipe, design)
    bx, by = card_bars()

    def read(length: float) -> float:
        return round(round(length / recipe.rule_step) * recipe.rule_step, 3)

    return {
        "mat": {
            "bar_x_designed": design.bar_x.length,
            "bar_y_designed": design.bar_y.length,
            "bar_x": read(design.bar_x.length * sx),
            "bar_y": read(design.bar_y.length * sy),
        },
        "cards": {
            "bar_x_designed": bx.length,
            "bar_y_designed": by.length,
            "bar_x": read(bx.length * recipe.scale[0]),
            "bar_y": read(by.length * recipe.scale[1]),
        },
    }


def user_records(recipe: Recipe, design: MatDesign) -> dict[str, bytes]:
    """`mat.json` and `cards.json` as the user keeps them beside the photos."""
    read = readings(recipe, design)
    mat, cards = read["mat"], read["cards"]
    return {
        "mat.json": record_bytes(mat_record(design, mat["bar_x"], mat["bar_y"])),
        "cards.json": record_bytes(cards_record(cards["bar_x"], cards["bar_y"], tint=recipe.tint)),
    }


def sheet_frames(built: Stage) -> list[dict[str, object]]:
    """Where each sheet really lies: designed panel mm to mat mm as origin, x step and y step."""
    out: list[dict[str, object]] = []
    w, h = built.design.sheet_width, built.design.sheet_height
    for panel, p in zip(built.design.sheets, built.places, strict=True):
        if p is None:
            continue
        sx, sy = p.scale or print_scale(built.recipe, built.design)
        a = np.radians(p.degrees)
        ex, ey = np.array([np.cos(a), np.sin(a)]), np.array([-np.sin(a), np.cos(a)])
        origin = np.array([p.x, p.y]) + ex * (w / 2) * (1 - sx) + ey * (h / 2) * (1 - sy)
        out.append(
            {
                "name": panel.name,
                "origin": [*origin.tolist(), p.z],
                "x_step": (ex * sx).tolist(),
                "y_step": (ey * sy).tolist(),
            }
        )
    return out


def recipe_record(built: Stage) -> dict[str, object]:
    """The whole recipe with the places that chance decided."""
    r = built.recipe
    record = asdict(r)
    record["sheets"] = sheet_frames(built)
    record["card_frames"] = {str(k): v.tolist() for k, v in built.card_frames.items()}
    record["cameras"] = []
    for shot in r.shots:
        camera = held(r.phone.lens, shot.nadir, shot.height, shot.look, shot.spin)
        record["cameras"].append(
            {
                "camera_from_mat_rotation": camera.camera_from_mat.rotation.tolist(),
                "camera_from_mat_translation": camera.camera_from_mat.translation.tolist(),
                "centre": camera.centre.tolist(),
            }
        )
    record["instrument_on_mat"] = {
        "x": r.pose[0],
        "y": r.pose[1],
        "z": PAPER_TOP,
        "turn_deg": r.pose[2],
    }
    return record
