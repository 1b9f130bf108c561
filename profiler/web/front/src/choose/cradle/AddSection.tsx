/** One more section of the neck: by a word, from a gauge's photo, or between two others. */

import { useCallback, useEffect, useState } from "preact/hooks";
import type { Job, Shape, Units } from "../../api/types";
import { Choices, Field, Select, Tick } from "../../kit/field";
import { shown } from "../../kit/lengths";
import { emptied, keepDraft, keptDraft, untouched, type Draft } from "./draft";
import { GaugeDrop } from "./GaugeDrop";
import { layAside, sendSection, sent, take, type Sent } from "./sending";
import { SentSections } from "./SentSections";
import type { Told } from "./shape";

const NO_PHOTO = "There is no photo yet: drop one, or choose one.";

export function AddSection({ job, shape, units }: { job: Job; shape: Shape; units: Units }) {
  const [draft, setDraft] = useState<Draft>(() => keptDraft(job));
  const [wrong, setWrong] = useState<Told | null>(null);
  useEffect(() => keepDraft(job, draft), [draft]);
  const alter = (change: Partial<Draft>) => setDraft((now) => ({ ...now, ...change }));
  const takeFile = useCallback((file: File) => setDraft((now) => ({ ...now, file })), []);
  const mine = sent.value.filter((one) => one.job === job.id);
  const { how, fields, from, word, tracing, head, flush, tips, file } = draft;
  const field = (name: string, label: string, why?: string, placeholder = "") => (
    <Field
      label={label}
      value={fields[name] ?? ""}
      set={(text) => setDraft((now) => ({ ...now, fields: { ...now.fields, [name]: text } }))}
      why={why}
      placeholder={placeholder}
      wrong={wrong?.option === name ? wrong.message : null}
      length
    />
  );
  const add = () => {
    if (how === "gauge" && !file) return setWrong({ option: null, message: NO_PHOTO });
    setWrong(null);
    void sendSection(job, draft, units);
    // the next one can be typed while this one is on its way
    setDraft(emptied(draft));
  };
  const mend = (one: Sent) => {
    take(one.id);
    if (!untouched(draft)) layAside(job, draft);
    setDraft(one.draft);
    setWrong(one.trouble);
  };
  // refused while nothing else was typed: it is in the form again, to be mended there
  const back = untouched(draft) ? mine.find((one) => one.trouble !== null) : undefined;
  useEffect(() => {
    if (back) mend(back);
  }, [back?.id]);
  const neck = shape.neck;
  return (
    <form
      class="add-section"
      onSubmit={(event) => {
        event.preventDefault();
        add();
      }}
    >
      <Choices
        legend="A section of the neck"
        value={how}
        set={(now) => alter({ how: now })}
        choices={[
          ["word", "By a word"],
          ["gauge", "Gauge photo"],
          ...(shape.sections.length > 1 ? ([["between", "Between two"]] as const) : []),
        ]}
      />
      {how === "gauge" && <GaugeDrop file={file} take={takeFile} />}
      <div class="fields">
        {field(
          "at",
          "Station",
          neck ? `On the neck: ${shown(neck[0], units)} to ${shown(neck[1], units)} from the tail, or “nut”.` : undefined,
        )}
        <Select
          label="Counted from"
          value={from}
          set={(now) => alter({ from: now })}
          choices={[
            ["tail", "the tail"],
            ["nut", "the nut"],
          ]}
        />
        {how === "word" && (
          <Select label="Shape" value={word} set={(now) => alter({ word: now })} choices={shape.shapes.map((s) => [s, s] as const)} />
        )}
        {field("depth", "Depth there", "With calipers, from the top of the fingerboard: 22, or 22±0.3.")}
        {field("width", "Width there", "The outline's, where nothing is typed.")}
        {field("face_height", "Fingerboard above the bench", "What a card on it showed, where nothing is typed.")}
        {how === "gauge" && field("needle_height", "Needles above the mat", "Their middle; half of a card on the gauge's bar, or 6 mm.")}
      </div>
      {how === "gauge" && (
        <details>
          <summary>More about the photo</summary>
          <div class="fields">
            <Tick label="It is a tracing or a cut-out card" on={tracing} set={(on) => alter({ tracing: on })} />
            <Tick label="Seen from the head, face up" on={head} set={(on) => alter({ head: on })} />
            <Tick label="Needles beside the neck stood level with the face" on={flush} set={(on) => alter({ flush: on })} />
            <Select
              label="Needles' tips"
              value={tips}
              set={(now) => alter({ tips: now })}
              choices={["round", "flat", "sharp"].map((t) => [t, t] as const)}
            />
            {field("pitch", "Needle to needle", "Found in the photo, where nothing is typed.")}
          </div>
        </details>
      )}
      {wrong && wrong.message && wrong.option === null && (
        <p class="wrong-box" role="alert">
          {wrong.message}
        </p>
      )}
      <div>
        <button type="submit">{how === "gauge" ? "Read the section" : "Add the section"}</button>
      </div>
      <SentSections list={mine} mend={mend} drop={(one) => take(one.id)} />
    </form>
  );
}
