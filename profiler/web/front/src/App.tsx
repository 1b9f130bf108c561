/** The frame: the steel rule with its steps, the view that the address names, what has to be said. */

import { useEffect, useRef } from "preact/hooks";
import { Archive } from "./archive/Archive";
import { Choose } from "./choose/Choose";
import { Look } from "./look/Look";
import { Sheets } from "./print/Sheets";
import { Join, Phone } from "./photos/Phone";
import { Photos } from "./photos/Photos";
import { Start } from "./photos/Start";
import { Bench } from "./setup/Bench";
import { Tour, TourGuide } from "./tour/Tour";
import { Head } from "./kit/Head";
import { Notices } from "./kit/Notices";
import { go, route, type Route } from "./state/route";
import { job, loadJob, openId } from "./state/store";

export function App() {
  const now = route.value;
  const id = openId();
  useEffect(() => {
    if (id && job.peek()?.id !== id) {
      job.value = null;
      void loadJob(id);
    }
  }, [id]);
  const alone = now.view === "join";
  return (
    <>
      <a
        class="to-work"
        href="#work"
        onClick={(event) => {
          event.preventDefault();
          document.getElementById("work")?.focus();
        }}
      >
        To the work
      </a>
      {alone ? <div /> : <Head />}
      <Main route={now} />
      {!alone && <TourGuide />}
      <Notices />
    </>
  );
}

const TITLES: Record<string, string> = {
  start: "Photos",
  photos: "Photos",
  look: "Look and correct",
  choose: "Choose",
  print: "Print",
  archive: "Archive",
  tour: "First round",
  mat: "Mat, cards and printers",
  phone: "Phone",
  join: "Join",
  lost: "Not here",
};

function Main({ route: now }: { route: Route }) {
  const work = useRef<HTMLElement>(null);
  const key = now.view === "job" ? now.step : now.view;
  const open = now.view === "job" && job.value?.id === now.id ? job.value : null;
  const first = useRef(true);
  useEffect(() => {
    const name = open && open.name ? `${open.name}: ` : "";
    document.title = `${name}${TITLES[key] ?? ""} · profiler`;
  }, [key, open?.name]);
  useEffect(() => {
    // a new view is read from its start; the first one is left to the browser
    if (first.current) first.current = false;
    else work.current?.focus({ preventScroll: true });
    work.current?.scrollTo(0, 0);
  }, [key, now.view === "job" ? now.id : ""]);
  const wide = key === "look" && open !== null;
  return (
    <main id="work" ref={work} tabIndex={-1} class={wide ? "" : "page"} aria-label={TITLES[key] ?? ""}>
      {view(now)}
    </main>
  );
}

function view(now: Route) {
  switch (now.view) {
    case "start":
      return <Start />;
    case "archive":
      return <Archive number={now.number} />;
    case "tour":
      return <Tour />;
    case "mat":
      return <Bench />;
    case "phone":
      return <Phone />;
    case "join":
      return <Join />;
    case "lost":
      return (
        <div class="column">
          <div class="sheet marked">
            <h1>Nothing is kept at this address</h1>
            <div>
              <button type="button" class="next" onClick={() => go({ view: "start" })}>
                To the start
              </button>
            </div>
          </div>
        </div>
      );
    case "job": {
      const open = job.value;
      if (open?.id !== now.id)
        return (
          <div class="column" aria-busy="true">
            <p role="status">Opening the job …</p>
          </div>
        );
      if (now.step === "photos") return <Photos job={open} />;
      if (now.step === "look") return <Look key={open.id} job={open} />;
      if (now.step === "choose") return <Choose key={open.id} job={open} />;
      return <Sheets key={open.id} job={open} />;
    }
  }
}
