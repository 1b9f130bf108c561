/** A photo with a numbered ring round each place that the advice speaks of. */

import type { Check, CheckPoint } from "../api/types";

/** The points that have a place, in the order in which they are numbered. */
export function placed(check: Check | null): CheckPoint[] {
  return (check?.points ?? []).filter((point) => (point.places ?? []).length > 0);
}

export function MarkedPhoto(props: { src: string; alt: string; check: Check | null }) {
  return (
    <div class="marked-photo">
      <img src={props.src} alt={props.alt} />
      <Rings check={props.check} />
    </div>
  );
}

/** Rings in shares of the picture that they lie over. */
export function Rings({ check }: { check: Check | null }) {
  const points = placed(check);
  if (points.length === 0) return null;
  return (
    <>
      <svg viewBox="0 0 1 1" preserveAspectRatio="none" aria-hidden="true">
        {points.flatMap((point) =>
          point.places!.flatMap((ring, n) => {
            const at = ring.map((p) => p.join(",")).join(" ");
            return [
              <polygon key={`${n} paper`} class="paper" points={at} />,
              <polygon key={n} class="ring" points={at} />,
            ];
          }),
        )}
      </svg>
      {points.map((point, n) => {
        const ring = point.places![0]!;
        const top = ring.reduce((a, b) => (b[1] < a[1] ? b : a));
        return (
          <span
            key={n}
            class="ring-number"
            aria-hidden="true"
            style={{
              left: `${Math.min(Math.max(top[0], 0.03), 0.97) * 100}%`,
              top: `${Math.min(Math.max(top[1], 0.04), 0.96) * 100}%`,
            }}
          >
            {n + 1}
          </span>
        );
      })}
    </>
  );
}
