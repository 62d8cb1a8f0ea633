/** The firm's houses: searched, narrowed, and a page at a time. */

import { useEffect, useState } from "preact/hooks";

import { ask, type VisitInfo } from "../api";
import type { VisitRow } from "../db";
import { Choice, Field } from "../parts";
import { database } from "../visit";
import { day, useAsked, wordsOf } from "./asking";
import { sendAll } from "./leaving";
import { Box, StateMark, STATES, Told } from "./parts";

interface Row extends VisitInfo {
  readonly inspector: string;
  readonly state: string;
  readonly finding: string;
}

interface Found {
  readonly visits: readonly Row[];
  readonly next: string | null;
}

const EMPTY = { search: "", state: "", inspector: "", finding: "", instrument: "", from: "", to: "" };
type Asked = typeof EMPTY;
const FINDINGS = ["nothing unusual", "keep watching", "ask an engineer", "readings not sufficient"];
const PAGE = 30;
const PAUSE_MS = 200;

export function FirmHouses() {
  const [asked, setAsked] = useState<Asked>(EMPTY);
  const [rows, setRows] = useState<readonly Row[] | null>(null);
  const [next, setNext] = useState<string | null>(null);
  const [only, setOnly] = useState<readonly VisitRow[]>([]);
  const [told, setTold] = useState("");
  useEffect(() => void sendAll(), []);
  const narrowed = Object.entries(asked).some(([name, value]) => name !== "search" && value !== "");
  useEffect(() => {
    let current = true;
    const timer = setTimeout(() => {
      setTold("");
      void here(asked, narrowed).then((found) => { if (current) setOnly(found); });
      find(asked, "")
        .then((found) => { if (current) { setRows(found.visits); setNext(found.next); } })
        .catch(async (error: unknown) => {
          const kept = await here(asked, narrowed, true);
          if (!current) return;
          setTold(error instanceof TypeError ? "The server cannot be reached. These houses are on this device." : wordsOf(error));
          setOnly(kept);
          setRows([]);
          setNext(null);
        });
    }, rows === null ? 0 : PAUSE_MS);
    return () => { current = false; clearTimeout(timer); };
  }, [asked]);
  const more = (): void => {
    find(asked, next ?? "").then((found) => { setRows([...(rows ?? []), ...found.visits]); setNext(found.next); }).catch((error: unknown) => setTold(wordsOf(error)));
  };
  const set = (name: keyof Asked) => (value: string): void => setAsked({ ...asked, [name]: value });
  return (
    <>
      <div class="row">
        <a class="button main" href="#/new">New house</a>
        <a class="button" href="#/import">From a file</a>
      </div>
      <Field label="Search" type="search" value={asked.search} change={set("search")} />
      <Filters asked={asked} set={set} clear={narrowed ? () => setAsked({ ...EMPTY, search: asked.search }) : null} />
      <Told>{told}</Told>
      {rows === null && <p>Looking…</p>}
      {rows?.length === 0 && only.length === 0 && !told && <p>{narrowed || asked.search ? "No house fits this." : "No house yet. Start with a new one."}</p>}
      <ul class="houses">
        {only.map((row) => (
          <li key={row.id}>
            <a href={`#/${row.id}/plan`}><strong>{row.label || "House without a name"}</strong><span>{row.since ? row.date : "On this device only"}</span></a>
          </li>
        ))}
        {rows?.map((row) => <li key={row.id}><House row={row} /></li>)}
      </ul>
      {next && <button type="button" class="wide" onClick={more}>More houses</button>}
    </>
  );
}

function House({ row }: { readonly row: Row }) {
  return (
    <a href={`#/${row.id}/${row.state === "draft" ? "plan" : "review"}`}>
      <strong>{row.label || "House without a name"}</strong>
      <span>{[day(row.date), row.address].filter(Boolean).join(" · ")}</span>
      <span>{[row.inspector, `${row.stations} stations`, row.finding].filter(Boolean).join(" · ")}</span>
      <span><StateMark state={row.state} /></span>
    </a>
  );
}

interface FiltersProps {
  readonly asked: Asked;
  readonly set: (name: keyof Asked) => (value: string) => void;
  readonly clear: (() => void) | null;
}

function Filters({ asked, set, clear }: FiltersProps) {
  const people = useAsked<{ people: { name: string }[] }>("/api/people").found?.people ?? [];
  const instruments = useAsked<{ instruments: { name: string }[] }>("/api/instruments").found?.instruments ?? [];
  return (
    <details class="filters">
      <summary>{clear ? "Narrowed down" : "Narrow down"}</summary>
      <div class="row fields">
        <Choice label="State" value={asked.state} change={set("state")} options={[["", "Any"], ...STATES]} />
        <Choice label="Finding" value={asked.finding} change={set("finding")} options={[["", "Any"], ...FINDINGS.map((each): [string, string] => [each, each])]} />
        <Box label="Inspector" value={asked.inspector} change={set("inspector")} choices={people.map((each) => each.name)} />
        <Box label="Instrument" value={asked.instrument} change={set("instrument")} choices={instruments.map((each) => each.name)} />
        <Box label="Visited from" type="date" value={asked.from} change={set("from")} />
        <Box label="Visited until" type="date" value={asked.to} change={set("to")} />
      </div>
      {clear && <button type="button" onClick={clear}>Show all again</button>}
    </details>
  );
}

function find(asked: Asked, after: string): Promise<Found> {
  const query = new URLSearchParams(Object.entries({ ...asked, after }).filter(([, value]) => value.trim() !== ""));
  query.set("limit", String(PAGE));
  return ask<Found>(`/api/visits?${query}`);
}

/** Houses of this device that the server has not seen; with `every`, all that are here. */
async function here(asked: Asked, narrowed: boolean, every = false): Promise<readonly VisitRow[]> {
  if (narrowed && !every) return [];
  const words = asked.search.toLowerCase().split(/\s+/);
  return (await (await database()).getAll("visits"))
    .filter((row) => (every || row.since === 0) && words.every((word) => `${row.label} ${row.date}`.toLowerCase().includes(word)))
    .sort((a, b) => (a.updated < b.updated ? 1 : -1));
}
