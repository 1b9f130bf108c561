/** The numbers with their ±, worst remarks below. */

import type { Job } from "../api/types";
import { Figures, Remarks } from "../kit/words";
import { measurement, units } from "../state/store";

export function Numbers({ job }: { job: Job }) {
  const numbers = measurement.value;
  const busy = job.work !== null;
  return (
    <section aria-labelledby="numbers-title" aria-busy={busy} class="numbers">
      <div class="section-head">
        <h2 id="numbers-title">Measured</h2>
        <span class="small faint" role="status">
          {busy && job.work ? `${job.work.words} …` : ""}
        </span>
      </div>
      {numbers ? (
        <>
          <Figures rows={numbers.rows} units={units.value} />
          <p class="small faint">
            ± is what a number may be out by, 95 times in 100. The line under it shows which are least
            sure.
          </p>
          <Remarks findings={numbers.findings} />
        </>
      ) : (
        <p class="faint">No numbers before it is measured.</p>
      )}
    </section>
  );
}
