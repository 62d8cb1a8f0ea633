/** The firm's houses: searched, narrowed, and a page at a time. */

import { useEffect, useRef, useState } from "preact/hooks";

import { ask, type VisitInfo } from "../api";
import { brought } from "../brought";
import type { VisitRow } from "../db";
import { Field } from "../parts";
import { database } from "../visit";
import { hasWords } from "../words";
import { day, useWork, wordsOf } from "./asking";
import { type Asked, EMPTY, Filters, isNarrowed, type Setter } from "./filters";
import { me } from "./here";
import { sendAll } from "./leaving";
import { StateMark, Told } from "./parts";

interface Row extends VisitInfo {
  readonly inspector: string;
  readonly state: string;
  readonly finding: string;
}

interface Found {
  readonly visits: readonly Row[];
  readonly next: string | null;
  /** The days and months that the server read out of the search. */
  readonly days: readonly string[];
}

const PAGE = 30;
const PAUSE_MS = 200;
const NOTHING: Found = { visits: [], next: null, days: [] };
/** What a person last asked for: it is there again on the way back from a house. */
let last: { readonly person: string; readonly asked: Asked } = { person: "", asked: EMPTY };

export function FirmHouses() {
  const person = me.value?.person.id ?? "";
  const [asked, setAsked] = useState<Asked>(last.person === person ? last.asked : EMPTY);
  const [found, setFound] = useState<Found | null>(null);
  const [only, setOnly] = useState<readonly VisitRow[]>([]);
  const [told, setTold] = useState("");
  const further = useWork();
  const list = useRef<HTMLUListElement>(null);
  const turn = useRef(0);
  const narrowed = isNarrowed(asked);
  useEffect(() => void sendAll(), []);
  useEffect(() => {
    last = { person, asked };
    const mine = ++turn.current;
    const still = (): boolean => mine === turn.current;
    const timer = setTimeout(() => void look(asked, narrowed).then((seen) => {
      if (!still()) return;
      setTold(seen.told);
      setOnly(seen.only);
      setFound(seen.found);
    }), found === null ? 0 : PAUSE_MS);
    return () => { clearTimeout(timer); turn.current += 1; };
  }, [asked, brought.value]);
  const more = (): void => further.work(async () => {
    const [mine, before] = [turn.current, found?.visits ?? []];
    const page = await find(asked, found?.next ?? "");
    if (mine !== turn.current) return;
    setFound({ ...page, visits: [...before, ...page.visits] });
    requestAnimationFrame(() => list.current?.querySelectorAll("a")[only.length + before.length]?.focus());
  });
  const set: Setter = (name) => (value) => setAsked({ ...asked, [name]: value });
  return (
    <>
      <div class="row">
        <a class="button main" href="#/new">New house</a>
        <a class="button" href="#/import">From a file</a>
      </div>
      <Field label="Search" type="search" value={asked.search} change={set("search")} hint="Name, address, date, inspector, instrument, finding" />
      <Filters asked={asked} set={set} clear={narrowed ? () => setAsked({ ...EMPTY, search: asked.search }) : null} />
      <Told>{told || further.told}</Told>
      <Standing found={found} here={only.length} asked={narrowed || asked.search.trim() !== ""} told={told !== ""} />
      <ul class="houses" ref={list}>
        {only.map((row) => (
          <li key={row.id}>
            <a href={`#/${row.id}/plan`}><strong>{row.label || "House without a name"}</strong><span>{row.since ? day(row.date) : "On this device only"}</span></a>
          </li>
        ))}
        {found?.visits.map((row) => <li key={row.id}><House row={row} /></li>)}
      </ul>
      {found?.next && <button type="button" class="wide" disabled={further.busy} onClick={more}>{further.busy ? "Looking…" : "More houses"}</button>}
    </>
  );
}

interface StandingProps {
  readonly found: Found | null;
  readonly here: number;
  readonly asked: boolean;
  readonly told: boolean;
}

/** How many houses there are, and how a day in the search was read. */
function Standing({ found, here, asked, told }: StandingProps) {
  const number = (found?.visits.length ?? 0) + here;
  const days = found?.days.length ? `Visits of ${found.days.map(day).join(" or ")}: ` : "";
  const count = number === 1 ? "one house" : `${found?.next ? "the last " : ""}${number} houses`;
  const words = found === null ? "Looking…" : number ? `${days}${count}` : days ? `${days}none` : "";
  return (
    <div role="status">
      {words && <p class="small">{words.charAt(0).toUpperCase() + words.slice(1)}</p>}
      {found && number === 0 && !told && (asked
        ? <p>No house fits this. Words are looked for by their beginnings; a date may be written as 2026-11, 11/25/2026 or Nov 2026.</p>
        : <p>No house yet. Start with a new one.</p>)}
    </div>
  );
}

function House({ row }: { readonly row: Row }) {
  return (
    <a href={`#/${row.id}/${row.state === "draft" ? "plan" : "review"}`}>
      <strong>{row.label || "House without a name"}</strong>
      <span>{[day(row.date), row.address].filter(Boolean).join(" · ")}</span>
      <span>{[row.inspector, row.stations === 1 ? "1 station" : `${row.stations} stations`, row.finding].filter(Boolean).join(" · ")}</span>
      <span><StateMark state={row.state} /></span>
    </a>
  );
}

interface Seen {
  readonly found: Found;
  readonly only: readonly VisitRow[];
  readonly told: string;
}

/** Look on the server, and for what only this device has; without the server, here alone. */
async function look(asked: Asked, narrowed: boolean): Promise<Seen> {
  try {
    const found = await find(asked, "");
    return { found, only: await here(asked, narrowed), told: "" };
  } catch (error) {
    const told = error instanceof TypeError ? "The server cannot be reached. These houses are on this device." : wordsOf(error);
    return { found: NOTHING, only: await here(asked, narrowed, true), told };
  }
}

function find(asked: Asked, after: string): Promise<Found> {
  const query = new URLSearchParams(Object.entries({ ...asked, after }).filter(([, value]) => value.trim() !== ""));
  query.set("limit", String(PAGE));
  return ask<Found>(`/api/visits?${query}`);
}

/** Houses of this device that the server has not seen; with `every`, all that are here. */
async function here(asked: Asked, narrowed: boolean, every = false): Promise<readonly VisitRow[]> {
  if (narrowed && !every) return [];
  return (await (await database()).getAll("visits"))
    .filter((row) => (every || row.since === 0) && hasWords(`${row.label} ${row.date}`, asked.search))
    .sort((a, b) => (a.updated < b.updated ? 1 : -1));
}
