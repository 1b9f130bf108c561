/** One instrument of the archive: what was measured, and what can be done with it again. */

import { useEffect, useState } from "preact/hooks";
import { part, request } from "../api/http";
import type { Compared, Found, FullEntry, Job, Made } from "../api/types";
import { Link } from "../kit/Head";
import { Dialog } from "../kit/dialog";
import { Field, Select } from "../kit/field";
import { shown } from "../kit/lengths";
import { useMaking } from "../kit/making";
import { Thumb } from "../kit/Thumb";
import { Figures, Remarks } from "../kit/words";
import { Files } from "../print/Files";
import { Pages } from "../print/Pages";
import { PrinterChoice } from "../print/Printers";
import { sayTrouble } from "../state/notices";
import { go } from "../state/route";
import { bench, jobs, touched, units } from "../state/store";
import { Cards } from "./Archive";
import { ByShape } from "./ByShape";
import { EditEntry } from "./EditEntry";

export function OneEntry({ number }: { number: string }) {
  const [entry, setEntry] = useState<FullEntry | null>(null);
  const [doing, setDoing] = useState<"print" | "compare" | "edit" | null>(null);
  const [like, setLike] = useState<{ said: string; found: Found[] } | null>(null);
  const [missing, setMissing] = useState<string | null>(null);
  const path = `/api/archive/${part(number)}`;
  const hint = touched.value["archive"] ?? 0;
  useEffect(() => {
    request<FullEntry>("GET", path)
      .then(setEntry)
      .catch((error: unknown) => setMissing(error instanceof Error ? error.message : ""));
  }, [path, hint]);
  const open = async () => {
    try {
      const made = await request<Job>("POST", `${path}/open`, {});
      go({ view: "job", id: made.id, step: "choose" });
    } catch (error) {
      sayTrouble(error);
    }
  };
  if (missing !== null)
    return (
      <div class="column">
        <section class="sheet marked">
          <h1>Not in the archive</h1>
          <p role="alert">{missing}</p>
          <Back />
        </section>
      </div>
    );
  if (!entry) return <p role="status">Opening …</p>;
  return (
    <div class="column">
      <Back />
      <div class="two">
        <section class="sheet marked" aria-labelledby="entry-title">
          <h1 id="entry-title" dir="auto">
            {entry.name || "Unnamed"}
          </h1>
          <div class="portrait">
            <Thumb shape={entry.outline} drawn={entry.thumbnail} />
          </div>
          <div class="numbers">
            <Figures rows={entry.rows} units={units.value} />
          </div>
          <Remarks findings={entry.findings} />
        </section>
        <div class="column">
          <section class="sheet" aria-label="What to do with it">
            <dl class="summary">
              <div>
                <dt>Number</dt>
                <dd>
                  {entry.number}, measured {entry.measured}
                </dd>
              </div>
              {(["customer", "maker", "kind", "notes"] as const).map(
                (name) =>
                  entry[name] && (
                    <div key={name}>
                      <dt>{name.charAt(0).toUpperCase() + name.slice(1)}</dt>
                      <dd dir="auto">{entry[name]}</dd>
                    </div>
                  ),
              )}
              {entry.tags.length > 0 && (
                <div>
                  <dt>Tags</dt>
                  <dd dir="auto">{entry.tags.join(", ")}</dd>
                </div>
              )}
            </dl>
            <div class="row">
              <button type="button" class="next" onClick={() => void open()}>
                Open as a job
              </button>
              <button type="button" onClick={() => setDoing("print")}>
                Print again …
              </button>
              <button type="button" onClick={() => setDoing("compare")}>
                Compare …
              </button>
              <button type="button" onClick={() => setDoing("edit")}>
                Change …
              </button>
            </div>
            <ByShape of={{ number: entry.number }} found={setLike} />
          </section>
          {entry.revisions.length > 1 && (
            <section class="sheet" aria-labelledby="revisions-title">
              <h2 id="revisions-title">Measured {entry.revisions.length} times</h2>
              <ul class="plain">
                {entry.revisions.map((r) => (
                  <li key={r.number}>
                    <Link to={{ view: "archive", number: r.number }} current={r.number === number}>
                      {r.number}
                    </Link>{" "}
                    {r.measured}
                    {r.note && <span dir="auto">: {r.note}</span>}
                  </li>
                ))}
              </ul>
            </section>
          )}
        </div>
      </div>
      {like && (
        <section class="column" aria-labelledby="like-title">
          <h2 id="like-title">
            <span role="status">{like.said}</span>
          </h2>
          <Cards entries={like.found} />
        </section>
      )}
      {doing === "print" && <PrintAgain path={path} close={() => setDoing(null)} />}
      {doing === "edit" && (
        <EditEntry
          entry={entry}
          changed={() => void request<FullEntry>("GET", path).then(setEntry).catch(sayTrouble)}
          close={() => setDoing(null)}
        />
      )}
      {doing === "compare" && <Compare entry={entry} close={() => setDoing(null)} />}
    </div>
  );
}

function Back() {
  return (
    <div>
      <Link to={{ view: "archive", number: null }} class="button">
        All of the archive
      </Link>
    </div>
  );
}

function PrintAgain({ path, close }: { path: string; close: () => void }) {
  const [clearance, setClearance] = useState("");
  const [paper, setPaper] = useState("");
  const usual = units.value === "mm" ? "3mm" : "1/8in";
  const asked = {
    clearance: clearance.trim() || usual,
    paper: paper || null,
    printer: bench.value?.settings.printer ?? null,
    units: units.value,
  };
  const { made, busy, refusal } = useMaking<Made>(asked, (signal) =>
    request("POST", `${path}/print`, asked, signal),
  );
  return (
    <Dialog title="Print again" close={close}>
      <div class="fields">
        <Field
          label="Room all round"
          value={clearance}
          set={setClearance}
          placeholder={usual}
          length
          wrong={refusal?.message}
        />
        <Select
          label="Paper"
          value={paper}
          set={setPaper}
          choices={[["", "one big page"], ...(bench.value?.papers ?? []).map((p) => [p, p] as const)]}
        />
      </div>
      <PrinterChoice />
      <p role="status">{busy ? "Making the pages …" : ""}</p>
      {made && (
        <>
          <Files files={made.files} />
          <Pages pages={made.pages} />
        </>
      )}
    </Dialog>
  );
}

function Compare({ entry, close }: { entry: FullEntry; close: () => void }) {
  const others = entry.revisions.filter((r) => r.number !== entry.number);
  const measured = (jobs.value ?? []).filter((j) => j.state === "measured");
  const [chosen, setBefore] = useState<string | null>(null);
  const before =
    chosen ??
    (others[0] ? `number ${others[0].number}` : measured[0] ? `job ${measured[0].id}` : "");
  const side = (text: string) => {
    const [kind, ...rest] = text.split(" ");
    return { [kind!]: rest.join(" ") };
  };
  const { made, busy, refusal } = useMaking<Compared>(
    before ? [before, entry.number] : null,
    (signal) =>
      request(
        "POST",
        "/api/archive/compare",
        { before: side(before), now: { number: entry.number } },
        signal,
      ),
  );
  return (
    <Dialog title={`${entry.number} beside another`} close={close}>
      <Select
        label="Compare with"
        value={before}
        set={setBefore}
        choices={[
          ...others.map((r) => [`number ${r.number}`, `${r.number}, ${r.measured}`] as const),
          ...measured.map((j) => [`job ${j.id}`, `job ${j.name || j.id}`] as const),
        ]}
      />
      {!before && <p>There is no other measurement to compare it with.</p>}
      <p role="status">{busy && before ? "Laying them over each other …" : ""}</p>
      {refusal && (
        <p class="wrong-box" role="alert">
          {refusal.message}
        </p>
      )}
      {made && (
        <>
          <p>
            <b>{made.verdict}</b>
          </p>
          <table>
            <thead>
              <tr>
                <th scope="col">Part</th>
                <th scope="col">Along</th>
                <th scope="col">Sideways</th>
                <th scope="col">±</th>
              </tr>
            </thead>
            <tbody>
              {made.parts.map((p) => (
                <tr key={p.part} class={p.moved ? "doubted" : ""}>
                  <th scope="row">{p.part}</th>
                  <td>{shown(p.along, units.value)}</td>
                  <td>{shown(p.sideways, units.value)}</td>
                  <td>{shown(p.u95, units.value)}</td>
                </tr>
              ))}
            </tbody>
          </table>
          <Pages pages={made.pages} />
          <Files files={made.files} />
        </>
      )}
    </Dialog>
  );
}
