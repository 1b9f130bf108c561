/** The case: its wishes, and what becomes of them from above and from the front. */

import { useEffect, useState } from "preact/hooks";
import { request } from "../api/http";
import type { CaseMade, Job, OptionGroup, Plan } from "../api/types";
import { shown } from "../kit/lengths";
import { useMaking } from "../kit/making";
import { Remarks } from "../kit/words";
import { sayTrouble } from "../state/notices";
import { wish, wishesOf } from "../state/kept";
import { jobPath, units } from "../state/store";
import { Drawings } from "./Drawings";
import { Drawn, FormHead, toDrawing } from "./Drawn";
import { FrontDrawing } from "./FrontDrawing";
import { misfitOf } from "./misfit";
import { remarked, type Remarked } from "./remarked";
import { Options } from "./Options";
import { PlanDrawing, type PlanStation } from "./PlanDrawing";
import { Section } from "./Section";

/** Option of the cradles' places, as "nut=522mm"; where there is none, they stay where they are. */
const STATIONS = "station";
const NOTHING: Remarked = { marks: [], above: [], front: [] };

export function CaseChoice({ job }: { job: Job }) {
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
  const asked = { options, units: units.value, drawings: false, keep: false };
  const { made, busy, refusal } = useMaking<CaseMade>(
    { ...asked, revision: job.revision },
    (signal) => request("POST", jobPath(job.id, "/case"), asked, signal),
  );
  const option = refusal && typeof refusal.detail["option"] === "string" ? refusal.detail["option"] : null;
  const without = refusal?.detail["plan"] as Plan | undefined;
  const plan = (refusal ? without : undefined) ?? made?.plan ?? null;
  const misfit =
    without && option !== null ? misfitOf(without, option, options[option], units.value) : null;
  const told = plan && made && !refusal ? remarked(plan, made.findings) : NOTHING;
  const stations: PlanStation[] = plan ? stationsOf(made, plan) : [];
  const movable = groups.some((g) => g.options.some((o) => o.name === STATIONS));
  const move = (key: string, x: number) => {
    const kept = Array.isArray(options[STATIONS]) ? (options[STATIONS] as string[]) : [];
    const others = kept.filter((entry) => !entry.startsWith(`${key}=`));
    set(STATIONS, [...others, `${key}=${x.toFixed(1)}mm`]);
  };
  return (
    <>
      <div class="choose">
        <section class="sheet form" aria-labelledby="case-title">
          <FormHead id="case-title" title="What the case is to be" />
          <Options
            groups={groups}
            values={options}
            set={set}
            units={units.value}
            wrong={refusal && option !== null ? { option, message: refusal.message } : null}
          />
          {Object.keys(options).length > 0 && (
            <div>
              <button type="button" class="quiet" onClick={() => wish(job.id, { options: {} })}>
                Back to the usual values
              </button>
            </div>
          )}
        </section>
        <Drawn
          title="From above and from the front"
          busy={busy}
          refusal={refusal}
          instead={
            !plan ? null : without ? "Drawn is the case without that wish." : "Drawn is the last case that was possible."
          }
        >
          {plan && (
            <>
              <p class="small sizes">{sizes(plan)}</p>
              <PlanDrawing
                plan={plan}
                units={units.value}
                places={misfit?.places ?? []}
                spots={told.above}
                refused={refusal !== null}
                stations={stations}
                picked={picked}
                pick={setPicked}
                {...(movable ? { move } : {})}
              />
              <FrontDrawing plan={plan} units={units.value} misfit={misfit} spots={told.front} />
              {made && <Section made={made} picked={picked} />}
            </>
          )}
        </Drawn>
      </div>
      {made && !refusal && (
        <section class="sheet" aria-label="What comes out">
          <dl class="summary">
            {made.summary.map(([name, value]) => (
              <div key={name}>
                <dt>{name}</dt>
                <dd>{value}</dd>
              </div>
            ))}
          </dl>
          <Stations plan={made.plan} />
          <Drawings job={job} options={options} />
          <Remarks findings={made.findings} marks={told.marks} raise={toDrawing} />
        </section>
      )}
    </>
  );
}

/** The box in one line: what the saw and the shelf want to know first. */
function sizes({ box }: Plan): string {
  const of = (name: string, lengths: readonly number[]) =>
    `${name} ${lengths.map((mm) => shown(mm, units.value)).join(" × ")}`;
  return `${of("Inside", box.inside)}; ${of("outside", box.outside)}; ${of("lid", [box.lid])}`;
}

function stationsOf(made: CaseMade | null, plan: Plan): PlanStation[] {
  if (made?.stations) return made.stations;
  return plan.stations.map((s) => ({
    key: s.name,
    label: s.name,
    x: s.x - plan.instrument.tail_at[0],
  }));
}

/** Where cradles may stand, and how much room each has: for making them by hand. */
function Stations({ plan }: { plan: Plan }) {
  return (
    <details>
      <summary>Stations for cradles</summary>
      <table>
        <thead>
          <tr>
            <th scope="col">Station</th>
            <th scope="col">From the tail board</th>
            <th scope="col">Room across</th>
            <th scope="col">Above the floor</th>
          </tr>
        </thead>
        <tbody>
          {plan.stations.map((s) => (
            <tr key={s.name}>
              <th scope="row">{s.name}</th>
              <td>{shown(s.x, units.value)}</td>
              <td>{shown(s.room, units.value)}</td>
              <td>{shown(s.lift, units.value)}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </details>
  );
}
