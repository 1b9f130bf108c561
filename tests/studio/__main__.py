"""`python -m tests.studio`: `render NAME...` a committed sample (or `all`), `random` a quick scene
for benches, `register` the README of the samples."""

from __future__ import annotations

import argparse
import os
import time
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "2")


def _render(args: argparse.Namespace) -> None:
    from tests.studio.produce import produce
    from tests.studio.samples import RECIPES

    start = time.time()
    names = list(RECIPES) if args.names == ["all"] else args.names
    for name in names:
        recipe = RECIPES[name]

        def say(text: str, name: str = name) -> None:
            print(f"{time.time() - start:6.1f} s  {name}: {text}", flush=True)

        produce(
            recipe,
            Path(args.out) / name,
            args.width,
            say,
            truth=not args.no_truth,
            numbers=args.photo,
        )


def _random(args: argparse.Namespace) -> None:
    from tests.studio.chance import random_recipe
    from tests.studio.produce import produce

    recipe = random_recipe(args.seed, args.body, args.photos)
    produce(recipe, Path(args.out), args.width, print, rough=True)


def _register(args: argparse.Namespace) -> None:
    from tests.studio.register import write_readme

    write_readme(Path(args.samples))


def main() -> None:
    """Parse, then one call."""
    parser = argparse.ArgumentParser(prog="python -m tests.studio", description=__doc__)
    verbs = parser.add_subparsers(required=True)
    render = verbs.add_parser("render")
    render.add_argument("names", nargs="+")
    render.add_argument("--out", default="samples")
    render.add_argument("--width", type=int, default=0, help="px; 0 is the phone's own")
    render.add_argument("--no-truth", action="store_true")
    render.add_argument("--photo", type=int, nargs="*", default=[], help="only these, from 1")
    render.set_defaults(run=_render)
    chance = verbs.add_parser("random")
    chance.add_argument("--seed", type=int, required=True)
    chance.add_argument("--out", required=True)
    chance.add_argument("--width", type=int, default=2000)
    chance.add_argument("--body", default=None, help="one instrument instead of any")
    chance.add_argument("--photos", type=int, default=1)
    chance.set_defaults(run=_random)
    register = verbs.add_parser("register")
    register.add_argument("--samples", default="samples")
    register.set_defaults(run=_register)
    args = parser.parse_args()
    args.run(args)


if __name__ == "__main__":
    main()
