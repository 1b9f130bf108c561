"""A mouse, or a finger as the browser feels it: real touch events through DevTools."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Protocol

from playwright.sync_api import Page

from tests.web.chrome import until

#: ms from an input's own time stamp to the end of the frame that was painted after it, each by its
#: kind; and whether what is dragged had moved by then
WATCH = """(shown) => {
  const watched = window.seen_ !== undefined;
  window.seen_ = [];
  if (watched) return;
  const where = () => document.querySelector(shown)?.getAttribute("aria-valuenow");
  let last = where();
  addEventListener("pointermove", (event) => {
    if (!(event.buttons & 1)) return;
    requestAnimationFrame(() => {
      const after = new MessageChannel();
      after.port1.onmessage = () => {
        const now = where();
        seen_.push([performance.now() - event.timeStamp, event.pointerType, now !== last]);
        last = now;
      };
      after.port2.postMessage(0);
    });
  }, true);
}"""


class Hand(Protocol):
    """Takes hold of a place on the screen, moves and lets go; CSS px."""

    def down(self, x: float, y: float) -> None: ...
    def move(self, x: float, y: float) -> None: ...
    def up(self) -> None: ...


class Mouse:
    def __init__(self, page: Page) -> None:
        self._mouse = page.mouse

    def down(self, x: float, y: float) -> None:
        self._mouse.move(x, y)
        self._mouse.down()

    def move(self, x: float, y: float) -> None:
        self._mouse.move(x, y)

    def up(self) -> None:
        self._mouse.up()


class Finger:
    def __init__(self, page: Page) -> None:
        self._devtools = page.context.new_cdp_session(page)

    def _send(self, kind: str, *points: tuple[float, float]) -> None:
        touched = [{"x": x, "y": y, "radiusX": 6, "radiusY": 8, "id": 1} for x, y in points]
        self._devtools.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": touched})

    def down(self, x: float, y: float) -> None:
        self._send("touchStart", (x, y))

    def move(self, x: float, y: float) -> None:
        self._send("touchMove", (x, y))

    def up(self) -> None:
        self._send("touchEnd")


def hand_on(page: Page) -> Hand:
    """A finger where the window has touch, else a mouse."""
    return Finger(page) if page.evaluate("navigator.maxTouchPoints > 0") else Mouse(page)


@contextmanager
def held(page: Page, x: float, y: float) -> Iterator[Hand]:
    hand = hand_on(page)
    hand.down(x, y)
    try:
        yield hand
    finally:
        hand.up()


def grip_of(page: Page, key: str) -> tuple[float, float]:
    """Where a cradle's station can be taken hold of, px."""
    grip = page.locator(f"[role=slider][data-key='{key}'] .grip")
    until(page, lambda: grip.count())
    grip.evaluate("e => e.scrollIntoView({ block: 'center' })")
    page.wait_for_timeout(100)
    box = grip.bounding_box()
    assert box
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
