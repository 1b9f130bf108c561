/** The cradle from above: pieces to drag along the instrument, and why a piece cannot be there. */

import { useEffect, useRef, useState } from "preact/hooks";
import type { CradlePlan as Plan, CradleStation, CradleView, Units } from "../../api/types";
import { shown } from "../../kit/lengths";
import { SpotMark } from "../SpotMark";
import type { PieceMark } from "./marked";

interface Props {
  plan: Plan;
  view: CradleView;
  units: Units;
  picked: string;
  moved: Readonly<Moved>;
  /** what the fit check has to say of pieces */
  marks: readonly PieceMark[];
  /** pieces of which a wish was refused */
  refused: readonly string[];
  pick: (key: string) => void;
  move: (key: string, x: number) => void;
}

/** Lettering and a finger's width, CSS px whatever the drawing's scale. */
const LETTER_PX = 15;
const FINGER_PX = 48;
const COARSE_MM = 10;

export function CradlePlan({ plan, view, units, picked, moved, marks, refused, pick, move }: Props) {
  const drawing = useRef<SVGSVGElement>(null);
  const [width, setWidth] = useState(640);
  useEffect(() => {
    const sizes = new ResizeObserver(() => setWidth(drawing.current?.clientWidth || 640));
    sizes.observe(drawing.current!);
    return () => sizes.disconnect();
  }, []);
  const { tail, head, right, left } = plan.berth;
  const edge = 12;
  const wide = head - tail + 2 * edge;
  const px = wide / width;
  const letter = LETTER_PX * px;
  const y = (up: number) => left - up;
  const inside = left - right;
  const lines = view.places.map((place, n) => ({
    place,
    lines: wrapped(`${n + 1}  No ${place.name}: ${place.reason}`, wide / (letter * 0.47)),
  }));
  const rows = lines.reduce((sum, entry) => sum + entry.lines.length + 0.6, 0);
  const top = -2.2 * letter;
  const foot = inside + 2.2 * letter;
  const high = foot - top + rows * 1.25 * letter;
  const mmAt = (clientX: number): number => {
    const box = drawing.current!.getBoundingClientRect();
    return ((clientX - box.left) / box.width) * wide + tail - edge;
  };
  const outline = view.outline.map(([a, b], i) => `${i ? "L" : "M"}${a} ${y(b)}`).join("") + "Z";
  let row = 0;
  return (
    <svg
      ref={drawing}
      class="plan cradle"
      viewBox={`${tail - edge} ${top} ${wide} ${high}`}
      role="group"
      aria-label={
        `Plan of the cradle, tail at the left: ${view.cuts.length} pieces` +
        (view.places.length ? `, ${view.places.length} cannot be made` : "")
      }
    >
      <rect class="inside" x={tail} y={0} width={head - tail} height={inside} />
      <path class="outline" d={outline} />
      <line class="centreline" x1={tail} x2={head} y1={y(0)} y2={y(0)} />
      {view.cuts.map((cut) => {
        const station = view.stations.find((s) => s.key === cut.key);
        const by = (moved[cut.key] ?? cut.x) - cut.x;
        const piece = plan.pieces.find((p) => p.name === cut.name);
        const path =
          piece && !piece.upright
            ? piece.shape.map(([a, b], i) => `${i ? "L" : "M"}${a} ${y(b)}`).join("") + "Z"
            : rect(cut.box[0], y(cut.box[3]), cut.box[2], y(cut.box[1]));
        return (
          <path
            key={cut.key}
            class={`wood${picked === cut.key ? " picked" : ""}`}
            d={path}
            {...(station && by ? { transform: `translate(${by} 0)` } : {})}
            onPointerDown={() => pick(cut.key)}
          />
        );
      })}
      {view.stations.map((s) => (
        <Station
          key={s.key}
          station={s}
          x={moved[s.key] ?? s.x}
          y0={s.key.endsWith("right") ? 0.68 * inside : 0}
          y1={s.key.endsWith("left") ? 0.32 * inside : inside}
          letter={letter}
          finger={FINGER_PX * px}
          units={units}
          picked={picked === s.key}
          pick={pick}
          move={move}
          mmAt={mmAt}
        />
      ))}
      {view.cuts
        .filter((cut) => refused.includes(cut.key))
        .map((cut) => (
          <g key={cut.key} class="misfit" data-refused={cut.key}>
            <rect x={cut.box[0]} y={y(cut.box[3])} width={cut.box[2] - cut.box[0]} height={cut.box[3] - cut.box[1]} />
          </g>
        ))}
      {marks.map((mark, n) => {
        const cut = view.cuts.find((c) => c.key === mark.key);
        if (!cut) return null;
        const before = marks.slice(0, n).filter((m) => m.key === mark.key).length;
        const x = (cut.box[0] + cut.box[2]) / 2 + (moved[cut.key] ?? cut.x) - cut.x;
        // in the middle a piece has its line, and a neck the outline
        const at = y((cut.box[1] + cut.box[3]) / 2) + (before + (mark.key.includes(" ") ? 0 : 3)) * 1.9 * letter;
        return (
          <SpotMark key={`${mark.number} ${mark.key}`} number={mark.number} at={[x, at]} letter={letter} />
        );
      })}
      {lines.map(({ place, lines: said }, n) => {
        const by = (moved[place.key] ?? stationX(view, place.key)) - stationX(view, place.key);
        const [x0, y0, x1, y1] = place.box;
        const at = foot + row * 1.25 * letter;
        row += said.length + 0.6;
        const middle = (x0 + x1) / 2 + by;
        return (
          <g key={place.key} class="misfit">
            <rect x={x0 + by} y={y(y1)} width={x1 - x0} height={y1 - y0} />
            <path class="leader" d={`M${middle} ${y(y0)}V${foot - 0.9 * letter}`} />
            <circle cx={middle} cy={y((y0 + y1) / 2)} r={0.85 * letter} />
            <text class="number" x={middle} y={y((y0 + y1) / 2) + 0.35 * letter} font-size={letter}>
              {n + 1}
            </text>
            <text class="why" x={tail} y={at + letter} font-size={letter}>
              {said.map((line, k) => (
                <tspan key={k} x={tail} dy={k ? 1.25 * letter : 0}>
                  {line}
                </tspan>
              ))}
            </text>
          </g>
        );
      })}
    </svg>
  );
}

function Station(props: {
  station: CradleStation;
  x: number;
  y0: number;
  y1: number;
  letter: number;
  finger: number;
  units: Units;
  picked: boolean;
  pick: (key: string) => void;
  move: (key: string, x: number) => void;
  mmAt: (clientX: number) => number;
}) {
  const { station: s, x, y0, y1, letter, finger, units, picked } = props;
  // where the hand took hold, so that the piece does not jump under it
  const hold = useRef<number | null>(null);
  const within = (mm: number, step = 0.5) =>
    Math.min(s.high, Math.max(s.low, Math.round(mm / step) * step));
  const below = s.key.endsWith("right");
  const words = `${shown(x, units)} from the tail${s.made ? "" : ", it cannot be made"}`;
  return (
    <g
      class={`station moves${picked ? " picked" : ""}${s.made ? "" : " unmade"}`}
      role="slider"
      tabIndex={0}
      data-key={s.key}
      aria-label={s.label}
      aria-valuemin={s.low}
      aria-valuemax={s.high}
      aria-valuenow={Math.round(x * 10) / 10}
      aria-valuetext={words}
      onPointerDown={(event: PointerEvent) => {
        if (event.button) return;
        (event.currentTarget as Element).setPointerCapture(event.pointerId);
        hold.current = props.mmAt(event.clientX) - x;
        props.pick(s.key);
      }}
      onPointerMove={(event: PointerEvent) => {
        if (hold.current === null || !(event.buttons & 1)) return;
        props.move(s.key, within(props.mmAt(event.clientX) - hold.current));
      }}
      onPointerUp={() => (hold.current = null)}
      onPointerCancel={() => (hold.current = null)}
      onFocus={() => props.pick(s.key)}
      onKeyDown={(event: KeyboardEvent) => {
        const step = event.shiftKey || event.key.startsWith("Page") ? COARSE_MM : 1;
        const way = KEYS[event.key];
        if (way === undefined) return;
        event.preventDefault();
        props.move(s.key, within(Number.isFinite(way) ? x + way * step : way < 0 ? s.low : s.high, 0.1));
      }}
    >
      <rect class="grip" x={x - finger / 2} y={y0} width={finger} height={y1 - y0} />
      <line x1={x} x2={x} y1={below ? y0 : y0 - 0.4 * letter} y2={below ? y1 + 0.4 * letter : y1} />
      <path
        class="handle"
        d={
          below
            ? `M${x} ${y1 + 0.1 * letter}l${-0.55 * letter} ${0.75 * letter}h${1.1 * letter}z`
            : `M${x} ${y0 - 0.1 * letter}l${-0.55 * letter} ${-0.75 * letter}h${1.1 * letter}z`
        }
      />
      {picked && (
        <text x={x} y={below ? y1 + 1.9 * letter : y0 - 1.1 * letter} font-size={letter}>
          {shown(x, units)}
        </text>
      )}
    </g>
  );
}

const KEYS: Record<string, number> = {
  ArrowLeft: -1,
  ArrowDown: -1,
  PageDown: -1,
  ArrowRight: 1,
  ArrowUp: 1,
  PageUp: 1,
  Home: -Infinity,
  End: Infinity,
};

function rect(x0: number, y0: number, x1: number, y1: number): string {
  return `M${x0} ${y0}H${x1}V${y1}H${x0}Z`;
}

function stationX(view: CradleView, key: string): number {
  return view.stations.find((s) => s.key === key)?.x ?? 0;
}

/** Lines of so many letters at most. */
function wrapped(text: string, most: number): string[] {
  const lines: string[] = [];
  for (const word of text.split(" ")) {
    const line = lines.at(-1);
    if (line !== undefined && line.length + word.length + 1 <= most) lines[lines.length - 1] = `${line} ${word}`;
    else lines.push(word);
  }
  return lines;
}

/** Stations that the hand is moving, mm from the tail. */
export type Moved = Record<string, number>;
