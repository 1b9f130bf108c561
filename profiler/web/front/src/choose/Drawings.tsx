/** All drawings of the case, made when they are asked for. */

import { useState } from "preact/hooks";
import { request } from "../api/http";
import type { CaseMade, Job } from "../api/types";
import { useMaking } from "../kit/making";
import { jobPath, units } from "../state/store";

export function Drawings({ job, options }: { job: Job; options: Record<string, unknown> }) {
  const [open, setOpen] = useState(false);
  const [name, setName] = useState<string | null>(null);
  const asked = { options, units: units.value, keep: false };
  const { made, busy } = useMaking<CaseMade>(
    open ? { ...asked, revision: job.revision } : null,
    (signal) => request("POST", jobPath(job.id, "/case"), asked, signal),
    900,
  );
  const drawings = made?.drawings ?? [];
  const now = drawings.find((d) => d.name === name) ?? drawings[0];
  return (
    <details onToggle={(event) => setOpen(event.currentTarget.open)}>
      <summary>All drawings</summary>
      <div class="drawings" aria-busy={open && busy}>
        {open && busy && <p role="status">Drawing …</p>}
        {now && (
          <>
            <label>
              Drawing
              <select value={now.name} onChange={(event) => setName(event.currentTarget.value)}>
                {drawings.map((d) => (
                  <option key={d.name} value={d.name}>
                    {d.label}
                  </option>
                ))}
              </select>
            </label>
            <img class="drawing" src={now.url} alt={`Drawing: ${now.label}`} />
          </>
        )}
      </div>
    </details>
  );
}
