/** Each correction, listed; any of them can be taken out again. */

import type { Job } from "../api/types";
import { Icon } from "../kit/icons";
import { change } from "../state/store";

export function Corrections({ job }: { job: Job }) {
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
              <span>{correction.words}</span>
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
