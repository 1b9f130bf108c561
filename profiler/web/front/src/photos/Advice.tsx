/** What is seen in a photo, point by point, what is wrong before what is well. */

import type { Check, CheckPoint } from "../api/types";

const ORDER = { stop: 0, better: 1, good: 2 } as const;
const SIGNS = { stop: "✕", better: "!", good: "✓" } as const;
const SAID = { stop: "Has to be changed", better: "Could be better", good: "Good" } as const;

export function Advice({ check }: { check: Check | null }) {
  if (!check)
    return (
      <p class="faint" role="status">
        Looking at it …
      </p>
    );
  const points = [...check.points].sort((a, b) => ORDER[weight(a)] - ORDER[weight(b)]);
  return (
    <div role="status">
      <p class={check.ok ? "verdict" : "verdict not"}>
        {check.ok ? "Good enough to measure." : "Take it again, please:"}
      </p>
      <ul class="advice">
        {points.map((point, n) => (
          <li key={n} class={weight(point)}>
            <span class="sign" role="img" aria-label={SAID[weight(point)]}>
              {SIGNS[weight(point)]}
            </span>
            {point.message}
          </li>
        ))}
      </ul>
    </div>
  );
}

function weight(point: CheckPoint): CheckPoint["weight"] {
  return point.ok === true ? "good" : point.weight;
}
