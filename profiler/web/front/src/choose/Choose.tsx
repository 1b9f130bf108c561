/** Choose: room, linings, stations and box; the drawings follow while one types. */

import { useEffect, useState } from "preact/hooks";
import { request } from "../api/http";
import type { CaseMade, Job, Made, OptionGroup, Place } from "../api/types";
import { Choices, Field } from "../kit/field";
import { Remarks } from "../kit/words";
import { useMaking } from "../kit/making";
import { sayTrouble } from "../state/notices";
import { go } from "../state/route";
import { bench, jobPath, units } from "../state/store";
import { wish, wishesOf, type Which } from "../state/kept";
import { Options } from "./Options";
import { PlanDrawing } from "./PlanDrawing";
import { Section } from "./Section";

export function Choose({ job }: { job: Job }) {
  const which = wishesOf(job.id).which;
  const setWhich = (now: Which) => wish(job.id, { which: now });
  if (!job.can.template && !job.can.case)
    return (
      <div class="column">
        <section class="sheet marked">
          <h1>Nothing to choose yet</h1>
          <p>Choices come after measuring: there has to be an outline first.</p>
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
          ]}
        />
        <button type="button" class="next" onClick={() => go({ view: "job", id: job.id, step: "print" })}>
          To the pages
        </button>
      </div>
      {which === "case" ? <CaseChoice job={job} /> : <TemplateChoice job={job} />}
    </div>
  );
}

function CaseChoice({ job }: { job: Job }) {
  const [groups, setGroups] = useState<OptionGroup[]>([]);
  const [picked, setPicked] = useState<string | null>(null);
  useEffect(() => {
    request<{ groups: OptionGroup[] }>("GET", "/api/case/options")
      .then((got) => setGroups(got.groups))
      .catch(sayTrouble);
  }, []);
  const { options } = wishesOf(job.id);
  const set = (name: string, value: unknown) => {
    const now = { ...options };
    if (value === undefined) delete now[name];
    else now[name] = value;
    wish(job.id, { options: now });
  };
  const asked = { options, units: units.value, keep: false };
  const { made, busy, refusal } = useMaking<CaseMade>(
    { ...asked, revision: job.revision },
    (signal) => request("POST", jobPath(job.id, "/case"), asked, signal),
  );
  const wrong =
    refusal && typeof refusal.detail["option"] === "string"
      ? { option: refusal.detail["option"], message: refusal.message }
      : null;
  const places = (refusal ? refusal.detail["where"] : made?.where) as Place[] | undefined;
  const stations =
    made?.stations ??
    made?.plan.stations.map((s) => ({
      key: s.name,
      label: s.name,
      x: s.x - made.plan.instrument.tail_at[0],
    })) ??
    [];
  const movable = groups.some((g) => g.options.some((o) => o.name === "station"));
  const move = (key: string, x: number) => {
    const kept = Array.isArray(options["station"]) ? (options["station"] as string[]) : [];
    const others = kept.filter((entry) => !entry.startsWith(`${key}=`));
    set("station", [...others, `${key}=${x.toFixed(1)}mm`]);
  };
  return (
    <div class="choose">
      <section class="sheet form" aria-labelledby="case-title">
        <h1 id="case-title">What the case is to be</h1>
        <p class="small faint">
          An empty field takes the usual value, shown in it. Lengths as on your rule: 6, 6mm, 1/4in.
        </p>
        <Options groups={groups} values={options} set={set} units={units.value} wrong={wrong} />
        {Object.keys(options).length > 0 && (
          <div>
            <button type="button" class="quiet" onClick={() => wish(job.id, { options: {} })}>
              Back to the usual values
            </button>
          </div>
        )}
      </section>
      <section class="sheet marked drawn" aria-labelledby="drawing-title" aria-busy={busy}>
        <div class="section-head">
          <h2 id="drawing-title">From above</h2>
          <span class="small faint" role="status">
            {busy ? "drawing …" : ""}
          </span>
        </div>
        {refusal && (
          <p class="wrong-box" role="alert">
            {refusal.message}
            {made && <span class="faint"> The drawing still shows the last case that was possible.</span>}
          </p>
        )}
        {made && (
          <>
            <PlanDrawing
              plan={made.plan}
              units={units.value}
              places={places ?? []}
              refused={refusal !== null}
              stations={stations}
              picked={picked}
              pick={setPicked}
              {...(movable ? { move } : {})}
            />
            <Section made={made} picked={picked} />
          </>
        )}
      </section>
      {made && (
        <section class="sheet more" aria-label="What comes out">
            <dl class="summary">
              {made.summary.map(([name, value]) => (
                <div key={name}>
                  <dt>{name}</dt>
                  <dd>{value}</dd>
                </div>
              ))}
            </dl>
            <Drawings made={made} />
            <Remarks findings={made.findings} />
        </section>
      )}
    </div>
  );
}

function Drawings({ made }: { made: CaseMade }) {
  const [name, setName] = useState<string | null>(null);
  const now = made.drawings.find((d) => d.name === name) ?? made.drawings[0];
  if (!now) return null;
  return (
    <div class="drawings">
      <label>
        Drawing
        <select value={now.name} onChange={(event) => setName(event.currentTarget.value)}>
          {made.drawings.map((d) => (
            <option key={d.name} value={d.name}>
              {d.label}
            </option>
          ))}
        </select>
      </label>
      <img class="drawing" src={now.url} alt={`Drawing: ${now.label}`} />
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
      <section class="sheet marked drawn" aria-labelledby="template-drawing" aria-busy={busy}>
        <div class="section-head">
          <h2 id="template-drawing">The sheet</h2>
          <span class="small faint" role="status">
            {busy ? "drawing …" : ""}
          </span>
        </div>
        {page && (
          <img
            class="page-picture"
            src={`${page.url}?width=1600`}
            alt={`Template, ${Math.round(page.width_mm)} by ${Math.round(page.height_mm)} mm`}
          />
        )}
      </section>
    </div>
  );
}
