/** Taking a reading: what is written down for it, and what comes next. */

import type { Live } from "./api";
import { all, nextName, point, points, readings, rings, single, text, type Point } from "./fields";
import { fromOutline, inside } from "./geometry";
import type { PlanUnit } from "./lengths";
import type { Fields, State } from "./record";
import type { Change } from "./visit";
import { nextPlace, SPACING, walk } from "./walk";

/** Where the next reading goes: at a station that is there, or at a new place of a floor. */
export type Target =
  | { readonly station: string }
  | { readonly at: Point; readonly area: string };

export interface Taken {
  readonly value: string;
  readonly finish: string;
  readonly finishName: string;
  readonly setup: string;
  readonly instead?: string;
}

/** The changes that write one reading down, its station with it if that is new. */
export function changesFor(state: State, target: Target, taken: Taken, suffix: string): Change[] {
  const known = "station" in target;
  const station = known ? target.station : nextName(all(state, "station").keys(), "", suffix);
  const reading = nextName(all(state, "reading").keys(), "r", suffix);
  const changes: Change[] = [];
  if (!all(state, "finish").has(taken.finish)) {
    changes.push({ kind: "finish", of: taken.finish, fields: { name: taken.finishName } });
  }
  if (!known) changes.push({ kind: "station", of: station, fields: { at: [...target.at], area: target.area } });
  const { setup, finish, value } = taken;
  changes.push({ kind: "reading", of: reading, fields: { setup, station, finish, value, time: localTime(new Date()) } });
  if (taken.instead) changes.push({ kind: "reading", of: taken.instead, fields: { struck: true, instead: reading } });
  if (!text(single(state, "reference"), "station")) changes.push({ kind: "reference", fields: { station, finish } });
  return changes;
}

/** Now, as a clock on the wall shows it, with its offset. */
export function localTime(now: Date): string {
  const offset = -now.getTimezoneOffset();
  const local = new Date(now.getTime() + offset * 60_000).toISOString().slice(0, 19);
  const [hours, minutes] = [Math.floor(Math.abs(offset) / 60), Math.abs(offset) % 60];
  return `${local}${offset < 0 ? "-" : "+"}${String(hours).padStart(2, "0")}:${String(minutes).padStart(2, "0")}`;
}

/** The floor that a place is on: the one it is in, or the nearest within a step. */
export function areaAt(state: State, at: Point, unit: PlanUnit): string | null {
  const reach = unit === "ft" ? 2 : 0.6;
  let best: string | null = null;
  let far = reach;
  for (const [id, fields] of all(state, "area")) {
    const outline = points(fields, "outline");
    if (outline.length < 3) continue;
    if (inside(outline, at) && !rings(fields, "holes").some((hole) => inside(hole, at))) return id;
    const away = fromOutline(outline, at);
    if (away < far) [best, far] = [id, away];
  }
  return best;
}

/** The proposed next place: on along the walls from the last station, then the best gaps. */
export function proposal(state: State, live: Live | null, unit: PlanUnit): Target | null {
  const last = readings(state).at(-1)?.[1];
  const current = all(state, "station").get(text(last, "station"));
  const areas = [...all(state, "area")].filter(([, fields]) => points(fields, "outline").length > 2);
  const ordered = [...areas.filter(([id]) => id === text(current, "area")), ...areas.filter(([id]) => id !== text(current, "area"))];
  for (const [id, fields] of ordered) {
    const at = inArea(state, id, fields, id === text(current, "area") ? point(current, "at") : null, unit);
    if (at) return { at, area: id };
  }
  for (const [id] of ordered) {
    const best = live?.areas[id]?.next?.[0];
    if (best && (live?.areas[id]?.largest_gap ?? 0) > SPACING[unit].most * 1.25) return { at: best, area: id };
  }
  return null;
}

function inArea(state: State, id: string, fields: Fields, from: Point | null, unit: PlanUnit): Point | null {
  const spacing = SPACING[unit];
  const stations = [...all(state, "station").values()].filter((s) => text(s, "area") === id);
  const skipped = [...all(state, "mark").values()].filter((m) => text(m, "kind") === "not-reached");
  const taken = [...stations, ...skipped].flatMap((s) => point(s, "at") ?? []) as number[];
  const pairs = Array.from({ length: taken.length / 2 }, (_, k): Point => [taken[2 * k] as number, taken[2 * k + 1] as number]);
  const holes = rings(fields, "holes");
  const places = walk(points(fields, "outline"), spacing).filter((p) => !holes.some((hole) => inside(hole, p)));
  return nextPlace(places, pairs, from, spacing.most);
}

/** The station to read again for the closing check of a setup: its first. */
export function closingStation(state: State, setup: string): string | null {
  return text(readings(state).find(([, r]) => text(r, "setup") === setup)?.[1], "station") || null;
}

/** The next letter for a setup. */
export function nextSetup(state: State, suffix: string): string {
  const names = all(state, "setup");
  for (let k = 0; ; k += 1) {
    const letter = String.fromCharCode(65 + (k % 26)).repeat(1 + Math.floor(k / 26)) + suffix;
    if (!names.has(letter)) return letter;
  }
}
