/** Neck and headstock: what the job knows of them, and what a cradle still has to be told. */

import { useEffect, useState } from "preact/hooks";
import { request } from "../../api/http";
import type { Job, Shape, ShapeSection, Units } from "../../api/types";
import { Field } from "../../kit/field";
import { quantityText, shown } from "../../kit/lengths";
import { useMaking } from "../../kit/making";
import { Remarks } from "../../kit/words";
import { jobPath } from "../../state/store";
import { AddSection } from "./AddSection";
import { changeShape, sawShape, type Told } from "./shape";
import { say } from "../../state/notices";

const SOURCES: Record<string, string> = {
  gauge: "gauge photo",
  tracing: "tracing",
  typed: "word",
  between: "between",
};

export function NeckHead({ job, units }: { job: Job; units: Units }) {
  const { made: shape } = useMaking<Shape>(
    { id: job.id, revision: job.revision },
    (signal) => request("GET", jobPath(job.id, "/shape"), undefined, signal),
    0,
  );
  // open for the first section, and then as the hand left it
  const [open, setOpen] = useState<boolean | null>(null);
  useEffect(() => {
    if (shape) sawShape(job.id, shape);
  }, [shape]);
  if (!shape) return null;
  const change = async (rest: string, body: Record<string, unknown>) => {
    const trouble = await changeShape(job, rest, body);
    if (trouble) say(trouble.message, true);
  };
  return (
    <>
      <details
        open={open ?? shape.sections.length === 0}
        onToggle={(event) => setOpen(event.currentTarget.open)}
      >
        <summary>
          Neck's sections
          <span class="faint small chosen">{shape.sections.length || "none yet"}</span>
        </summary>
        <div class="neck-head">
          {shape.sections.length > 0 && (
            <ul class="sections">
              {shape.sections.map((s) => (
                <li key={s.name}>
                  <Small section={s} />
                  <div>
                    <b dir="auto">{s.name}</b>{" "}
                    <span class="faint small" dir="auto">
                      {SOURCES[s.source] ?? s.source}
                      {s.detail ? `: ${s.detail}` : ""}
                    </span>
                    <div class="small">
                      wide {quantityText(s.width, units)}; deep {quantityText(s.depth, units)}
                    </div>
                    <div class="small faint">face above the bench {quantityText(s.face_height, units)}</div>
                  </div>
                  <button
                    type="button"
                    class="quiet"
                    onClick={() => void change("/sections/remove", { name: s.name })}
                  >
                    Remove<span class="unseen"> {s.name}</span>
                  </button>
                  <Remarks findings={s.findings.filter((f) => f.level !== "note")} />
                </li>
              ))}
            </ul>
          )}
          {(shape.undo || shape.redo) && (
            <div class="row">
              {shape.undo && (
                <button type="button" class="quiet" onClick={() => void change("/shape/undo", {})}>
                  Undo: <span dir="auto">{shape.undo}</span>
                </button>
              )}
              {shape.redo && (
                <button type="button" class="quiet" onClick={() => void change("/shape/redo", {})}>
                  Redo: <span dir="auto">{shape.redo}</span>
                </button>
              )}
            </div>
          )}
          <AddSection job={job} shape={shape} units={units} />
        </div>
      </details>
      <details>
        <summary>
          Headstock
          <span class="faint small chosen">{shape.headstock ? "" : "not known yet"}</span>
        </summary>
        <Headstock job={job} shape={shape} units={units} />
      </details>
    </>
  );
}

function Headstock({ job, shape, units }: { job: Job; shape: Shape; units: Units }) {
  const [fields, setFields] = useState<Record<string, string>>({});
  const [wrong, setWrong] = useState<Told | null>(null);
  const known = shape.headstock;
  const field = (name: string, label: string, why: string) => (
    <Field
      label={label}
      value={fields[name] ?? ""}
      set={(text) => setFields((now) => ({ ...now, [name]: text }))}
      why={why}
      length
    />
  );
  const keep = async () => {
    const sent = fields;
    const trouble = await changeShape(job, "/headstock", { ...sent, units });
    setWrong(trouble);
    // what was typed meanwhile stays
    if (trouble === null)
      setFields((now) => Object.fromEntries(Object.entries(now).filter(([k, v]) => v !== sent[k])));
  };
  return (
    <form
      class="neck-head"
      onSubmit={(event) => {
        event.preventDefault();
        void keep();
      }}
    >
      {known && (
        <dl class="summary">
          <div>
            <dt>Tilt</dt>
            <dd>
              {known.tilt.value === null
                ? `not known: ${known.tilt.reason}`
                : `${known.tilt.value.toFixed(1)} ± ${(known.tilt.u95 ?? 0).toFixed(1)}°`}
            </dd>
          </div>
          <div>
            <dt>Thickness</dt>
            <dd>{quantityText(known.thickness, units)}</dd>
          </div>
          <div>
            <dt>Wood's lowest point</dt>
            <dd>{quantityText(known.lowest_wood, units)}</dd>
          </div>
          <div>
            <dt>Lowest of all</dt>
            <dd>{quantityText(known.lowest, units)}</dd>
          </div>
          <div>
            <dt>Edges' radius</dt>
            <dd>{quantityText(known.edge, units)}</dd>
          </div>
        </dl>
      )}
      <div class="fields">
        {field("tilt", "Tilt, degrees", "From the nut down to its end: 14, or 14±1. What a card on it showed, where nothing is typed.")}
        {field("thickness", "Thickness of the wood", "12.5, or 12.5±0.3.")}
        {field("lowest", "Lowest point above the bench", "With a rule, tuners' housings included.")}
        {field("edge", "Radius of its edges at the back", "How far they are rounded: 1, or 3±1.")}
      </div>
      {wrong && wrong.message && (
        <p class="wrong-box" role="alert">
          {wrong.message}
        </p>
      )}
      <div>
        <button type="submit">{known ? "Take these instead" : "Take it"}</button>
      </div>
    </form>
  );
}

function Small({ section }: { section: ShapeSection }) {
  const ys = section.points.map((p) => p[0]);
  const low = Math.min(...section.points.map((p) => p[1]));
  const [y0, y1] = [Math.min(...ys), Math.max(...ys)];
  const path = section.points.map(([y, z], i) => `${i ? "L" : "M"}${-y} ${-z}`).join("") + "Z";
  return (
    <svg
      class="section-thumb"
      viewBox={`${-y1 - 2} -2 ${y1 - y0 + 4} ${4 - low}`}
      role="img"
      aria-label={`Section, ${shown(y1 - y0, "mm")} wide`}
    >
      <path class="outline" d={path} />
    </svg>
  );
}
