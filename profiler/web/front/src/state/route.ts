/** Which view is shown, from the address. Each view has an address, so that reload stays there. */

import { signal } from "@preact/signals";

export type Step = "photos" | "look" | "choose" | "print";
export type Route =
  | { view: "start" }
  | { view: "job"; id: string; step: Step }
  | { view: "archive"; number: string | null }
  | { view: "tour" }
  | { view: "mat" }
  | { view: "phone" }
  | { view: "join" }
  | { view: "lost" };

export const STEPS: readonly Step[] = ["photos", "look", "choose", "print"];

export function routeOf(path: string): Route {
  const [first = "", second, third] = path.split("/").filter(Boolean).map(decoded);
  if (first === "") return { view: "start" };
  if (first === "job" && second !== undefined) {
    const step = STEPS.find((s) => s === (third ?? "photos"));
    return step ? { view: "job", id: second, step } : { view: "lost" };
  }
  // an address with a dot would be taken for a file's
  if (first === "archive")
    return { view: "archive", number: second?.replaceAll("-", ".") ?? null };
  if (first === "tour" || first === "mat" || first === "phone" || first === "join")
    return { view: first };
  return { view: "lost" };
}

function decoded(part: string): string {
  try {
    return decodeURIComponent(part);
  } catch {
    return part;
  }
}

export function pathOf(route: Route): string {
  switch (route.view) {
    case "start":
      return "/";
    case "job":
      return `/job/${encodeURIComponent(route.id)}/${route.step}`;
    case "archive":
      return route.number
        ? `/archive/${encodeURIComponent(route.number.replaceAll(".", "-"))}`
        : "/archive";
    default:
      return `/${route.view}`;
  }
}

export const route = signal<Route>(routeOf(globalThis.location?.pathname ?? "/"));

export function go(to: Route, replace = false): void {
  const path = pathOf(to);
  if (path !== location.pathname)
    history[replace ? "replaceState" : "pushState"](null, "", path);
  route.value = to;
}

export function followHistory(): void {
  addEventListener("popstate", () => {
    route.value = routeOf(location.pathname);
  });
}
