/** The fit check: the instrument laid into the cradle, as pictures, as a table, and its remarks. */

import { useEffect, useState } from "preact/hooks";
import { request } from "../../api/http";
import type { Finding, FitMade, Job, Mark } from "../../api/types";
import { useMaking } from "../../kit/making";
import { Remarks } from "../../kit/words";
import { jobPath, units } from "../../state/store";
import type { Chosen } from "../../state/kept";

/** ms: it takes a second or two, so the hand has to rest first. */
const PATIENCE = 1000;

interface Props {
  job: Job;
  chosen: Chosen;
  /** told of each new check, so that the drawing can show what its remarks speak of */
  found: (findings: readonly Finding[]) => void;
  marks: readonly Mark[];
  show: (mark: number) => void;
}

export function FitCheck({ job, chosen, found, marks, show }: Props) {
  const [name, setName] = useState<string | null>(null);
  const asked = { options: chosen, units: units.value, drawings: false, fit: true };
  const { made, busy, refusal } = useMaking<FitMade>(
    { ...asked, revision: job.revision },
    (signal) => request("POST", jobPath(job.id, "/cradle"), asked, signal),
    PATIENCE,
  );
  useEffect(() => found(made && !refusal ? made.findings : []), [made, refusal]);
  if (!made || refusal) return busy ? <p role="status">Laying the instrument in …</p> : null;
  const now = made.drawings.find((d) => d.name === name) ?? made.drawings[1] ?? made.drawings[0];
  return (
    <>
      <div class="section-head">
        <h2 id="fit-title">Fit check</h2>
        <span class="small faint" role="status">
          {busy ? "laying the instrument in …" : ""}
        </span>
      </div>
      {made.fit ? (
        <div class="fit" aria-busy={busy}>
          {now && (
            <>
              <label>
                Picture
                <select value={now.name} onChange={(event) => setName(event.currentTarget.value)}>
                  {made.drawings.map((d) => (
                    <option key={d.name} value={d.name}>
                      {d.label.replace(/^fit /, "")}
                    </option>
                  ))}
                </select>
              </label>
              <div class="fit-picture" tabIndex={0} role="region" aria-label="Fit check, picture">
                <img
                  class="drawing"
                  src={now.url}
                  alt={`Fit check: ${now.label.replace(/^fit /, "")}`}
                  onLoad={(event) => {
                    // on a phone its lettering needs more room than there is: the middle first
                    const frame = event.currentTarget.parentElement!;
                    frame.scrollLeft = (frame.scrollWidth - frame.clientWidth) / 2;
                  }}
                />
              </div>
            </>
          )}
          <div class="wide-table" tabIndex={0} role="region" aria-label="Fit check, table">
            <table>
              <thead>
                <tr>
                  {made.fit.heads.map((head, n) => (
                    <th key={n} scope="col">
                      {head || "role"}
                    </th>
                  ))}
                </tr>
              </thead>
              <tbody>
                {made.fit.rows.map((row) => (
                  <tr key={row[0]}>
                    {row.map((cell, n) =>
                      n === 0 ? (
                        <th key={n} scope="row">
                          {cell}
                        </th>
                      ) : (
                        <td key={n} data-head={made.fit!.heads[n] || "role"} class={cell === "–" ? "none" : ""}>
                          {cell}
                        </td>
                      ),
                    )}
                  </tr>
                ))}
              </tbody>
            </table>
          </div>
          <p class="small faint">
            Gaps are{units.value === "mm" ? " in mm," : ""} from the wood to the instrument at rest, lining left out; “presses” is how often the
            lining is squeezed hard by what is uncertain.
          </p>
          <ul class="plain small">
            {made.fit.play.map((line) => (
              <li key={line}>{line}</li>
            ))}
          </ul>
          <dl class="summary">
            {(made.summary ?? []).map(([label, value]) => (
              <div key={label}>
                <dt>{label}</dt>
                <dd>{value}</dd>
              </div>
            ))}
          </dl>
        </div>
      ) : (
        <p>Not one piece can be made yet: the drawing says why of each.</p>
      )}
      <Remarks findings={made.findings} marks={marks} raise={show} />
    </>
  );
}
