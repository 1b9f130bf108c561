/** Mouse, fingers and wheel on the board: one finger works or pushes, two zoom. */

import type { Point } from "./view";

export interface Hands {
  /** True where the tool takes this press; false lets it push the photo. */
  begin(at: Point, coarse: boolean): boolean;
  draw(at: Point, time: number): void;
  end(): void;
  /** A second finger came, or the press was taken away: forget what was begun. */
  drop(): void;
  hover(at: Point | null): void;
  push(dx: number, dy: number): void;
  zoom(factor: number, at: Point): void;
}

type Doing = "nothing" | "tool" | "push" | "pinch";

/** Returns what takes the listeners off again. */
export function follow(board: HTMLElement, hands: Hands): () => void {
  const fingers = new Map<number, Point>();
  let doing: Doing = "nothing";
  let last: Point = [0, 0];
  let spread = 0;
  let pressed = 0;

  const place = (event: MouseEvent): Point => {
    const box = board.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  };
  const pinch = (): { middle: Point; spread: number } => {
    const [a, b] = [...fingers.values()] as [Point, Point];
    return {
      middle: [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2],
      spread: Math.max(1, Math.hypot(a[0] - b[0], a[1] - b[1])),
    };
  };

  const down = (event: PointerEvent) => {
    if (event.pointerType === "mouse" && event.button > 1) return;
    board.setPointerCapture(event.pointerId);
    const at = place(event);
    fingers.set(event.pointerId, at);
    if (fingers.size === 2) {
      if (doing === "tool") hands.drop();
      doing = "pinch";
      ({ middle: last, spread } = pinch());
    } else if (fingers.size === 1) {
      const middle = event.button === 1;
      doing = !middle && hands.begin(at, event.pointerType !== "mouse") ? "tool" : "push";
      last = at;
      pressed = event.timeStamp;
      if (middle) event.preventDefault();
    }
  };
  const move = (event: PointerEvent) => {
    const at = place(event);
    if (!fingers.has(event.pointerId)) {
      if (event.pointerType === "mouse") hands.hover(at);
      return;
    }
    fingers.set(event.pointerId, at);
    if (doing === "tool") hands.draw(at, event.timeStamp);
    else if (doing === "push") {
      hands.push(at[0] - last[0], at[1] - last[1]);
      last = at;
    } else if (doing === "pinch" && fingers.size === 2) {
      const now = pinch();
      hands.push(now.middle[0] - last[0], now.middle[1] - last[1]);
      hands.zoom(now.spread / spread, now.middle);
      last = now.middle;
      spread = now.spread;
    }
  };
  const up = (event: PointerEvent) => {
    if (!fingers.delete(event.pointerId)) return;
    if (doing === "tool") {
      if (event.type === "pointercancel") hands.drop();
      else hands.end();
      doing = "nothing";
    } else if (doing === "pinch") {
      // the finger that stays pushes on
      const stays = [...fingers.values()][0];
      doing = stays ? "push" : "nothing";
      if (stays) last = stays;
    } else doing = "nothing";
  };
  const leave = () => hands.hover(null);
  const wheel = (event: WheelEvent) => {
    event.preventDefault();
    const line = event.deltaMode === 1 ? 16 : event.deltaMode === 2 ? 400 : 1;
    const speed = event.ctrlKey ? 0.01 : 0.0018;
    const turn = Math.max(-300, Math.min(300, event.deltaY * line));
    hands.zoom(Math.exp(-turn * speed), place(event));
  };
  const twice = (event: MouseEvent) => {
    if (event.timeStamp - pressed < 1000) hands.zoom(event.shiftKey ? 0.5 : 2, place(event));
  };

  board.addEventListener("pointerdown", down);
  board.addEventListener("pointermove", move);
  board.addEventListener("pointerup", up);
  board.addEventListener("pointercancel", up);
  board.addEventListener("pointerleave", leave);
  board.addEventListener("wheel", wheel, { passive: false });
  board.addEventListener("dblclick", twice);
  return () => {
    board.removeEventListener("pointerdown", down);
    board.removeEventListener("pointermove", move);
    board.removeEventListener("pointerup", up);
    board.removeEventListener("pointercancel", up);
    board.removeEventListener("pointerleave", leave);
    board.removeEventListener("wheel", wheel);
    board.removeEventListener("dblclick", twice);
  };
}
