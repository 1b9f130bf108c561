/** Heights of the parts above the bench: from the cards, or typed from a rule. */

import { useState } from "preact/hooks";
import type { Job, PartHeight } from "../api/types";
import { Field } from "../kit/field";
import { quantityText, shown, withUnit } from "../kit/lengths";
import { bench, change, measurement, units } from "../state/store";

export function Heights({ job }: { job: Job }) {
  const parts = bench.value?.parts ?? [];
  const known = measurement.value?.heights ?? [];
  return (
    <section aria-labelledby="heights-title">
      <h2 id="heights-title">Heights above the bench</h2>
      <p class="small faint">
        What you measure with a rule goes before what the cards say. “top” is the thickest place, strings
        and bridge included: lay a straightedge over it.
      </p>
      <div class="heights">
        {parts.map((part) => (
          <Height key={part} part={part} job={job} found={known.find((h) => h.part === part)} />
        ))}
      </div>
    </section>
  );
}

function Height({ part, job, found }: { part: string; job: Job; found: PartHeight | undefined }) {
  const now = job.heights[part];
  const [text, setText] = useState<string | null>(null);
  const [u95, setU95] = useState<string | null>(null);
  const before = now ? shown(now.mm, units.value) : "";
  const beforeU = now?.u95 ? shown(now.u95, units.value) : "";
  const send = async () => {
    const wish = (text ?? before).trim();
    const doubt = (u95 ?? beforeU).trim();
    if (wish === before && doubt === beforeU) return;
    if (wish === "" && !now) return;
    const add = {
      kind: "height",
      part,
      height: wish ? withUnit(wish, units.value) : null,
      ...(wish && doubt ? { u95: withUnit(doubt, units.value) } : {}),
    };
    if (await change("POST", "/corrections", { add })) {
      setText(null);
      setU95(null);
    }
  };
  const label = part.charAt(0).toUpperCase() + part.slice(1);
  const why = now
    ? "typed"
    : found
      ? `${quantityText(found, units.value)}, ${found.source}`
      : "not measured, not typed";
  return (
    <div class="height">
      <Field
        label={label}
        value={text ?? before}
        set={setText}
        why={why}
        length
        placeholder={units.value === "mm" ? "as 22 mm" : "as 7/8 in"}
        onEnter={() => void send()}
        onLeave={() => void send()}
      />
      <Field
        label={`± of ${part}`}
        value={u95 ?? beforeU}
        set={setU95}
        length
        placeholder="±"
        onEnter={() => void send()}
        onLeave={() => void send()}
      />
    </div>
  );
}
