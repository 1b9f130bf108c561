/** Printers that were checked with a rule, and the check: print bars, read them, done. */

import { useEffect, useState } from "preact/hooks";
import { Refusal, request } from "../api/http";
import type { Made, Printer } from "../api/types";
import { Dialog } from "../kit/dialog";
import { Field, Select } from "../kit/field";
import { shown } from "../kit/lengths";
import { say, sayTrouble } from "../state/notices";
import { bench, setSettings, touched, units } from "../state/store";
import { Files } from "./Files";

export function usePrinters(): Printer[] {
  const [printers, setPrinters] = useState<Printer[]>([]);
  const hint = touched.value["printers"] ?? 0;
  useEffect(() => {
    request<{ printers: Printer[] }>("GET", "/api/printers")
      .then((got) => setPrinters(got.printers))
      .catch(sayTrouble);
  }, [hint]);
  return printers;
}

export function PrinterChoice() {
  const printers = usePrinters();
  const [checking, setChecking] = useState(false);
  const now = bench.value?.settings.printer ?? null;
  const known = printers.find((p) => p.name === now);
  return (
    <div class="field">
      <Select
        label="Printer"
        value={known ? known.name : ""}
        set={(name) => void setSettings({ printer: name || null })}
        choices={[["", "not checked: drawn as it is"], ...printers.map((p) => [p.name, p.name] as const)]}
        why={known?.words}
      />
      <div>
        <button type="button" onClick={() => setChecking(true)}>
          Check a printer …
        </button>
      </div>
      {checking && <PrinterCheck printers={printers} close={() => setChecking(false)} />}
    </div>
  );
}

/** Two steps: print the bar page; type what the rule reads. */
export function PrinterCheck({ printers, close }: { printers: Printer[]; close: () => void }) {
  const [name, setName] = useState("");
  const [paper, setPaper] = useState(bench.value?.settings.paper ?? "A4");
  const [page, setPage] = useState<(Made & { nominal: { x: number; y: number } }) | null>(null);
  const [x, setX] = useState("");
  const [y, setY] = useState("");
  const [wrong, setWrong] = useState<string | null>(null);
  const [busy, setBusy] = useState(false);
  const there = printers.some((p) => p.name === name.trim());

  const attempt = async (work: () => Promise<void>) => {
    setBusy(true);
    setWrong(null);
    try {
      await work();
    } catch (error) {
      if (error instanceof Refusal) setWrong(error.message);
      else sayTrouble(error);
    } finally {
      setBusy(false);
    }
  };
  const makePage = () =>
    attempt(async () => setPage(await request("POST", "/api/printers/page", { paper })));
  const keep = () =>
    attempt(async () => {
      const kept = await request<Printer>("POST", "/api/printers", {
        name: name.trim(),
        paper,
        x,
        y,
        units: units.value,
        replace: there,
      });
      await setSettings({ printer: kept.name });
      say(`${kept.name}: ${kept.words}.`);
      close();
    });

  return (
    <Dialog title={page ? "What does the rule read?" : "Check a printer"} close={close}>
      {!page ? (
        <>
          <p>
            No printer prints quite true. Print a page with two bars, lay a steel rule on them, and every
            later sheet for this printer makes up for it.
          </p>
          <Field label="What you call the printer" value={name} set={setName} placeholder="as office, hall" max={60} />
          <Select
            label="Paper"
            value={paper}
            set={setPaper}
            choices={(bench.value?.papers ?? ["A4"]).map((p) => [p, p] as const)}
          />
          {wrong && (
            <p class="wrong-box" role="alert">
              {wrong}
            </p>
          )}
          <div class="row dialog-foot">
            <button type="button" class="next" disabled={busy || !name.trim()} onClick={() => void makePage()}>
              Make the bar page
            </button>
          </div>
        </>
      ) : (
        <>
          <Files files={page.files} />
          <p>
            Print it at 100 %, “actual size”. Then lay a steel rule on each bar, outer end to outer end, and
            type what it reads, to a tenth if you can.
          </p>
          <div class="fields">
            <Field
              label={`Bar X, across (drawn ${shown(page.nominal.x, units.value)})`}
              value={x}
              set={setX}
              length
              placeholder={shown(page.nominal.x, units.value)}
            />
            <Field
              label={`Bar Y, up the page (drawn ${shown(page.nominal.y, units.value)})`}
              value={y}
              set={setY}
              length
              placeholder={shown(page.nominal.y, units.value)}
            />
          </div>
          {there && <p class="small">“{name.trim()}” was checked before; this reading takes its place.</p>}
          {wrong && (
            <p class="wrong-box" role="alert">
              {wrong}
            </p>
          )}
          <div class="row dialog-foot">
            <button
              type="button"
              class="next"
              disabled={busy || !x.trim() || !y.trim()}
              onClick={() => void keep()}
            >
              Keep these readings
            </button>
            <button type="button" class="quiet" onClick={() => setPage(null)}>
              Back
            </button>
          </div>
        </>
      )}
    </Dialog>
  );
}
