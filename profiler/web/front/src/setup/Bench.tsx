/** What is printed once: the mat, the cards; and the printers that printed them. */

import { useState } from "preact/hooks";
import { request } from "../api/http";
import { PrinterCheck, usePrinters } from "../print/Printers";
import { sayTrouble } from "../state/notices";
import { bench, setSettings } from "../state/store";
import { CardSheet, MatSheet, UprightSheet } from "./Targets";

export function Bench() {
  const state = bench.value;
  if (!state) return <p role="status">Looking at the bench …</p>;
  return (
    <div class="column">
      <h1>Mat, cards and printers</h1>
      <div class="two even">
        <MatSheet key={`mat ${JSON.stringify(state.mat)}`} />
        <CardSheet key={`cards ${JSON.stringify(state.cards)}`} />
      </div>
      <div class="two even">
        <UprightSheet key={`upright ${JSON.stringify(state.upright ?? null)}`} />
        <Printers />
      </div>
      <div>
        <section class="sheet" aria-labelledby="folder-title">
          <h2 id="folder-title">Where things lie</h2>
          <dl class="summary">
            <div>
              <dt>Jobs</dt>
              <dd>
                <code dir="auto">{state.folder}</code>
              </dd>
            </div>
            <div>
              <dt>Archive</dt>
              <dd>
                <code dir="auto">{state.archive.shown}</code>
              </dd>
            </div>
            <div>
              <dt>Program</dt>
              <dd>profiler {state.version}</dd>
            </div>
          </dl>
        </section>
      </div>
    </div>
  );
}

function Printers() {
  const printers = usePrinters();
  const [checking, setChecking] = useState(false);
  const forget = (name: string) => {
    if (bench.value?.settings.printer === name) void setSettings({ printer: null });
    request("DELETE", "/api/printers", { name }).catch(sayTrouble);
  };
  return (
    <section class="sheet" aria-labelledby="printers-title">
      <h2 id="printers-title">Printers</h2>
      {printers.length === 0 ? (
        <p class="faint">None was checked with a rule yet.</p>
      ) : (
        <ul class="corrections printers">
          {printers.map((p) => (
            <li key={p.name}>
              <span>
                <b dir="auto">{p.name}</b>, {p.paper}: {p.words}
              </span>
              <button type="button" class="quiet" onClick={() => forget(p.name)}>
                Forget<span class="unseen"> {p.name}</span>
              </button>
            </li>
          ))}
        </ul>
      )}
      <div>
        <button type="button" onClick={() => setChecking(true)}>
          Check a printer …
        </button>
      </div>
      {checking && <PrinterCheck printers={printers} close={() => setChecking(false)} />}
    </section>
  );
}
