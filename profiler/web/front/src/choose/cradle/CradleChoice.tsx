/** The cradle: pieces, linings and stations; the drawing and the cut follow the hand. */

import { useEffect, useState } from "preact/hooks";
import { request } from "../../api/http";
import type { CradleMade, Finding, FitMade, Job, OptionGroup } from "../../api/types";
import { useMaking } from "../../kit/making";
import { say, sayTrouble } from "../../state/notices";
import { redoCradle, undoCradle, wishCradle, wishesOf, type Chosen } from "../../state/kept";
import { bench, inTurn, job as openJob, jobPath, loadJob, units } from "../../state/store";
import { Drawn, FormHead, toDrawing } from "../Drawn";
import { Options } from "../Options";
import { Contacts, Pieces } from "./Contacts";
import { CradleCut } from "./CradleCut";
import { CradlePlan, type Moved } from "./CradlePlan";
import { FitCheck } from "./FitCheck";
import { withEntry, withOption } from "./lists";
import { marksOf, refusedKeys } from "./marked";
import { NeckHead } from "./NeckHead";

/** Options with places of their own in the form and in the drawing. */
const ELSEWHERE = ["pieces", "at", "lining", "clearance", "stock"];
/** ms that the hand rests before the pieces are planned again. */
const PATIENCE = 180;
const NO_MARKS = { marks: [], pieces: [], keys: [] };

export function CradleChoice({ job }: { job: Job }) {
  const [groups, setGroups] = useState<OptionGroup[]>([]);
  const [picked, setPicked] = useState("neck");
  const [moved, setMoved] = useState<Moved>({});
  const [found, setFound] = useState<readonly Finding[]>([]);
  useEffect(() => {
    request<{ groups: OptionGroup[] }>("GET", "/api/cradle/options")
      .then((got) => setGroups(got.groups))
      .catch(sayTrouble);
  }, []);
  const { cradle: chosen, past, future } = wishesOf(job.id);
  const set = (now: Chosen, what: string) => wishCradle(job.id, now, what);
  const asked = { options: chosen, units: units.value, drawings: false };
  const { made, busy, refusal } = useMaking<CradleMade>(
    { ...asked, revision: job.revision },
    (signal) => request("POST", jobPath(job.id, "/cradle"), asked, signal),
    PATIENCE,
  );
  // what the hand moved is where it was put until the plan has caught up
  useEffect(() => setMoved({}), [made, refusal]);
  const move = (key: string, x: number) => {
    setMoved((now) => ({ ...now, [key]: x }));
    set(withEntry(chosen, "at", key, `${x.toFixed(1)}mm`), `at ${key}`);
  };
  const option = refusal && typeof refusal.detail["option"] === "string" ? refusal.detail["option"] : null;
  const wrong = refusal && option !== null ? { option, message: refusal.message } : null;
  const rest = groups
    .map((g) => ({ ...g, options: g.options.filter((o) => !ELSEWHERE.includes(o.name)) }))
    .filter((g) => g.options.length > 0);
  const own = made?.view.stations.find((s) => s.key === picked)?.own ?? false;
  const { marks, pieces, keys } = made ? marksOf(made.view, found) : NO_MARKS;
  const show = (mark: number) => {
    const key = keys[mark];
    if (key) setPicked(key);
    toDrawing();
  };
  return (
    <>
      <div class="choose cradle-choice">
        <section class="sheet form" aria-labelledby="cradle-title">
          <FormHead id="cradle-title" title="What the cradle is to be" />
          <div class="row">
            <button type="button" disabled={past.length === 0} onClick={() => undoCradle(job.id)}>
              Undo
            </button>
            <button type="button" disabled={future.length === 0} onClick={() => redoCradle(job.id)}>
              Redo
            </button>
            {Object.keys(chosen).length > 0 && (
              <button type="button" class="quiet" onClick={() => set({}, "all")}>
                Back to the usual values
              </button>
            )}
          </div>
          <NeckHead job={job} units={units.value} />
          <Pieces chosen={chosen} set={set} plan={made?.plan ?? null} units={units.value} wrong={wrong} />
          <Contacts chosen={chosen} set={set} plan={made?.plan ?? null} units={units.value} wrong={wrong} />
          <Options
            groups={rest}
            values={chosen}
            set={(name, value) => set(withOption(chosen, name, value), name)}
            units={units.value}
            wrong={wrong}
            shut
          />
        </section>
        <Drawn
          title="From above, and cut across"
          busy={busy}
          refusal={refusal}
          instead={made ? "Drawn is the last cradle that was possible." : null}
        >
          {made && (
            <>
              <CradlePlan
                plan={made.plan}
                view={made.view}
                units={units.value}
                picked={picked}
                moved={moved}
                marks={pieces}
                refused={refusedKeys(made.view, made.plan, refusal)}
                pick={setPicked}
                move={move}
              />
              <CradleCut made={made} picked={picked} x={moved[picked] ?? null} units={units.value} />
              <p class="small faint">
                Drag a piece along the instrument by its mark
                <span class="keyed">
                  , or take it with Tab and move it with the arrow keys (with Shift, {units.value === "mm" ? "10 mm" : "about 3/8 in"})
                </span>
                .
              </p>
              {own && (
                <div>
                  <button
                    type="button"
                    class="quiet"
                    onClick={() => set(withEntry(chosen, "at", picked, null), `back ${picked}`)}
                  >
                    Put this piece back where the plan has it
                  </button>
                </div>
              )}
            </>
          )}
        </Drawn>
      </div>
      {made && !refusal && (
        <section class="sheet" aria-label="Fit check">
          <FitCheck job={job} chosen={chosen} found={setFound} marks={marks} show={show} />
          <Keep job={job} chosen={chosen} />
        </section>
      )}
    </>
  );
}

/** Into the job's folder, from where the case takes it. */
function Keep({ job, chosen }: { job: Job; chosen: Chosen }) {
  const [keeping, setKeeping] = useState(false);
  const keep = async () => {
    setKeeping(true);
    try {
      await inTurn(() =>
        request<FitMade>("POST", jobPath(job.id, "/cradle"), {
          options: chosen,
          units: units.value,
          paper: bench.value?.settings.paper ?? "A4",
          printer: bench.value?.settings.printer ?? null,
          keep: true,
          revision: (openJob.value ?? job).revision,
        }),
      );
      say("Written into the job's folder. The case takes it along.");
    } catch (error) {
      sayTrouble(error);
    } finally {
      setKeeping(false);
      await loadJob(job.id);
    }
  };
  return (
    <div class="row">
      <button type="button" disabled={keeping} onClick={() => void keep()}>
        {keeping ? "Writing …" : "Let the case take this cradle along"}
      </button>
    </div>
  );
}
