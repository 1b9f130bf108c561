/** Mat and cards: choose a paper, print, lay a rule on the bars, type what it reads. */

import { useState } from "preact/hooks";
import { Refusal, request } from "../api/http";
import type { Bars, Cards, Made, Mat } from "../api/types";
import { Field, Select } from "../kit/field";
import { shown } from "../kit/lengths";
import { Files } from "../print/Files";
import { Pages } from "../print/Pages";
import { say, sayTrouble } from "../state/notices";
import { bench, loadBench, units } from "../state/store";

/** The name of a print's colour, or that of the usual one. */
function tintNamed(colour: string | undefined): string {
  return Object.entries(bench.value!.tints).find(([, c]) => c === colour)?.[0] ?? "blue";
}

function Ground({ tint, set }: { tint: string; set: (tint: string) => void }) {
  return (
    <Select
      label="Ground"
      value={tint}
      set={set}
      choices={Object.keys(bench.value!.tints).map((t) => [t, t] as const)}
      why="Not the instrument's own colour."
    />
  );
}

export function MatSheet() {
  const state = bench.value!;
  const [paper, setPaper] = useState(state.mat?.paper ?? state.settings.paper);
  const [width, setWidth] = useState("");
  const [height, setHeight] = useState("");
  const [roll, setRoll] = useState("");
  const [tint, setTint] = useState(tintNamed(state.mat?.tint));
  const asked = {
    paper,
    ...(paper === "roll" ? { roll_width: roll } : {}),
    ...(width.trim() ? { width } : {}),
    ...(height.trim() ? { height } : {}),
    tint,
    units: units.value,
  };
  const mat = state.mat;
  return (
    <section class="sheet" aria-labelledby="mat-title">
      <h2 id="mat-title">The mat</h2>
      {mat && (
        <p>
          On the bench: {mat.paper}, {mat.sheets} {mat.sheets === 1 ? "sheet" : "sheets"},{" "}
          {shown(mat.width, units.value)} × {shown(mat.height, units.value)}.
        </p>
      )}
      <div class="fields">
        <Select
          label="Paper"
          value={paper}
          set={setPaper}
          choices={[...state.papers.map((p) => [p, p] as const), ["roll", "from a roll"]]}
        />
        <Ground tint={tint} set={setTint} />
        {paper === "roll" && (
          <Field label="Width of the roll" value={roll} set={setRoll} length placeholder="610 mm" />
        )}
        <Field label="Whole width" value={width} set={setWidth} length placeholder="as usual" />
        <Field label="Whole height" value={height} set={setHeight} length placeholder="as usual" />
      </div>
      <Making path="/api/mat" asked={asked} name="mat" replaces={mat !== null} />
      {mat && <BarsForm path="/api/mat/bars" bars={mat.bars} file="/api/mat/files/mat.pdf" name="mat" />}
    </section>
  );
}

export function CardSheet() {
  const state = bench.value!;
  const [paper, setPaper] = useState(state.cards?.paper ?? state.card_papers[0] ?? "A4");
  const [thickness, setThickness] = useState("");
  const asked = { paper, ...(thickness.trim() ? { thickness } : {}), units: units.value };
  const cards = state.cards;
  return (
    <section class="sheet" aria-labelledby="cards-title">
      <h2 id="cards-title">The cards</h2>
      <p class="small faint">
        They tell how high the soundboard is. Paper can mark fresh varnish, shellac and oil within minutes:
        in doubt use no cards and type the heights.
      </p>
      {cards && (
        <p>
          On the bench: cards {shown(cards.thickness, units.value)} thick.
        </p>
      )}
      <div class="fields">
        <Select
          label="Paper"
          value={paper}
          set={setPaper}
          choices={state.card_papers.map((p) => [p, p] as const)}
        />
        <Field
          label="Thickness, if they are mounted"
          value={thickness}
          set={setThickness}
          length
          placeholder="paper alone"
        />
      </div>
      <Making path="/api/cards" asked={asked} name="cards" replaces={cards !== null} />
      {cards && (
        <BarsForm path="/api/cards/bars" bars={cards.bars} file="/api/cards/files/cards.pdf" name="cards" />
      )}
    </section>
  );
}

/** Sheets that stand behind the instrument for the photo from the side. */
export function UprightSheet() {
  const state = bench.value!;
  const row = state.upright ?? null;
  const [paper, setPaper] = useState(row?.paper ?? state.settings.paper);
  const [width, setWidth] = useState("");
  const [tint, setTint] = useState(tintNamed(row?.tint));
  const asked = { paper, tint, ...(width.trim() ? { width } : {}), units: units.value };
  return (
    <section class="sheet" aria-labelledby="upright-title">
      <h2 id="upright-title">The upright row</h2>
      <p class="small faint">
        Only for a photo from the side, which tells how thick the instrument is. Tape its sheets side by side
        to a board or to boxes, and stand that behind the instrument.
      </p>
      {row && (
        <p>
          On the bench: {row.paper}, {row.sheets} {row.sheets === 1 ? "sheet" : "sheets"},{" "}
          {shown(row.width, units.value)} wide.
        </p>
      )}
      <div class="fields">
        <Select label="Paper" value={paper} set={setPaper} choices={state.papers.map((p) => [p, p] as const)} />
        <Ground tint={tint} set={setTint} />
        <Field label="Whole width" value={width} set={setWidth} length placeholder="as usual" />
      </div>
      <Making path="/api/upright" asked={asked} name="upright row" replaces={row !== null} />
      {row && (
        <BarsForm
          path="/api/upright/bars"
          bars={row.bars}
          file="/api/upright/files/upright.pdf"
          name="upright"
        />
      )}
    </section>
  );
}

function Making(props: { path: string; asked: object; name: string; replaces: boolean }) {
  const [made, setMade] = useState<Made | null>(null);
  const [wrong, setWrong] = useState<string | null>(null);
  const [busy, setBusy] = useState(false);
  const make = async (keep: boolean) => {
    setBusy(true);
    setWrong(null);
    try {
      const got = await request<Made>("POST", props.path, { ...props.asked, keep });
      if (keep) {
        say(`This is the bench's ${props.name} now.`);
        await loadBench();
      } else setMade(got);
    } catch (error) {
      if (error instanceof Refusal) setWrong(error.message);
      else sayTrouble(error);
    } finally {
      setBusy(false);
    }
  };
  return (
    <>
      {wrong && (
        <p class="wrong-box" role="alert">
          {wrong}
        </p>
      )}
      <div class="row">
        <button type="button" disabled={busy} onClick={() => void make(false)}>
          Show the pages
        </button>
        <button type="button" class={props.replaces ? "" : "next"} disabled={busy} onClick={() => void make(true)}>
          {props.replaces ? `Make this the bench's ${props.name}` : `Make the ${props.name}`}
        </button>
      </div>
      {made && (
        <details open>
          <summary>
            {made.pages.length} {made.pages.length === 1 ? "page" : "pages"}
          </summary>
          <Pages pages={made.pages} />
        </details>
      )}
    </>
  );
}

export function BarsForm(props: {
  path: string;
  bars: Bars;
  file: string;
  name: string;
  done?: () => void;
}) {
  const { x: barX, y: barY } = props.bars;
  const [x, setX] = useState(barX.read === null ? "" : shown(barX.read, units.value));
  const [y, setY] = useState(barY.read === null ? "" : shown(barY.read, units.value));
  const [wrong, setWrong] = useState<string | null>(null);
  const keep = async () => {
    setWrong(null);
    try {
      await request<Mat | Cards>("POST", props.path, { x, y, units: units.value });
      say("Kept. Every later photo is measured with these readings.");
      await loadBench();
      props.done?.();
    } catch (error) {
      if (error instanceof Refusal) setWrong(error.message);
      else sayTrouble(error);
    }
  };
  return (
    <>
      <Files files={[{ name: `${props.name}.pdf`, bytes: 0, kind: "pdf", url: props.file }]} />
      <p class="small">
        Print at 100 %, “actual size”, on matt paper. Then lay a steel rule on the two long bars, outer end to
        outer end.
      </p>
      <div class="fields">
        <Field
          label={`Bar X reads (drawn ${shown(barX.nominal, units.value)})`}
          value={x}
          set={setX}
          length
        />
        <Field
          label={`Bar Y reads (drawn ${shown(barY.nominal, units.value)})`}
          value={y}
          set={setY}
          length
        />
      </div>
      {wrong && (
        <p class="wrong-box" role="alert">
          {wrong}
        </p>
      )}
      <div>
        <button type="button" disabled={!x.trim() || !y.trim()} onClick={() => void keep()}>
          Keep the readings
        </button>
      </div>
    </>
  );
}
