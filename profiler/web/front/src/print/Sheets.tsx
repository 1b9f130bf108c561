/** Print: the real pages, files to take away, and the printer they are for. */

import { useState } from "preact/hooks";
import { request } from "../api/http";
import type { Job, Made } from "../api/types";
import { NoOutline } from "../kit/NoOutline";
import { Choices, Select } from "../kit/field";
import { useMaking } from "../kit/making";
import { Remarks } from "../kit/words";
import { say, sayTrouble } from "../state/notices";
import { bench, jobPath, loadJob, units } from "../state/store";
import { wish, wishesOf, type Which } from "../state/kept";
import { KeepIt } from "../archive/KeepIt";
import { Files } from "./Files";
import { Pages } from "./Pages";
import { PrinterChoice } from "./Printers";

export function Sheets({ job }: { job: Job }) {
  const wishes = wishesOf(job.id);
  const { which } = wishes;
  const setWhich = (now: Which) => wish(job.id, { which: now });
  const printer = bench.value?.settings.printer ?? null;
  const asked =
    which === "template"
      ? {
          clearance: wishes.clearance.trim() || (units.value === "mm" ? "3mm" : "1/8in"),
          paper: wishes.paper,
          printer,
          units: units.value,
        }
      : {
          options: which === "case" ? wishes.options : wishes.cradle,
          paper: wishes.paper ?? bench.value?.settings.paper ?? "A4",
          printer,
          units: units.value,
        };
  const path = jobPath(job.id, `/${which}`);
  const can = which === "template" ? job.can.template : job.can.case;
  const { made, busy, refusal } = useMaking<Made>(
    can ? { which, asked, revision: job.revision } : null,
    (signal) => request("POST", path, { ...asked, keep: false }, signal),
  );
  const [keeping, setKeeping] = useState(false);
  const keep = async () => {
    setKeeping(true);
    try {
      await request<Made>("POST", path, { ...asked, keep: true, revision: job.revision });
      say(`Written into the job's folder.`);
    } catch (error) {
      sayTrouble(error);
    } finally {
      setKeeping(false);
      await loadJob(job.id);
    }
  };
  if (!job.can.template && !job.can.case)
    return <NoOutline job={job} title="Nothing to print yet" why="There has to be an outline first." />;
  return (
    <div class="column wide">
      <div class="print">
        <section class="sheet" aria-labelledby="print-title">
          <h1 id="print-title">Print</h1>
          <Choices
            legend="What"
            hidden
            value={which}
            set={setWhich}
            choices={[
              ["template", "Template"],
              ["case", "Case"],
              ["cradle", "Cradle"],
            ]}
          />
          <Select
            label="Paper"
            value={wishes.paper ?? ""}
            set={(paper) => wish(job.id, { paper: paper || null })}
            choices={[
              ["", which === "template" ? "one big page" : `as usual: ${bench.value?.settings.paper ?? "A4"}`],
              ...(bench.value?.papers ?? []).map((p) => [p, p] as const),
            ]}
            why={
              which === "template"
                ? "On office paper it is spread over several pages, with overlaps and cut marks."
                : undefined
            }
          />
          <PrinterChoice />
          <p>
            Print at 100 %, “actual size”. <b>Lay a steel rule on the check bars before you cut.</b>
          </p>
          {refusal && (
            <p class="wrong-box" role="alert">
              {refusal.message}
            </p>
          )}
          {made && !refusal && (
            <>
              <Files files={made.files} />
              <div class="row">
                <button type="button" disabled={keeping} onClick={() => void keep()}>
                  Write into the job's folder
                </button>
                <KeepIt job={job} />
              </div>
              {made.messages.length > 0 && (
                <ul class="plain small">
                  {made.messages.map((m) => (
                    <li key={m}>{m}</li>
                  ))}
                </ul>
              )}
              <Remarks findings={made.findings} />
            </>
          )}
          {job.files.length > 0 && (
            <details>
              <summary>In the job's folder</summary>
              <Files files={job.files} />
            </details>
          )}
        </section>
        <section class="drawn" aria-label="The pages" aria-busy={busy}>
          <p role="status" class={busy ? "making" : "unseen"}>
            {busy ? "Making the pages …" : made ? `${made.pages.length} pages are shown.` : ""}
          </p>
          {made && <Pages pages={made.pages} />}
        </section>
      </div>
    </div>
  );
}
