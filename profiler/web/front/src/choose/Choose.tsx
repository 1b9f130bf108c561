/** Choose: room, linings, stations and box; the drawings follow while one types. */

import { request } from "../api/http";
import type { Job, Made } from "../api/types";
import { NoOutline } from "../kit/NoOutline";
import { Choices, Field } from "../kit/field";
import { Remarks } from "../kit/words";
import { useMaking } from "../kit/making";
import { go } from "../state/route";
import { bench, jobPath, units } from "../state/store";
import { wish, wishesOf, type Which } from "../state/kept";
import { CaseChoice } from "./CaseChoice";
import { Drawn } from "./Drawn";
import { CradleChoice } from "./cradle/CradleChoice";

export function Choose({ job }: { job: Job }) {
  const which = wishesOf(job.id).which;
  const setWhich = (now: Which) => wish(job.id, { which: now });
  if (!job.can.template && !job.can.case)
    return <NoOutline job={job} title="Nothing to choose yet" why="Choices come after measuring: there has to be an outline first." />;
  return (
    <div class="column wide">
      <div class="onward">
        <Choices
          legend="What to make"
          hidden
          value={which}
          set={setWhich}
          choices={[
            ["case", "Case"],
            ["template", "Template"],
            ["cradle", "Cradle"],
          ]}
        />
        <button type="button" class="next" onClick={() => go({ view: "job", id: job.id, step: "print" })}>
          To the pages
        </button>
      </div>
      {which === "case" && <CaseChoice job={job} />}
      {which === "cradle" && <CradleChoice key={job.id} job={job} />}
      {which === "template" && <TemplateChoice job={job} />}
    </div>
  );
}

function TemplateChoice({ job }: { job: Job }) {
  const wishes = wishesOf(job.id);
  const usual = units.value === "mm" ? "3mm" : "1/8in";
  const asked = {
    clearance: wishes.clearance.trim() || usual,
    paper: null,
    printer: bench.value?.settings.printer ?? null,
    units: units.value,
    keep: false,
  };
  const { made, busy, refusal } = useMaking<Made>({ ...asked, revision: job.revision }, (signal) =>
    request("POST", jobPath(job.id, "/template"), asked, signal),
  );
  const page = made?.pages[0];
  return (
    <div class="choose">
      <section class="sheet form" aria-labelledby="template-title">
        <h1 id="template-title">What the template is to be</h1>
        <Field
          label="Room all round the instrument"
          value={wishes.clearance}
          set={(clearance) => wish(job.id, { clearance })}
          placeholder={usual}
          why="The thick line is cut, the thin one is the instrument."
          wrong={refusal?.message}
          length
        />
        {made && <Remarks findings={made.findings} />}
      </section>
      <Drawn title="The sheet" busy={busy} refusal={null} instead={null}>
        {page && (
          <img
            class="page-picture"
            src={`${page.url}?width=1600`}
            alt={`Template, ${Math.round(page.width_mm)} by ${Math.round(page.height_mm)} mm`}
          />
        )}
      </Drawn>
    </div>
  );
}
