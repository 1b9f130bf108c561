/** Cut across at a station: the wood, and the instrument at rest in it; it follows the hand. */

import type { CradleMade, Pair, Ring, Units } from "../../api/types";
import { shown } from "../../kit/lengths";
import { profileAt, sourceAt } from "./neck";

interface Props {
  made: CradleMade;
  picked: string;
  /** where the hand has it now, mm from the tail */
  x: number | null;
  units: Units;
}

export function CradleCut({ made, picked, x, units }: Props) {
  const { view } = made;
  const station = view.stations.find((s) => s.key === picked);
  const cut = view.cuts.find((c) => c.key === picked);
  const place = view.places.find((p) => p.key === picked);
  const at = x ?? station?.x ?? cut?.x ?? 0;
  const neck = picked === "neck";
  const live = neck ? profileAt(view.neck, at) : null;
  const instrument = live ? [live] : neck && cut === undefined ? [] : (cut?.instrument ?? []);
  const name = cut?.name ?? place?.name ?? station?.label ?? picked;
  return (
    <figure class="section" aria-live="polite">
      <figcaption>
        <b>{name.charAt(0).toUpperCase() + name.slice(1)}</b>, {shown(at, units)} from the tail
        {place && !live && <span class="faint"> · not made: the drawing says why</span>}
        {live && (
          <span class="faint">
            {" "}
            · {size(live, units)} · {sourceAt(view.neck, at)}
          </span>
        )}
        {cut && (
          <span class="faint">
            {" "}
            · {cut.kind === "none" ? "no lining" : `${cut.kind} ${shown(cut.lining, units)}`},{" "}
            {cut.bears ? "bears" : "guards"}
          </span>
        )}
      </figcaption>
      {instrument.length || cut ? (
        <Drawing wood={cut?.wood ?? []} instrument={instrument} label={name} units={units} />
      ) : null}
      {neck && !live && !place && (
        <p class="wrong-box">
          {view.neck.reason
            ? `No section to show: ${view.neck.reason}.`
            : "The neck's shape here is not known: its sections do not reach so far. Add one under “Neck's sections”."}
        </p>
      )}
    </figure>
  );
}

function Drawing(props: { wood: Ring[]; instrument: Ring[]; label: string; units: Units }) {
  const all = [...props.wood, ...props.instrument].flat();
  const ys = all.map((p) => p[0]);
  const zs = all.map((p) => p[1]);
  const [y0, y1] = [Math.min(...ys), Math.max(...ys)];
  const [z0, z1] = [Math.min(0, ...zs), Math.max(...zs)];
  const room = 0.03 * (y1 - y0) + 2;
  // seen from the tail: the instrument's left is at the left, y grows to the left
  const path = (ring: Ring) => ring.map(([y, z]: Pair, i) => `${i ? "L" : "M"}${-y} ${z1 - z}`).join("") + "Z";
  return (
    <svg
      viewBox={`${-y1 - room} ${-room} ${y1 - y0 + 2 * room} ${z1 - z0 + 2 * room}`}
      role="img"
      aria-label={
        `Cut across at the ${props.label}, seen from the tail` +
        (props.instrument[0] ? `: the instrument is ${size(props.instrument.flat(), props.units)} there` : "")
      }
    >
      {props.wood.map((ring, n) => (
        <path key={n} class="wood" d={path(ring)} />
      ))}
      {props.instrument.map((ring, n) => (
        <path key={n} class="outline" d={path(ring)} />
      ))}
      <line class="floor" x1={-y1 - room} x2={-y0 + room} y1={z1} y2={z1} />
    </svg>
  );
}

function size(ring: Ring, units: Units): string {
  const ys = ring.map((p) => p[0]);
  const zs = ring.map((p) => p[1]);
  const wide = Math.max(...ys) - Math.min(...ys);
  const deep = Math.max(...zs) - Math.min(...zs);
  return `${shown(wide, units)} wide, ${shown(deep, units)} deep`;
}
