/** Each correction, listed; any of them can be taken out again. */

import type { Correction, Job, Pair } from "../api/types";
import { Icon } from "../kit/icons";
import { change } from "../state/store";

/** Where it was done, px of the view; a height has no place. */
function placesOf(correction: Correction): Pair[] {
  switch (correction.kind) {
    case "move":
      return [correction.at, correction.to];
    case "redraw":
      return correction.path;
    case "exclude":
      return correction.area;
    default:
      return [];
  }
}

export function Corrections({ job, show }: { job: Job; show: (places: Pair[]) => void }) {
  const { done } = job.corrections;
  return (
    <section aria-labelledby="corrections-title">
      <h2 id="corrections-title">Corrections by hand</h2>
      {done.length === 0 ? (
        <p class="faint">None. What you correct is kept as a correction, and the ± grows by it.</p>
      ) : (
        <ol class="corrections">
          {done.map((correction, n) => (
            <li key={n}>
              {correction.kind === "height" ? (
                <span>{correction.words}</span>
              ) : (
                <button
                  type="button"
                  class="quiet where"
                  title="Show the place"
                  onClick={() => show(placesOf(correction).filter(Boolean))}
                >
                  {correction.words}
                </button>
              )}
              <button
                type="button"
                class="quiet"
                aria-label={`Take out: ${correction.words}`}
                title="Take out"
                onClick={() => void change("POST", `/corrections/${n}/remove`, {})}
              >
                <Icon sign="close" />
              </button>
            </li>
          ))}
        </ol>
      )}
    </section>
  );
}
