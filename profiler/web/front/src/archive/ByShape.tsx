/** Questions of shape: what is like it, what fits in, whose template would do. */

import { useState } from "preact/hooks";
import { Refusal, request } from "../api/http";
import type { Found } from "../api/types";
import { Field, Select, Tick } from "../kit/field";
import { sayTrouble } from "../state/notices";
import { jobs } from "../state/store";

type Question = "near" | "serves" | "fits";
type Source = { job: string } | { number: string };

export function ByShape(props: {
  found: (answer: { said: string; found: Found[] }) => void;
  /** absent: a job of the bench is chosen */
  of?: Source;
}) {
  const measured = (jobs.value ?? []).filter((j) => j.state === "measured");
  const [question, setQuestion] = useState<Question>("near");
  const [chosen, setChosen] = useState<string | null>(null);
  // the jobs may come later than this form
  const from = chosen ?? measured[0]?.id ?? "";
  const [inside, setInside] = useState("");
  const [clearance, setClearance] = useState("3mm");
  const [least, setLeast] = useState("1mm");
  const [mirrored, setMirrored] = useState(false);
  const [wrong, setWrong] = useState<string | null>(null);
  const [busy, setBusy] = useState(false);
  const source: Source | null = props.of ?? (from ? { job: from } : null);
  const ask = async () => {
    setWrong(null);
    setBusy(true);
    try {
      const body =
        question === "near"
          ? { ...source, mirrored, limit: 20 }
          : question === "serves"
            ? { ...source, clearance, least }
            : { inside: inside.trim() || source, clearance };
      const answer = await request<{ found: Found[] }>("POST", `/api/archive/${question}`, body);
      const n = answer.found.length;
      props.found({ said: n ? SAID[question](n) : "No other is.", found: answer.found });
    } catch (error) {
      if (error instanceof Refusal) setWrong(error.message);
      else sayTrouble(error);
    } finally {
      setBusy(false);
    }
  };
  return (
    <details>
      <summary>By shape</summary>
      <div class="fields">
        <Select
          label="Question"
          value={question}
          set={setQuestion}
          choices={[
            ["near", "Which is most like it?"],
            ["serves", "Whose template would do for it?"],
            ["fits", "Which instruments go in?"],
          ]}
        />
        {!props.of && (
          <Select
            label="It"
            value={from}
            set={setChosen}
            choices={[["", "no job"], ...measured.map((j) => [j.id, j.name || j.id] as const)]}
            why="A measured job of the bench."
          />
        )}
        {question === "fits" && (
          <Field
            label="Or a space"
            value={inside}
            set={setInside}
            placeholder="36in x 12in"
            why="Empty: the job's own outline."
          />
        )}
        {question !== "near" && <Field label="Room all round" value={clearance} set={setClearance} length />}
        {question === "serves" && <Field label="At least" value={least} set={setLeast} length />}
        {question === "near" && <Tick label="Turned over too" on={mirrored} set={setMirrored} />}
      </div>
      {wrong && (
        <p class="wrong-box" role="alert">
          {wrong}
        </p>
      )}
      <div>
        <button
          type="button"
          disabled={busy || (question === "fits" ? !source && !inside.trim() : !source)}
          onClick={() => void ask()}
        >
          {busy ? "Looking …" : "Look"}
        </button>
      </div>
    </details>
  );
}

const SAID: Record<Question, (n: number) => string> = {
  near: (n) => `${n} nearest, the most alike first`,
  serves: (n) => `${n} whose template would do`,
  fits: (n) => `${n} that go in`,
};
