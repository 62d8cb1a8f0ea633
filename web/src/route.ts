/** Which page is shown: `#/`, `#/new`, a page of no house such as `#/import`, `#/<visit>/<page>`. */

import { signal } from "@preact/signals";

export interface Route {
  readonly visit: string;
  readonly page: string;
  /** What follows the page's name in the address of a page of no house. */
  readonly rest: string;
}

const BARE = new Set(["", "new", "import", "invitation", "instruments", "due", "people", "account", "audit"]);

function read(): Route {
  const [visit = "", page = ""] = location.hash.replace(/^#\/?/, "").split("/").map(decodeURIComponent);
  if (BARE.has(visit)) return { visit: "", page: visit, rest: page };
  return { visit, page: page || "plan", rest: "" };
}

export const route = signal<Route>(read());
addEventListener("hashchange", () => {
  route.value = read();
  scrollTo(0, 0);
});

export function go(visit: string, page: string): void {
  location.hash = visit ? `#/${visit}/${page}` : `#/${page}`;
}
