/** The frame round every page: which house, what is saved, undo, and the ways between pages. */

import { useEffect, useRef } from "preact/hooks";
import type { ComponentType } from "preact";

import { follow, link, waiting } from "./background";
import { BroughtNote } from "./brought_note";
import { single, text } from "./fields";
import { changes, watchChanges } from "./firm/changed";
import { begin, me, standing } from "./firm/here";
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
/** What only a firm's server has, fetched when it is needed. */
const firm = (name: keyof typeof import("./firm/pages")): ComponentType => later(() => import("./firm/pages").then((pages) => pages[name]));
const [SignIn, Invitation, FirmHouses, FirmBar, Word] = [firm("SignIn"), firm("Invitation"), firm("FirmHouses"), firm("FirmBar"), firm("Word")];
const REVIEW: readonly [string, string, ComponentType] = ["review", "Review", firm("Review")];
const FIRM_BARE = new Map<string, readonly [string, ComponentType]>([
  ["", ["Houses", FirmHouses]],
  ["due", ["What is due", firm("Due")]],
  ["instruments", ["Instruments", firm("Instruments")]],
  ["people", ["People", firm("People")]],
  ["audit", ["What was done", firm("Audit")]],
  ["account", ["Your account", firm("Account")]],
]);
/** Pages of no house, by the word in their address. */
const BARE_FIRST: readonly [string, ComponentType] = ["Houses", Houses];
const BARE = new Map<string, readonly [string, ComponentType]>([["new", ["New house", () => <NewHouse />]], ["import", ["From a file", Importing]]]);

export function App() {
  const { visit, page } = route.value;
  const at = standing.value;
  const inFirm = at === "in" || at === "ended";
  const working = inFirm || at === "own";
  const begun = useRef(false);
  useEffect(begin, []);
  useEffect(watchChanges, []);
  useEffect(() => {
    if (!working) return;
    if (!visit) openVisit.value = "";
    else if (visit !== openVisit.value) void open(visit).then(() => follow(visit));
    else void follow(visit);
  }, [visit, working, me.value?.person.id]);
  const tabs = inFirm ? [...PAGES, REVIEW] : PAGES;
  const shown = [...tabs, ...FURTHER].find(([name]) => name === page);
  const invited = page === "invitation" && at !== "own";
  const [name, Start] = invited ? ["Welcome", Invitation] as const : at === "out" ? ["Sign in", SignIn] as const : (inFirm ? FIRM_BARE.get(page) : undefined) ?? BARE.get(page) ?? (inFirm ? ["Houses", FirmHouses] as const : BARE_FIRST);
  const title = visit && working ? (shown?.[1] ?? "Plan") : name;
  useEffect(() => {
    document.title = `${title} · Levelbook`;
  }, [title]);
  useEffect(() => {
    // Where the link that led here is gone with its page, reading goes on with the new one.
    if (begun.current && document.activeElement === document.body) document.querySelector("main")?.focus({ preventScroll: true });
    begun.current = true;
  }, [visit, page]);
  if (at === "asking" && !invited) return <div class="frame bare"><header><span class="mark">Levelbook</span></header><main><p class="working">Opening…</p></main></div>;
  if (!visit || !working) return <Bare title={title} page={page} bar={inFirm && !invited}><Start key={page} /></Bare>;
  const Page = shown?.[2] ?? PlanPage;
  return (
    <div class="frame">
      <Header />
      <nav aria-label="Pages of this house" {...(inFirm ? { class: "seven" } : {})}>
        {tabs.map(([name, words]) => (
          <a key={name} href={`#/${visit}/${name}`} {...(name === page ? { "aria-current": "page" as const } : {})}>{words === "Before you leave" ? <><span class="long">Before you leave</span><span class="short">Leaving</span></> : words}</a>
        ))}
      </nav>
      <main class={`page-${page}`} key={page + visit} id="content" tabIndex={-1}>
        <Told />
        {loaded.value === visit && openVisit.value === visit ? <Page /> : <p class="working">Opening…</p>}
      </main>
    </div>
  );
}

function Bare({ title, page, bar, children }: { readonly title: string; readonly page: string; readonly bar: boolean; readonly children: preact.ComponentChildren }) {
  return (
    <div class="frame bare">
      <header><a class="mark" href="#/">Levelbook</a></header>
      {bar && <FirmBar />}
      <main class={`page-${page || "houses"}`} tabIndex={-1}>
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
  if (standing.value === "ended") return <p class="saved refused" role="status">Signed out{waiting.value ? ` · ${waiting.value} kept here` : ""}</p>;
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
      {standing.value === "ended" && (
        <div class="note warn" role="alert">
          Your session has ended. What you write is kept on this device until you sign in again. <button type="button" onClick={() => { standing.value = "out"; }}>Sign in</button>
        </div>
      )}
      {changes.value.length > 0 && <Word />}
      <BroughtNote />
      {installed.value === "newer" && (
        <div class="note" role="status">
          A newer version is ready. What you wrote stays. <button type="button" onClick={renewApp}>Change to it</button>
        </div>
      )}
      {offlineWhy && !route.value.visit && <p class="note">{offlineWhy}</p>}
    </>
  );
}
