/** The frame round every page: which house, what is saved, undo, and the ways between pages. */

import { useEffect } from "preact/hooks";
import type { ComponentType } from "preact";

import { follow, link, waiting } from "./background";
import { single, text } from "./fields";
import { installed, offlineWhy, renewApp } from "./install";
import { later } from "./later";
import { Compare } from "./pages/compare";
import { Details } from "./pages/details";
import { Distress } from "./pages/distress";
import { History } from "./pages/history";
import { Houses, NewHouse } from "./pages/houses";
import { Leave } from "./pages/leave";
import { PlanPage } from "./pages/plan";
import { Readings } from "./pages/readings";
import { Report } from "./pages/report";
import { route } from "./route";
import { canUndo, loaded, open, openVisit, problem, state, underway, undo } from "./visit";

const PAGES: readonly (readonly [string, string, ComponentType])[] = [
  ["plan", "Plan", PlanPage],
  ["readings", "Readings", Readings],
  ["distress", "Distress", Distress],
  ["leave", "Before you leave", Leave],
  ["report", "Findings", Report],
  ["details", "House", Details],
];
const Importing = later(() => import("./pages/importing").then((page) => page.Importing));
const Exporting = later(() => import("./pages/exporting").then((page) => page.Exporting));
/** Pages that others lead to. */
const FURTHER: readonly (readonly [string, string, ComponentType])[] = [
  ["history", "History", History],
  ["compare", "Compare", Compare],
  ["import", "Bring in", Importing],
  ["export", "Files for others", Exporting],
];
/** Pages of no house, by the word in their address. */
const BARE_FIRST: readonly [string, ComponentType] = ["Houses", Houses];
const BARE = new Map<string, readonly [string, ComponentType]>([["new", ["New house", () => <NewHouse />]], ["import", ["From a file", Importing]]]);

export function App() {
  const { visit, page } = route.value;
  useEffect(() => {
    if (!visit) openVisit.value = "";
    else if (visit !== openVisit.value) void open(visit).then(() => follow(visit));
    else void follow(visit);
  }, [visit]);
  const shown = [...PAGES, ...FURTHER].find(([name]) => name === page);
  const [name, Start] = BARE.get(page) ?? BARE_FIRST;
  const title = visit ? (shown?.[1] ?? "Plan") : name;
  useEffect(() => {
    document.title = `${title} · Levelbook`;
  }, [title]);
  if (!visit) return <Bare title={title} page={page}><Start /></Bare>;
  const Page = shown?.[2] ?? PlanPage;
  return (
    <div class="frame">
      <Header />
      <nav aria-label="Pages of this house">
        {PAGES.map(([name, words]) => (
          <a key={name} href={`#/${visit}/${name}`} {...(name === page ? { "aria-current": "page" as const } : {})}>{words === "Before you leave" ? <><span class="long">Before you leave</span><span class="short">Leaving</span></> : words}</a>
        ))}
      </nav>
      <main class={`page-${page}`} key={page + visit} id="content">
        <Told />
        {loaded.value === visit && openVisit.value === visit ? <Page /> : <p class="working">Opening…</p>}
      </main>
    </div>
  );
}

function Bare({ title, page, children }: { readonly title: string; readonly page: string; readonly children: preact.ComponentChildren }) {
  return (
    <div class="frame bare">
      <header><a class="mark" href="#/">Levelbook</a></header>
      <main class={`page-${page || "houses"}`}>
        <h1>{title}</h1>
        <Told />
        {children}
      </main>
    </div>
  );
}

function Header() {
  const label = text(single(state.value, "property"), "label") || "House";
  return (
    <header>
      <a class="mark" href="#/" aria-label="All houses">‹</a>
      <p class="house">{label}</p>
      <Saved />
      <button type="button" class="undo" disabled={!canUndo.value} onClick={() => void undo()}>Undo</button>
    </header>
  );
}

function Saved() {
  const words = {
    saved: "All saved",
    sending: "Saving…",
    offline: waiting.value ? `Offline · ${waiting.value} kept here` : "Offline",
    refused: "Not sent",
  };
  const now = link.value === "saved" && underway.value ? "sending" : link.value;
  return <p class={`saved ${now}`} role="status">{words[now]}</p>;
}

function Told() {
  return (
    <>
      {problem.value && (
        <div class="note warn" role="alert">
          {problem.value} <button type="button" onClick={() => { problem.value = ""; }}>Close</button>
        </div>
      )}
      {installed.value === "newer" && (
        <div class="note" role="status">
          A newer version is ready. What you wrote stays. <button type="button" onClick={renewApp}>Change to it</button>
        </div>
      )}
      {offlineWhy && !route.value.visit && <p class="note">{offlineWhy}</p>}
    </>
  );
}
