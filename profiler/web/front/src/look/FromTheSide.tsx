/** What the photo from the side gave: heights along the instrument, and what was seen in it. */

import type { Job, SideRow, SideView, Units } from "../api/types";
import { quantityText, shown } from "../kit/lengths";
import { measurement, units } from "../state/store";

export function FromTheSide({ job }: { job: Job }) {
  const side = measurement.value?.side;
  if (!side) return null;
  const overlay = job.files.find((file) => file.name === "overlay-side.jpg");
  const { thickest } = side;
  const at = measurement.value?.rows.find((row) => row.key === "side:0");
  return (
    <section aria-labelledby="side-title" class="from-side">
      <h2 id="side-title">From the side</h2>
      <p>
        {thickest.value === null
          ? `The thickest place is not known: ${thickest.reason}`
          : `Thickest: ${quantityText(thickest, units.value)}${
              at?.value == null ? "" : `, at ${quantityText(at, units.value)} from the tail`
            }.`}
      </p>
      <Drawing side={side} units={units.value} />
      <p class="small faint">
        The upper and the lower line as seen, the tail to the left; the bench is the line below. Where there
        is no line nothing was seen. Heights are drawn
        twice as large as lengths.
      </p>
      {overlay && (
        <a class="seen-from-side" href={`${overlay.url}?inline=1`} target="_blank" rel="noopener">
          <img
            src={`${overlay.url}?inline=1&v=${job.revision}`}
            alt="The photo from the side with the heights that were read in it"
            loading="lazy"
          />
          <span class="small">{overlay.stale ? "From before the last change. " : ""}Open it in full</span>
        </a>
      )}
      <details>
        <summary>Heights in figures</summary>
        <div class="wide-table" tabIndex={0} role="region" aria-label="Heights, table">
          <Table side={side} units={units.value} />
        </div>
      </details>
    </section>
  );
}

/** Heights are drawn larger than lengths: they are what is looked for. */
const STEEPER = 2;
/** mm: rows further apart have something unseen between them */
const GAP = 6;

function Drawing({ side, units }: { side: SideView; units: Units }) {
  const top = Math.max(1, ...side.upper.map((row) => row[1] + row[2]));
  const width = Math.max(1, side.to - side.from);
  const high = STEEPER * top;
  const margin = width * 0.02;
  const { thickest } = side;
  const box = [side.from - margin, -high - 3 * margin, width + 2 * margin, high + 5 * margin].join(" ");
  const words = thickest.value === null ? "" : ` Thickest ${quantityText(thickest, units)}.`;
  return (
    <svg class="side-drawing" viewBox={box} role="img" aria-label={`Heights along the instrument.${words}`}>
      <line class="floor" x1={side.from} x2={side.to} y1={0} y2={0} />
      {[side.upper, side.lower].flatMap((rows, which) =>
        runs(rows).flatMap((run, n) => [
          <polygon key={`${which} ${n} band`} class="band" points={band(run)} />,
          <polyline
            key={`${which} ${n}`}
            class="line"
            points={run.map(([x, z]) => `${x},${-STEEPER * z}`).join(" ")}
          />,
        ]),
      )}
      {thickest.value !== null && thickest.x != null && (
        <line class="thickest" x1={thickest.x} x2={thickest.x} y1={0} y2={-STEEPER * thickest.value} />
      )}
    </svg>
  );
}

function runs(rows: readonly SideRow[]): SideRow[][] {
  const found: SideRow[][] = [];
  for (const row of rows) {
    const run = found.at(-1);
    const before = run?.at(-1);
    if (run && before && row[0] - before[0] <= GAP) run.push(row);
    else found.push([row]);
  }
  return found.filter((run) => run.length > 1);
}

/** The ± round a line. */
function band(run: readonly SideRow[]): string {
  const upper = run.map(([x, z, u]) => `${x},${-STEEPER * (z + u)}`);
  const lower = run.map(([x, z, u]) => `${x},${-STEEPER * (z - u)}`);
  return [...upper, ...lower.reverse()].join(" ");
}

/** mm between rows of the table */
const STEP = 25;

function Table({ side, units }: { side: SideView; units: Units }) {
  const at = (rows: readonly SideRow[], x: number) => {
    const row = rows.find((r) => Math.abs(r[0] - x) <= 1.5);
    return row ? `${shown(row[1], units)} ± ${shown(row[2], units)}, ${row[3]}` : "not seen";
  };
  const places = [];
  for (let x = Math.ceil(side.from / STEP) * STEP; x <= side.to; x += STEP) places.push(x);
  return (
    <table>
      <thead>
        <tr>
          <th scope="col">From the tail</th>
          <th scope="col">Highest</th>
          <th scope="col">Lowest</th>
        </tr>
      </thead>
      <tbody>
        {places.map((x) => (
          <tr key={x}>
            <th scope="row">{shown(x, units)}</th>
            <td>{at(side.upper, x)}</td>
            <td>{at(side.lower, x)}</td>
          </tr>
        ))}
      </tbody>
    </table>
  );
}
