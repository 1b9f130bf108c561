/** One more section of the neck: by a word, from a gauge's photo, or between two others. */

import { useCallback, useRef, useState } from "preact/hooks";
import type { Job, Shape, Units } from "../../api/types";
import { Choices, Field, Select, Tick } from "../../kit/field";
import { Progress } from "../../kit/progress";
import { shown } from "../../kit/lengths";
import { speak } from "../../state/notices";
import { GaugeDrop } from "./GaugeDrop";
import { changeShape, sendGauge, type Told } from "./shape";

type How = "word" | "gauge" | "between";
type End = "tail" | "nut";

export function AddSection({ job, shape, units }: { job: Job; shape: Shape; units: Units }) {
  const [how, setHow] = useState<How>("word");
  const [fields, setFields] = useState<Record<string, string>>({});
  const [from, setFrom] = useState<End>("tail");
  const [word, setWord] = useState("round");
  const [tracing, setTracing] = useState(false);
  const [head, setHead] = useState(false);
  const [flush, setFlush] = useState(false);
  const [tips, setTips] = useState("round");
  const [file, setFile] = useState<File | null>(null);
  const [share, setShare] = useState<number | null>(null);
  const [wrong, setWrong] = useState<Told | null>(null);
  const stop = useRef<AbortController | null>(null);
  const take = useCallback((dropped: File) => setFile(dropped), []);
  const field = (name: string, label: string, why?: string, placeholder = "") => (
    <Field
      label={label}
      value={fields[name] ?? ""}
      set={(text) => setFields((now) => ({ ...now, [name]: text }))}
      why={why}
      placeholder={placeholder}
      wrong={wrong?.option === name ? wrong.message : null}
      length
    />
  );
  const add = async () => {
    setWrong(null);
    const said = { ...fields, from, units };
    setShare(0);
    let trouble: Told | null;
    if (how === "gauge") {
      stop.current = new AbortController();
      trouble = file
        ? await sendGauge(
            job,
            file,
            {
              ...said,
              kind: tracing ? "tracing" : "gauge",
              seen_from: head ? "head" : "tail",
              flush: flush ? "true" : "",
              tips,
            },
            setShare,
            stop.current.signal,
          )
        : { option: null, message: "There is no photo yet: drop one, or choose one." };
    } else trouble = await changeShape(job, "/sections", how === "word" ? { ...said, shape: word } : said);
    setShare(null);
    setWrong(trouble);
    if (trouble === null) {
      setFields({});
      setFile(null);
      speak("The section was added.");
    }
  };
  const neck = shape.neck;
  return (
    <form
      class="add-section"
      onSubmit={(event) => {
        event.preventDefault();
        void add();
      }}
    >
      <Choices
        legend="A section of the neck"
        value={how}
        set={setHow}
        choices={[
          ["word", "By a word"],
          ["gauge", "Gauge photo"],
          ...(shape.sections.length > 1 ? ([["between", "Between two"]] as const) : []),
        ]}
      />
      {how === "gauge" && <GaugeDrop file={file} take={take} />}
      <div class="fields">
        {field(
          "at",
          "Station",
          neck ? `On the neck: ${shown(neck[0], units)} to ${shown(neck[1], units)} from the tail, or “nut”.` : undefined,
        )}
        <Select
          label="Counted from"
          value={from}
          set={setFrom}
          choices={[
            ["tail", "the tail"],
            ["nut", "the nut"],
          ]}
        />
        {how === "word" && (
          <Select label="Shape" value={word} set={setWord} choices={shape.shapes.map((s) => [s, s] as const)} />
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
            <Tick label="It is a tracing or a cut-out card" on={tracing} set={setTracing} />
            <Tick label="Seen from the head, face up" on={head} set={setHead} />
            <Tick label="Needles beside the neck stood level with the face" on={flush} set={setFlush} />
            <Select
              label="Needles' tips"
              value={tips}
              set={setTips}
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
      {share !== null && how === "gauge" ? (
        <Progress
          words={share < 1 ? "Sending the photo" : "Reading the curve in the photo"}
          share={share < 1 ? 0.5 * share : 0.6}
          stop={() => stop.current?.abort()}
        />
      ) : (
        <div>
          <button type="submit" disabled={share !== null}>
            {how === "gauge" ? "Read the section" : "Add the section"}
          </button>
        </div>
      )}
    </form>
  );
}
