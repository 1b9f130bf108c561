/** The numbers with their ±, worst remarks below. */

import type { Job } from "../api/types";
import { Figures, Remarks } from "../kit/words";
import { measurement, units, view } from "../state/store";

export function Numbers({ job, raise }: { job: Job; raise: (mark: number) => void }) {
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
            ± is meant to hold the true number 95 times in 100. The line under it shows which are least
            sure.
          </p>
          <Remarks findings={numbers.findings} marks={view.value?.marks ?? []} raise={raise} />
        </>
      ) : (
        <p class="faint">No numbers before it is measured.</p>
      )}
    </section>
  );
}
