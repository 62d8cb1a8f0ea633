/** The houses: a list with search, and the form for a new one. */

import { useEffect, useRef, useState } from "preact/hooks";

import { ask, type VisitInfo } from "../api";
import { brought } from "../brought";
import type { Instrument } from "../document";
import { useWork } from "../firm/asking";
import type { Change } from "../kinds";
import { markChanges } from "../mark";
import { Choice, Field, Note } from "../parts";
import { go } from "../route";
import { setTheme, theme, type Theme } from "../theme";
import { author, database, start } from "../visit";
import { hasWords } from "../words";

export function Houses() {
  const [search, setSearch] = useState("");
  const [found, setFound] = useState<Found | null>(null);
  const { busy, told: failed, work } = useWork();
  const list = useRef<HTMLUListElement>(null);
  const turn = useRef(0);
  useEffect(() => {
    const mine = ++turn.current;
    void find(search).then((told) => {
      if (mine === turn.current) setFound(told);
    });
    return () => {
      turn.current += 1;
    };
  }, [search, brought.value]);
  const more = (): void => work(async () => {
    const [mine, before] = [turn.current, found?.rows ?? []];
    const told = await page(search, found?.next ?? "");
    if (mine !== turn.current) return;
    setFound({ rows: [...before, ...told.visits], next: told.next });
    requestAnimationFrame(() => list.current?.querySelectorAll("a")[before.length]?.focus());
  });
  return (
    <>
      <div class="row">
        <a class="button main" href="#/new">New house</a>
        <a class="button" href="#/import">From a file</a>
      </div>
      <Field label="Search" type="search" value={search} change={setSearch} />
      {failed && <div role="alert"><Note kind="warn">{failed}</Note></div>}
      <div role="status">
        {found === null && <p>Looking…</p>}
        {found?.rows.length === 0 && <p>{search.trim() ? "No house fits this. Words are looked for by their beginnings." : "No house yet. Start with a new one."}</p>}
      </div>
      <ul class="houses" ref={list}>
        {found?.rows.map((row) => (
          <li key={row.id}>
            <a href={`#/${row.id}/plan`}>
              <strong>{row.label || "House without a name"}</strong>
              <span>{[row.date, row.address].filter(Boolean).join(" · ")}</span>
              <span>{row.stations ? `${row.stations} stations · ${row.readings} readings` : "on this device"}</span>
            </a>
          </li>
        ))}
      </ul>
      {found?.next && <button type="button" class="wide" disabled={busy} onClick={more}>{busy ? "Looking…" : "More houses"}</button>}
      <Choice label="Colours" value={theme.value} change={(to) => setTheme(to as Theme)}
        options={[["light", "Light"], ["dark", "Dark"], ["sun", "Sunlight: black on white, heavier"]]} />
    </>
  );
}

interface Found {
  readonly rows: readonly VisitInfo[];
  readonly next: string | null;
}

/** The server's visits, a page at a time, after those that only this device has. */
async function find(search: string): Promise<Found> {
  const here = (await (await database()).getAll("visits"))
    .filter((row) => hasWords(`${row.label} ${row.date}`, search))
    .sort((a, b) => (a.updated < b.updated ? 1 : -1));
  const there = await page(search, "").catch(() => null);
  const known = new Set(there?.visits.map((row) => row.id));
  const only = here.filter((row) => !known.has(row.id) && (row.since === 0 || !there?.next))
    .map((row): VisitInfo => ({ ...row, address: "", purpose: "", stations: 0, readings: 0 }));
  return { rows: [...only, ...(there?.visits ?? [])], next: there?.next ?? null };
}

function page(search: string, after: string): Promise<{ visits: VisitInfo[]; next: string | null }> {
  return ask(`/api/visits?${new URLSearchParams({ search, after })}`);
}

/** The form that begins a house; `then` goes on with its id. */
export function NewHouse({ then = (visit: string): void => go(visit, "plan") }) {
  const [label, setLabel] = useState("");
  const [address, setAddress] = useState("");
  const [who, setWho] = useState(author.value);
  const [units, setUnits] = useState<Measures>("in-ft");
  const [kind, setKind] = useState<Instrument["kind"]>("hydrostatic");
  const [told, setTold] = useState("");
  const submit = (event: Event): void => {
    event.preventDefault();
    if (!label.trim()) {
      setTold("Give the house a short name, as on the report.");
      return;
    }
    localStorage.setItem("levelbook-author", who.trim());
    author.value = who.trim();
    void markChanges()
      .then((mark) => start([...firstEntries({ label, address, who, units, kind }), ...mark]))
      .then(then);
  };
  return (
    <form onSubmit={submit} noValidate>
      {told && <div role="alert"><Note kind="warn">{told}</Note></div>}
      <Field label="Name of the house" value={label} change={setLabel} hint="Short, as on the report" required />
      <Field label="Address" value={address} change={setAddress} />
      <Field label="Your name" value={who} change={setWho} hint="Kept with every entry you make" />
      <Choice label="Units" value={units} change={setUnits}
        options={[["in-ft", "Readings in inches, plan in feet"], ["mm-m", "Readings in millimetres, plan in metres"]]} />
      <Choice label="Instrument" value={kind} change={setKind}
        options={[["hydrostatic", "Hydrostatic level: higher floor reads more"], ["water-level", "Water level: higher floor reads less"], ["laser-and-rod", "Laser and rod: higher floor reads less"], ["optical-level", "Optical level and rod: higher floor reads less"]]} />
      <button type="submit" class="main wide">Start</button>
    </form>
  );
}

type Measures = "in-ft" | "mm-m";

interface Begun {
  readonly label: string;
  readonly address: string;
  readonly who: string;
  readonly units: Measures;
  readonly kind: Instrument["kind"];
}

function firstEntries({ label, address, who, units, kind }: Begun): Change[] {
  const inches = units === "in-ft";
  const today = new Date();
  const date = [today.getFullYear(), today.getMonth() + 1, today.getDate()].map((n) => String(n).padStart(2, "0")).join("-");
  const instrument: Omit<Instrument, "id"> = {
    kind,
    higher_reads: kind === "hydrostatic" ? "more" : "less",
    resolution: inches ? 0.1 : 1,
    sd: inches ? 0.05 : 1.3,
    reach: inches ? 65 : 20,
  };
  return [
    { kind: "units", fields: { level: inches ? "in" : "mm", plan: inches ? "ft" : "m" } },
    { kind: "property", fields: { label: label.trim(), ...(address.trim() ? { address: address.trim() } : {}) } },
    { kind: "visit", fields: { date, purpose: "condition", ...(who.trim() ? { surveyor: who.trim() } : {}) } },
    { kind: "instrument", of: "L1", fields: instrument },
    { kind: "setup", of: "A", fields: { instrument: "L1" } },
  ];
}
