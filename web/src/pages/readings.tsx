/** Taking readings: where you stand, the keypad, and the floor as it comes out. */

import { useMemo, useState } from "preact/hooks";

import { fresh, live } from "../background";
import { all, nextName, point, readings, single, text, type Point } from "../fields";
import type { PlanUnit } from "../lengths";
import { Note } from "../parts";
import { planModel } from "../plan/model";
import { PlanView } from "../plan/PlanView";
import { areaAt, changesFor, closingStation, nextSetup, proposal, type Target } from "../taking";
import { act, openVisit, state, suffix, write } from "../visit";
import { doubt, shown } from "../written";
import { FinishChips, keptFinish, type Underfoot } from "./finish_chips";
import { Keypad } from "./keypad";
import { Questioned } from "./questioned";
import { ReadingList } from "./reading_list";

const REASONS = ["bed", "cabinet", "appliance", "stored goods", "locked room", "other"];

interface Chosen {
  readonly target: Target;
  /** The reading that the next one replaces. */
  readonly instead?: string;
  readonly why?: string;
}

export function Readings() {
  const now = state.value;
  const floor = live.value;
  const units = single(now, "units");
  const [unit, plane]: [string, PlanUnit] = [text(units, "level") || "in", text(units, "plan") === "m" ? "m" : "ft"];
  const [chosen, setChosen] = useState<Chosen | null>(null);
  const [finish, setFinish] = useState<Underfoot | null>(keptFinish(openVisit.value, now));
  const [told, setTold] = useState("");
  const [reasons, setReasons] = useState(false);
  const next = useMemo(() => proposal(now, floor, plane), [now, floor, plane]);
  const target = chosen?.target ?? next;
  const at = placeOf(target);
  const isFresh = fresh.value;
  const model = useMemo(
    () => ({ ...planModel(now, floor, isFresh, unit), here: at, next: next && "at" in next ? next.at : null }),
    [now, floor, isFresh, unit, at?.[0], at?.[1], next],
  );
  const setup = [...all(now, "setup").keys()].at(-1) ?? "A";
  const last = text(readings(now).at(-1)?.[1], "station");
  const tap = (place: Point, station: string | null): void => {
    const area = station ? null : areaAt(now, place, plane);
    setTold(station || area ? "" : "Tap inside a floor of the plan.");
    if (station) setChosen({ target: { station } });
    else if (area) setChosen({ target: { at: place, area } });
  };
  const save = (value: string): void => {
    if (!finish) return setTold("Choose what is underfoot first.");
    if (!target) return setTold("Tap the plan where you stand.");
    setTold("");
    const taken = { value, finish: finish.id, finishName: finish.name, setup, ...(chosen?.instead ? { instead: chosen.instead } : {}) };
    void act(() => {
      const place = chosen?.target ?? proposal(state.value, live.value, plane);
      return place ? changesFor(state.value, place, taken, suffix.value) : [];
    });
    setChosen(null);
  };
  const tie = (): void => {
    const from = all(now, "setup").get(setup);
    void write({ kind: "setup", of: nextSetup(now, suffix.value), fields: { instrument: text(from, "instrument") } });
    setChosen({ target: { station: last }, why: "tie: read it again from the new setup" });
  };
  const notReached = (reason: string): void => {
    if (!at) return;
    const name = nextName(all(now, "mark").keys(), "mark", suffix.value);
    void write({ kind: "mark", of: name, fields: { kind: "not-reached", at: [...at], label: `not reached: ${reason}` } });
    setReasons(false);
    setChosen(null);
  };
  const check = closingStation(now, setup);
  if (!all(now, "area").size) return <Note>Draw the outline of the floor first, on the page <a href={`#/${openVisit.value}/plan`}>Plan</a>.</Note>;
  return (
    <div class="split">
      <h1 class="sr">Readings</h1>
      <div class="stage">
        <PlanView model={model} label="Plan of the house. Tap where you stand, or a station to read it again." tap={tap} />
        <Questioned unit={unit} again={(reading, station) => setChosen({ target: { station }, instead: reading, why: "read again" })} />
      </div>
      <section class="sheet" aria-label="Reading">
        <LiveLine unit={unit} area={areaOf(target)} />
        {told && <div role="alert"><Note kind="warn">{told}</Note></div>}
        <FinishChips chosen={finish} choose={setFinish} />
        <Keypad unit={unit} title={titleOf(target, chosen)} ready={finish !== null && target !== null} place={JSON.stringify(target)} save={save} />
        <div class="row once">
          <button type="button" disabled={!last} onClick={() => {
            setFinish(null);
            setChosen({ target: { station: last }, why: "pair: choose the other finish" });
          }}>Pair</button>
          <button type="button" disabled={!last} onClick={tie}>New setup, tie</button>
          <button type="button" disabled={!check} onClick={() => check && setChosen({ target: { station: check }, why: "closing check" })}>Closing check</button>
          <button type="button" aria-expanded={reasons} disabled={!at} onClick={() => setReasons(!reasons)}>Not reached</button>
          {chosen && <button type="button" onClick={() => setChosen(null)}>Go on at the next place</button>}
        </div>
        {reasons && <div class="chips" role="group" aria-label="Why it could not be reached">{REASONS.map((r) => <button key={r} type="button" class="chip" onClick={() => notReached(r)}>{r}</button>)}</div>}
        <ReadingList unit={unit} again={(reading, station) => setChosen({ target: { station }, instead: reading, why: "read again" })} />
      </section>
    </div>
  );
}

function placeOf(target: Target | null): Point | null {
  if (!target) return null;
  return "at" in target ? target.at : point(all(state.value, "station").get(target.station), "at");
}

function areaOf(target: Target | null): string {
  if (!target) return "";
  return "area" in target ? target.area : text(all(state.value, "station").get(target.station), "area");
}

function titleOf(target: Target | null, chosen: Chosen | null): string {
  if (!target) return "Every place is read. Tap the plan to read more.";
  if ("station" in target) return `Station ${target.station}${chosen?.why ? `, ${chosen.why}` : ", once more"}`;
  const name = nextName(all(state.value, "station").keys(), "", suffix.value);
  return `Station ${name}${chosen ? ", where you tapped" : ", proposed place"}`;
}

/** The floor in one line: its range with its doubt, and whether that is of now. */
function LiveLine({ unit, area }: { readonly unit: string; readonly area: string }) {
  const shape = live.value?.areas[area];
  const many = readings(state.value).length;
  const count = many === 1 ? "1 reading" : `${many} readings`;
  const age = fresh.value ? "" : " · older, being renewed";
  if (!shape?.range) {
    const needs = shape?.needs ? `; the shape needs ${shape.needs} stations` : "";
    return <p class="live" role="status">{count}{needs}</p>;
  }
  return (
    <p class="live" role="status">
      {area}: highest to lowest <strong>{shown(shape.range.value, unit)} {doubt(shape.range.sd, unit)} {unit}</strong> (95 %) · {count}{age}
    </p>
  );
}
