/** Look and correct: the photo on the board, the tools beside it, the numbers on a sheet. */

import { useEffect, useLayoutEffect, useRef, useState } from "preact/hooks";
import type { Job, NewCorrection } from "../api/types";
import { request } from "../api/http";
import { Icon } from "../kit/icons";
import { Progress } from "../kit/progress";
import { say, sayTrouble, speak } from "../state/notices";
import { go } from "../state/route";
import { change, jobPath, take, units, view } from "../state/store";
import { Board, type Tool } from "./board";
import { Corrections } from "./Corrections";
import { FromTheSide } from "./FromTheSide";
import { Heights } from "./Heights";
import { Keys } from "./Keys";
import { Numbers } from "./Numbers";
import { Tools } from "./Tools";

const KEYS =
  "Arrow keys push the photo, plus and minus zoom, 0 shows all, 1 single pixels. Full stop and" +
  " comma walk along the edge; with Move, arrow keys then move the point, Enter keeps, Escape" +
  " drops. With Redraw and Leave out, Space sets a mark at the cross and Enter finishes.";

export function Look({ job }: { job: Job }) {
  const picture = useRef<HTMLCanvasElement>(null);
  const lines = useRef<HTMLCanvasElement>(null);
  const board = useRef<Board | null>(null);
  const [tool, setTool] = useState<Tool>("push");
  const [snap, setSnap] = useState(true);
  const [reach, setReach] = useState(8);
  const [bare, setBare] = useState(false);
  const [line, setLine] = useState("");
  const [zoom, setZoom] = useState(1);
  const [open, setOpen] = useState(false);
  const [keys, setKeys] = useState(false);

  const shown = view.value;
  const locked = !job.can.correct && job.work?.kind !== "correct";

  useLayoutEffect(() => {
    const made = new Board(picture.current!, lines.current!, {
      correct: (correction) => void correct(correction),
      say: (words, aloud) => {
        setLine(words);
        if (aloud) speak(words);
      },
      zoom: setZoom,
    });
    board.current = made;
    return () => {
      made.close();
      board.current = null;
    };
  }, []);
  // before the next key or press, not after the next frame
  useLayoutEffect(() => {
    board.current?.show(shown);
    setLine("");
  }, [shown]);
  useLayoutEffect(() => {
    board.current?.set({ tool, snap, reachMm: reach, units: units.value, bare, locked });
  }, [tool, snap, reach, units.value, bare, locked]);

  useEffect(() => {
    if (job.refused) say(job.refused, true);
    board.current?.refuse(job.refused ? (job.refused_at ?? []) : []);
  }, [job.refused, job.revision, shown]);

  async function correct(correction: NewCorrection): Promise<void> {
    speak("Taken. The numbers follow.");
    const taken = await change("POST", "/corrections", { add: correction });
    if (!taken) board.current?.revert();
  }

  // what is wrong is brought up above the sentence that tells it
  const stopped = job.problem && !job.work ? (shown?.marks.findIndex((m) => m.level === "stop") ?? -1) : -1;
  useEffect(() => {
    if (stopped >= 0) board.current?.raise(stopped, 0.4);
  }, [stopped, shown]);

  const undo = () => void change("POST", "/undo", {});
  const redo = () => void change("POST", "/redo", {});
  useEffect(() => {
    const keys = (event: KeyboardEvent) => {
      if (!(event.ctrlKey || event.metaKey) || event.target instanceof HTMLInputElement) return;
      const key = event.key.toLowerCase();
      if (key === "z" && !event.shiftKey) undo();
      else if (key === "y" || (key === "z" && event.shiftKey)) redo();
      else return;
      event.preventDefault();
    };
    addEventListener("keydown", keys);
    return () => removeEventListener("keydown", keys);
  }, []);

  return (
    <div class={open ? "look open" : "look"}>
      <h1 class="unseen">Look and correct</h1>
      <Tools
        tool={tool}
        setTool={setTool}
        job={job}
        locked={locked}
        undo={undo}
        redo={redo}
        zoom={zoom}
        bare={bare}
        setBare={setBare}
        nearer={(f) => board.current?.nearer(f)}
        whole={() => board.current?.instrument()}
        help={() => setKeys(true)}
      />
      {keys && <Keys close={() => setKeys(false)} />}
      <div class="board">
        <div class="paper">
          <canvas ref={picture} aria-hidden="true" />
        <canvas
          ref={lines}
          class="lines"
          tabIndex={0}
          role="application"
          aria-label="The photo with the measured outline"
          aria-describedby="board-keys"
          onKeyDown={(event) => {
            if (board.current?.key(event)) {
              event.preventDefault();
              event.stopPropagation();
            }
          }}
        />
        <p id="board-keys" class="unseen">
          {KEYS}
        </p>
        <Over job={job} />
        </div>
        <ToolLine
          tool={tool}
          snap={snap}
          setSnap={setSnap}
          reach={reach}
          setReach={setReach}
          words={line}
        />
      </div>
      <button
        type="button"
        class="drawer"
        aria-expanded={open}
        aria-controls="figures"
        onClick={() => setOpen(!open)}
      >
        <Icon sign="numbers" /> {open ? "Back to the photo" : "Numbers, heights, corrections"}
      </button>
      <aside class="figures" id="figures" aria-label="Numbers and corrections">
        <Numbers
          job={job}
          raise={(mark) => {
            setOpen(false);
            board.current?.raise(mark);
          }}
        />
        <FromTheSide job={job} />
        <Corrections
          job={job}
          show={(places) => {
            setOpen(false);
            board.current?.bringUp(places);
          }}
        />
        <Heights job={job} />
        <div class="row">
          <button type="button" class="next" onClick={() => go({ view: "job", id: job.id, step: "choose" })}>
            Choose the case and template
          </button>
        </div>
      </aside>
    </div>
  );
}

/** A line at the board's foot: what the tool does, its one choice, and what the hand is doing. */
function ToolLine(props: {
  tool: Tool;
  snap: boolean;
  setSnap: (on: boolean) => void;
  reach: number;
  setReach: (mm: number) => void;
  words: string;
}) {
  const help: Record<Tool, string> = {
    push: "Follow the blue line round with your eye: it has to lie on the edge everywhere.",
    move: "Take hold of the line and pull it onto the edge.",
    redraw: "Draw along the true edge, from where the line is right to where it is right again.",
    exclude: "Draw a loop round what is not the instrument: a cable, a capo.",
  };
  return (
    <div class="tool-line">
      <span class="doing">{props.words || help[props.tool]}</span>
      {props.tool === "move" && (
        <label class="reach">
          Neighbours follow for {props.reach} mm
          <input
            type="range"
            min={2}
            max={60}
            value={props.reach}
            onInput={(event) => props.setReach(Number(event.currentTarget.value))}
          />
        </label>
      )}
      {props.tool === "redraw" && (
        <label class="tick">
          <input
            type="checkbox"
            checked={props.snap}
            onChange={(event) => props.setSnap(event.currentTarget.checked)}
          />
          Snap to the edge in the photo
        </label>
      )}
    </div>
  );
}

/** What lies over the board while there is nothing to look at, or while it is being made. */
function Over({ job }: { job: Job }) {
  const stop = () =>
    void request<Job>("POST", jobPath(job.id, "/cancel"), {}).then(take).catch(sayTrouble);
  if (job.work && job.work.kind === "measure")
    return (
      <div class="over sheet marked">
        <h2>Measuring</h2>
        <Progress words={job.work.words} share={job.work.share} stop={stop} />
      </div>
    );
  if (job.outdated && !job.problem && job.can.measure)
    return (
      <div class="over sheet marked">
        <h2>Other photos than before</h2>
        <p>What is shown was measured from photos that are not these any more.</p>
        <div class="row">
          <button type="button" class="next" onClick={() => void change("POST", "/measure", {})}>
            Measure again
          </button>
        </div>
      </div>
    );
  if (job.problem)
    return (
      <div
        class={view.value?.marks.some((m) => m.level === "stop") ? "over low sheet marked" : "over sheet marked"}
        role="alert"
      >
        <h2>It could not be measured</h2>
        <p>
          {view.value && view.value.marks.some((m) => m.level === "stop") && (
            <>
              <span class="ring-number" aria-hidden="true">
                1
              </span>
              <span class="unseen">Marked in the photo: </span>
            </>
          )}
          {job.problem.message}
        </p>
        {view.value && (
          <p class="faint">
            Something beside the instrument can be left out here: take “Leave out” and draw round it.
          </p>
        )}
        <div class="row">
          <button type="button" onClick={() => go({ view: "job", id: job.id, step: "photos" })}>
            Back to the photos
          </button>
          {job.can.measure && (
            <button type="button" class="next" onClick={() => void change("POST", "/measure", {})}>
              Measure again
            </button>
          )}
        </div>
      </div>
    );
  if (!view.value)
    return (
      <div class="over sheet marked">
        <h2>Not measured yet</h2>
        <p>
          {job.photos.length === 0
            ? "There is no photo in this job yet."
            : "The photos are there; the outline is not."}
        </p>
        <div class="row">
          <button type="button" onClick={() => go({ view: "job", id: job.id, step: "photos" })}>
            To the photos
          </button>
          {job.can.measure && (
            <button type="button" class="next" onClick={() => void change("POST", "/measure", {})}>
              Measure
            </button>
          )}
        </div>
      </div>
    );
  return null;
}
