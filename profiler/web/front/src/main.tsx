import { render } from "preact";
import { App } from "./App";
import { listen } from "./state/events";
import { keepLight } from "./state/light";
import { sayTrouble } from "./state/notices";
import { followHistory, route } from "./state/route";
import { loadBench, loadJobs } from "./state/store";
import "./styles/tokens.css";
import "./styles/base.css";
import "./styles/shell.css";
import "./styles/look.css";
import "./styles/views.css";

async function begin(): Promise<void> {
  followHistory();
  keepLight();
  render(<App />, document.getElementById("page")!);
  if (route.value.view === "join") return;
  try {
    await loadBench();
    await loadJobs();
  } catch (error) {
    sayTrouble(error);
  }
  listen();
}

void begin();
