/** The instrument cut across at a station, where its section is known. */

import type { CaseMade } from "../api/types";
import { shown } from "../kit/lengths";
import { units } from "../state/store";

export function Section({ made, picked }: { made: CaseMade; picked: string | null }) {
  const station = made.stations?.find((s) => s.key === picked) ?? made.stations?.[0];
  if (!station) return null;
  const points = station.section;
  return (
    <figure class="section">
      <figcaption>
        <b>{station.label}</b>, {shown(station.x, units.value)} from the tail
      </figcaption>
      {points && points.length > 2 ? (
        <Cut points={points} label={station.label} />
      ) : (
        <p class="faint">{station.reason || "The section here is not known."}</p>
      )}
    </figure>
  );
}

function Cut({ points, label }: { points: readonly (readonly [number, number])[]; label: string }) {
  const ys = points.map((p) => p[0]);
  const zs = points.map((p) => p[1]);
  const [y0, y1] = [Math.min(...ys), Math.max(...ys)];
  const [z0, z1] = [Math.min(...zs), Math.max(...zs)];
  const room = 6;
  const path = points.map((p, i) => `${i ? "L" : "M"}${p[0]} ${z1 - p[1]}`).join("");
  return (
    <svg
      viewBox={`${y0 - room} ${-room} ${y1 - y0 + 2 * room} ${z1 - z0 + 2 * room}`}
      role="img"
      aria-label={`Section at the ${label}: ${shown(y1 - y0, units.value)} wide, ${shown(z1 - z0, units.value)} high`}
    >
      <path class="outline" d={path} />
    </svg>
  );
}
