/** What is seen in a photo: first the one thing to do, then point by point. */

import type { Check, CheckPoint } from "../api/types";
import { placed } from "./MarkedPhoto";

const ORDER = { stop: 0, better: 1, good: 2 } as const;
const SIGNS = { stop: "✕", better: "!", good: "✓" } as const;
const SAID = { stop: "Has to be changed", better: "Could be better", good: "Good" } as const;

/** `bare` leaves out the verdict, where it stands above the photo already. */
export function Advice({ check, bare }: { check: Check | null; bare?: boolean }) {
  if (!check)
    return (
      <p class="faint" role="status">
        Looking at it …
      </p>
    );
  const points = [...check.points].sort((a, b) => ORDER[weight(a)] - ORDER[weight(b)]);
  const numbered = placed(check);
  return (
    <div role={bare ? undefined : "status"}>
      {!bare && <First check={check} />}
      <ul class="advice">
        {points.map((point, n) => {
          const number = numbered.indexOf(point) + 1;
          return (
            <li key={n} class={weight(point)}>
              <span class="sign" role="img" aria-label={SAID[weight(point)]}>
                {SIGNS[weight(point)]}
              </span>
              <span>
                {number > 0 && (
                  <>
                    <span class="ring-number" aria-hidden="true">
                      {number}
                    </span>
                    <span class="unseen">Marked {number} in the photo: </span>
                  </>
                )}
                {point.message}
              </span>
            </li>
          );
        })}
      </ul>
    </div>
  );
}

/** The verdict, and the one thing to do. */
export function First({ check }: { check: Check }) {
  return (
    <>
      <p class={check.ok ? "verdict" : "verdict not"}>
        {check.ok ? "Good enough to measure." : "Take it again, please."}
      </p>
      {check.first && (
        <p class={check.ok ? "first" : "first not"}>
          {check.ok && <span class="faint">Better still: </span>}
          {check.first}
        </p>
      )}
    </>
  );
}

/** A point that is well is good, whatever an older check says of it. */
function weight(point: CheckPoint): CheckPoint["weight"] {
  return point.ok === true && point.weight === "stop" ? "good" : point.weight;
}
