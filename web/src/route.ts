/** Which page is shown: `#/`, `#/new`, `#/import`, `#/<visit>/<page>`. */

import { signal } from "@preact/signals";

export interface Route {
  readonly visit: string;
  readonly page: string;
}

function read(): Route {
  const [visit = "", page = ""] = location.hash.replace(/^#\/?/, "").split("/").map(decodeURIComponent);
  if (visit === "" || visit === "new" || visit === "import") return { visit: "", page: visit };
  return { visit, page: page || "plan" };
}

export const route = signal<Route>(read());
addEventListener("hashchange", () => {
  route.value = read();
  scrollTo(0, 0);
});

export function go(visit: string, page: string): void {
  location.hash = visit ? `#/${visit}/${page}` : `#/${page}`;
}
