/** What stands in a step that needs an outline, while there is none. */

import type { Job } from "../api/types";
import { go } from "../state/route";

export function NoOutline({ job, title, why }: { job: Job; title: string; why: string }) {
  return (
    <div class="column">
      <section class="sheet marked">
        <h1>{title}</h1>
        <p>{why}</p>
        <div>
          <button
            type="button"
            class="next"
            onClick={() => go({ view: "job", id: job.id, step: job.photos.length ? "look" : "photos" })}
          >
            {job.photos.length ? "To the outline" : "To the photos"}
          </button>
        </div>
      </section>
    </div>
  );
}
