/** The tools of the board, in one strip. */

import type { Job } from "../api/types";
import { Icon, type Sign } from "../kit/icons";
import type { Tool } from "./board";

const TOOLS: readonly (readonly [Tool, Sign, string, string])[] = [
  ["push", "pan", "Look", "Push and zoom the photo"],
  ["move", "move", "Move", "Move the edge"],
  ["redraw", "redraw", "Redraw", "Redraw a stretch of the edge"],
  ["exclude", "exclude", "Leave out", "Leave a piece out"],
];

export function Tools(props: {
  tool: Tool;
  setTool: (tool: Tool) => void;
  job: Job;
  locked: boolean;
  undo: () => void;
  redo: () => void;
  zoom: number;
  bare: boolean;
  setBare: (on: boolean) => void;
  nearer: (factor: number) => void;
  whole: () => void;
  help: () => void;
}) {
  const { corrections } = props.job;
  const last = corrections.done.at(-1);
  return (
    <div class="tools" role="toolbar" aria-label="Tools" aria-orientation="vertical">
      {TOOLS.map(([tool, sign, words, long]) => (
        <button
          key={tool}
          type="button"
          aria-pressed={props.tool === tool}
          aria-label={long}
          title={long}
          disabled={tool !== "push" && props.locked}
          onClick={() => props.setTool(tool)}
        >
          <Icon sign={sign} />
          <span aria-hidden="true">{words}</span>
        </button>
      ))}
      <span class="gap" />
      <button
        type="button"
        aria-label={last ? `Undo: ${last.words}` : "Undo"}
        title={last ? `Undo: ${last.words}` : "Nothing to undo"}
        disabled={!last}
        onClick={props.undo}
      >
        <Icon sign="undo" />
        <span aria-hidden="true">Undo</span>
      </button>
      <button
        type="button"
        aria-label={corrections.redo ? `Redo: ${corrections.redo}` : "Redo"}
        title={corrections.redo ? `Redo: ${corrections.redo}` : "Nothing to redo"}
        disabled={!corrections.redo}
        onClick={props.redo}
      >
        <Icon sign="redo" />
        <span aria-hidden="true">Redo</span>
      </button>
      <span class="gap" />
      <button type="button" aria-label="Zoom in" title="Zoom in" onClick={() => props.nearer(1.6)}>
        <Icon sign="plus" />
      </button>
      <button type="button" aria-label="Zoom out" title="Zoom out" onClick={() => props.nearer(1 / 1.6)}>
        <Icon sign="minus" />
      </button>
      <button type="button" aria-label="Show the whole instrument" title="Show the whole instrument" onClick={props.whole}>
        <Icon sign="whole" />
      </button>
      <button
        type="button"
        class="bare"
        aria-pressed={props.bare}
        aria-label="Photo without lines"
        title="Photo without lines"
        onClick={() => props.setBare(!props.bare)}
      >
        <Icon sign="camera" />
      </button>
      <button type="button" aria-label="Keys" title="Keys" onClick={props.help}>
        <span aria-hidden="true">Keys</span>
      </button>
    </div>
  );
}
