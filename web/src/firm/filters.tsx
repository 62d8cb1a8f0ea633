/** What the list of houses is narrowed to: state, finding, inspector, instrument and days. */

import { useState } from "preact/hooks";

import { Choice } from "../parts";
import { useAsked } from "./asking";
import { Box, STATES } from "./parts";

export const EMPTY = { search: "", state: "", inspector: "", finding: "", instrument: "", from: "", to: "" };
export type Asked = typeof EMPTY;
export type Setter = (name: keyof Asked) => (value: string) => void;

const FINDINGS = ["nothing unusual", "keep watching", "ask an engineer", "readings not sufficient"];

interface Instrument {
  readonly name: string;
  readonly serial: string;
}

export function isNarrowed(asked: Asked): boolean {
  return Object.entries(asked).some(([name, value]) => name !== "search" && value !== "");
}

interface FiltersProps {
  readonly asked: Asked;
  readonly set: Setter;
  readonly clear: (() => void) | null;
}

export function Filters({ asked, set, clear }: FiltersProps) {
  const [opened, setOpened] = useState(clear !== null);
  const names = useAsked<{ inspectors: string[] }>(opened ? "/api/inspectors" : "").found?.inspectors ?? [];
  const known = useAsked<{ instruments: Instrument[] }>(opened ? "/api/instruments" : "").found?.instruments ?? [];
  const instruments = known.map((each) => (each.serial ? [each.serial, each.name] as const : [each.name, ""] as const));
  const waiting = asked.state === "for review";
  return (
    <>
      <div class="row">
        <button type="button" aria-pressed={waiting} onClick={() => set("state")(waiting ? "" : "for review")}><span aria-hidden="true">◇{"\u00a0"}</span>For review</button>
        {clear && <button type="button" onClick={clear}>Show all again</button>}
      </div>
      <details class="filters" open={opened} onToggle={(event) => setOpened(event.currentTarget.open)}>
        <summary>{clear ? "Narrowed down" : "Narrow down"}</summary>
        <div class="row fields">
          <Choice label="State" value={asked.state} change={set("state")} options={[["", "Any"], ...STATES]} />
          <Choice label="Finding" value={asked.finding} change={set("finding")} options={[["", "Any"], ...FINDINGS.map((each): [string, string] => [each, each])]} />
          <Box label="Inspector" type="search" value={asked.inspector} change={set("inspector")} choices={names.map((each) => [each, ""])} />
          <Box label="Instrument" type="search" value={asked.instrument} change={set("instrument")} choices={instruments} />
          <Box label="Visited from" type="date" value={asked.from} change={set("from")} />
          <Box label="Visited until" type="date" value={asked.to} change={set("to")} />
        </div>
      </details>
    </>
  );
}
