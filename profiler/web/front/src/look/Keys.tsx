/** The keys of the board, to be looked up. */

import { Dialog } from "../kit/dialog";

const KEYS: readonly (readonly [string, string])[] = [
  ["← → ↑ ↓", "push the photo; with Shift further"],
  ["+  −", "zoom"],
  ["0", "the whole photo"],
  ["1", "single px"],
  [".  ,", "along the edge, forward and back; with Shift point by point"],
  ["with Move: ← → ↑ ↓", "move that place by 1 px of the photo, with Shift by 10"],
  ["with Redraw or Leave out: Space", "set a mark at the cross, or at the place on the edge"],
  ["Enter", "finish what was begun"],
  ["Escape", "leave it as it was"],
  ["Ctrl+Z, Ctrl+Y", "undo, redo"],
];

export function Keys({ close }: { close: () => void }) {
  return (
    <Dialog title="Keys on the photo" close={close}>
      <p>Click into the photo, or go there with the tab key.</p>
      <dl class="summary">
        {KEYS.map(([key, does]) => (
          <div key={key}>
            <dt>{key}</dt>
            <dd>{does}</dd>
          </div>
        ))}
      </dl>
      <p class="small faint">
        With the mouse: drag pushes, the wheel zooms, the middle button pushes while any tool is in hand. With
        fingers: one works, two push and zoom.
      </p>
    </Dialog>
  );
}
