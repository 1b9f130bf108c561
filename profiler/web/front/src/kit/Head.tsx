/** The steel rule along the top (on the phone: the foot), with a mark for each step. */

import type { ComponentChildren } from "preact";
import { bench, change, job, openId, setSettings, units } from "../state/store";
import { go, pathOf, route, type Route } from "../state/route";
import { Icon } from "./icons";

interface Mark {
  words: string;
  to: Route | null;
}

function marks(): Mark[] {
  const id = openId() ?? job.value?.id ?? null;
  const at = (step: "look" | "choose" | "print"): Route | null =>
    id === null ? null : { view: "job", id, step };
  const start: Route = { view: "start" };
  return [
    { words: "Photos", to: openId() ? { view: "job", id: openId()!, step: "photos" } : start },
    { words: "Look", to: at("look") },
    { words: "Choose", to: at("choose") },
    { words: "Print", to: at("print") },
    { words: "Archive", to: { view: "archive", number: null } },
  ];
}

function stepNow(now: Route): number {
  if (now.view === "archive") return 4;
  if (now.view === "job") return ["photos", "look", "choose", "print"].indexOf(now.step);
  return now.view === "start" ? 0 : -1;
}

export function Link(props: {
  to: Route;
  children: ComponentChildren;
  class?: string;
  current?: boolean;
  label?: string;
}) {
  return (
    <a
      href={pathOf(props.to)}
      class={props.class}
      aria-current={props.current ? "step" : undefined}
      aria-label={props.label}
      onClick={(event) => {
        if (event.ctrlKey || event.metaKey || event.shiftKey || event.button) return;
        event.preventDefault();
        go(props.to);
      }}
    >
      {props.children}
    </a>
  );
}

export function Head() {
  const now = stepNow(route.value);
  const open = openId() ? job.value : null;
  const settings = bench.value?.settings;
  const dark = settings?.look ?? "auto";
  const nextLook = dark === "auto" ? "light" : dark === "light" ? "dark" : "auto";
  return (
    <header class="head">
      <Link to={{ view: "start" }} class="whose" label="All jobs">
        <b dir="auto">{open ? open.name || "Unnamed job" : "profiler"}</b>
        <span dir="auto">{open ? open.customer || "all jobs" : "measuring bench"}</span>
      </Link>
      <nav class="rule" aria-label="Steps">
        {now >= 0 && (
          <span class="slider" aria-hidden="true" style={{ transform: `translateX(${now * 100}%)` }} />
        )}
        <ol>
          {marks().map((mark, n) => (
            <li key={mark.words}>
              {mark.to ? (
                <Link to={mark.to} current={n === now}>
                  <span class="n" aria-hidden="true">
                    {n + 1}
                  </span>
                  {mark.words}
                </Link>
              ) : (
                <span class="shut" aria-disabled="true" title="Open a job first">
                  <span class="n" aria-hidden="true">
                    {n + 1}
                  </span>
                  {mark.words}
                </span>
              )}
            </li>
          ))}
        </ol>
      </nav>
      <div class="sides">
        <button
          type="button"
          aria-label={`Lengths in ${units.value === "mm" ? "millimetres" : "inches"}. Change`}
          title="Millimetres or inches"
          onClick={() => {
            const now = units.value === "mm" ? "in" : "mm";
            void setSettings({ units: now });
            // the job's own pages are worded in it too
            if (open && !open.work && open.units !== now) void change("PATCH", "", { units: now });
          }}
        >
          {units.value}
        </button>
        <button
          type="button"
          aria-label={`Light: ${LOOKS[dark]}. Change to ${LOOKS[nextLook]}`}
          title={`Light: ${LOOKS[dark]}`}
          onClick={() => void setSettings({ look: nextLook })}
        >
          <Icon sign={dark === "dark" ? "lamp" : "sun"} />
          {dark === "auto" ? <span aria-hidden="true">auto</span> : null}
        </button>
        <Link to={{ view: "mat" }} class="button quiet bench-link" current={route.value.view === "mat"}>
          Mat
          <span class="unseen">, cards and printers</span>
        </Link>
      </div>
    </header>
  );
}

const LOOKS = { auto: "as the system has it", light: "day", dark: "lamp" } as const;
