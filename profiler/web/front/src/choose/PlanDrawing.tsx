/** The case from above: inside, instrument, compartments, stations; what does not fit, on it. */

import { useEffect, useRef, useState } from "preact/hooks";
import type { Pair, Place, Plan, Units } from "../api/types";
import { shown } from "../kit/lengths";
import type { Spot } from "./remarked";
import { SpotMark } from "./SpotMark";

export interface PlanStation {
  key: string;
  label: string;
  /** mm from the tail */
  x: number;
}

interface Props {
  plan: Plan;
  units: Units;
  places: readonly Place[];
  refused: boolean;
  /** what the remarks below speak of */
  spots: readonly Spot[];
  stations: readonly PlanStation[];
  /** absent: the stations stay where they are */
  move?: (key: string, x: number) => void;
  picked?: string | null;
  pick?: (key: string) => void;
}

/** Lettering, CSS px whatever the drawing's scale. */
const LETTER_PX = 15;

export function PlanDrawing(props: Props) {
  const { plan, units, places, refused, spots, stations } = props;
  const drawing = useRef<SVGSVGElement>(null);
  const [inX, inY] = plan.box.inside;
  const wall = plan.wishes.boards.thickness;
  const [tailX, tailY] = plan.instrument.tail_at;
  const [width, setWidth] = useState(640);
  useEffect(() => {
    const sizes = new ResizeObserver(() => setWidth(drawing.current?.clientWidth || 640));
    sizes.observe(drawing.current!);
    return () => sizes.disconnect();
  }, []);
  // mm of one letter's height; the room round the case is made for it
  const LETTER = (LETTER_PX * (inX + 2 * wall + 60)) / width;
  const room = 2.6 * LETTER;
  const left = -wall - room;
  const top = -wall - room;
  const wide = inX + 2 * (wall + room);
  const high = inY + 2 * (wall + room);
  // y up in the case, down on the screen
  const at = ([x, y]: Pair): Pair => [x, inY - y];
  const box = (x0: number, y0: number, x1: number, y1: number) => ({
    x: Math.min(x0, x1),
    y: inY - Math.max(y0, y1),
    width: Math.abs(x1 - x0),
    height: Math.abs(y1 - y0),
  });
  const outline =
    plan.instrument.outline.map((p, i) => `${i ? "L" : "M"}${at(p).join(" ")}`).join("") + "Z";
  const lining = plan.wishes.room.lining;
  const words =
    `Plan of the case: inside ${shown(inX, units)} by ${shown(inY, units)}, ` +
    `${plan.compartments.length} compartments, ${stations.length} stations.` +
    (places.length ? ` Does not fit: ${places.map((p) => p.words).join(", ")}.` : "");

  const mmAt = (clientX: number): number => {
    const shownBox = drawing.current!.getBoundingClientRect();
    return ((clientX - shownBox.left) / shownBox.width) * wide + left - tailX;
  };
  const drag = (key: string) => (event: PointerEvent) => {
    if (!props.move || !(event.buttons & 1)) return;
    props.move(key, Math.round(mmAt(event.clientX) * 2) / 2);
  };
  return (
    <svg
      ref={drawing}
      class={refused ? "plan refused" : "plan"}
      viewBox={`${left} ${top} ${wide} ${high}`}
      role={props.move ? "group" : "img"}
      aria-label={words}
    >
      <rect class="board-cut" {...box(-wall, -wall, inX + wall, inY + wall)} />
      <rect class="inside" {...box(0, 0, inX, inY)} />
      {lining > 0 && (
        <rect class="lining" {...box(lining, lining, inX - lining, inY - lining)} />
      )}
      {plan.compartments.map((c, n) => {
        const [y0, y1] = c.side === "front" ? [0, c.width] : [inY - c.width, inY];
        const b = box(c.from, y0, c.to, y1);
        return (
          <g key={n}>
            <rect class="compartment" {...b} />
            {b.width > 11 * LETTER && (
              <text x={b.x + b.width / 2} y={b.y + b.height / 2} font-size={LETTER}>
                {`${shown(c.useful[0], units)} × ${shown(c.useful[1], units)}`}
              </text>
            )}
          </g>
        );
      })}
      <path class="outline" d={outline} />
      <line class="centreline" x1={tailX - 15} x2={tailX + plan.instrument.length + 15} y1={inY - tailY} y2={inY - tailY} />
      {stations.map((s, n) => {
        const x = tailX + s.x;
        const low = n % 2 === 0;
        return (
          <g
            key={s.key}
            class={`station${props.picked === s.key ? " picked" : ""}${props.move ? " moves" : ""}`}
            {...(props.move
              ? {
                  role: "slider",
                  tabIndex: 0,
                  "aria-label": `Cradle at the ${s.label}`,
                  "aria-valuemin": 0,
                  "aria-valuemax": Math.round(plan.instrument.length),
                  "aria-valuenow": Math.round(s.x * 10) / 10,
                  "aria-valuetext": `${shown(s.x, units)} from the tail`,
                  onPointerDown: (event: PointerEvent) => {
                    (event.currentTarget as Element).setPointerCapture(event.pointerId);
                    props.pick?.(s.key);
                  },
                  onPointerMove: drag(s.key),
                  onFocus: () => props.pick?.(s.key),
                  onKeyDown: (event: KeyboardEvent) => {
                    const step = event.shiftKey ? 10 : 1;
                    const way = { ArrowLeft: -1, ArrowDown: -1, ArrowRight: 1, ArrowUp: 1 }[event.key];
                    if (way === undefined) return;
                    event.preventDefault();
                    props.move?.(s.key, s.x + way * step);
                  },
                }
              : {})}
          >
            {props.move && <rect class="grip" x={x - 16} y={-wall} width={32} height={inY + 2 * wall} />}
            <line x1={x} x2={x} y1={-wall - 0.4 * LETTER} y2={inY + wall + 0.4 * LETTER} />
            <text x={x} y={low ? inY + wall + 1.7 * LETTER : -wall - 0.9 * LETTER} font-size={LETTER}>
              {s.label}
            </text>
          </g>
        );
      })}
      {spots.map((s, n) => (
        <SpotMark key={n} number={s.number} at={at(s.at)} letter={LETTER} />
      ))}
      {places.map((p, n) => {
        const b = box(p.box[0] + tailX, p.box[1] + tailY, p.box[2] + tailX, p.box[3] + tailY);
        return (
          <g key={n} class="misfit">
            <rect {...b} />
            <text x={b.x + b.width / 2} y={Math.max(top + LETTER, b.y - 5)} font-size={LETTER}>
              {p.words}
              {p.over !== null ? `: ${shown(p.over, units)} too much` : ""}
            </text>
          </g>
        );
      })}
    </svg>
  );
}
