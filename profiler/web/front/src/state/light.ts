/** Day or lamp: follows the system unless the user chose. */

import { effect } from "@preact/signals";
import { bench } from "./store";

export function keepLight(): void {
  const dark = matchMedia("(prefers-color-scheme: dark)");
  const set = () => {
    const wish = bench.value?.settings.look ?? "auto";
    const now = wish === "auto" ? (dark.matches ? "dark" : "light") : wish;
    document.documentElement.dataset["light"] = now;
    document.dispatchEvent(new Event("light"));
  };
  dark.addEventListener("change", set);
  effect(set);
}
