/** What a plan shows, in plain values. */

import type { Live } from "../api";
import { all, point, points, readings, rings, text, type Point } from "../fields";
import type { State } from "../record";
import { doubt, numberOf, shown } from "../written";
import { sheetOf, type Sheet } from "./sheet";

export interface PlanArea {
  readonly id: string;
  readonly kind: string;
  readonly outline: readonly Point[];
  readonly holes: readonly (readonly Point[])[];
  readonly door: readonly Point[];
}

export interface PlanStation {
  readonly id: string;
  readonly at: Point;
  readonly label: string;
  /** `level` is worked out, `raw` not yet, `bare` has no reading, `odd` is questioned. */
  readonly look: "level" | "raw" | "bare" | "odd";
}

export interface PlanModel {
  readonly areas: readonly PlanArea[];
  readonly walls: readonly (readonly Point[])[];
  readonly sections: readonly { readonly id: string; readonly line: readonly Point[] }[];
  readonly marks: readonly { readonly id: string; readonly at: Point; readonly label: string }[];
  readonly distress: readonly { readonly id: string; readonly at: Point }[];
  readonly stations: readonly PlanStation[];
  readonly contours: readonly { readonly level: number; readonly points: readonly Point[]; readonly label: string }[];
  readonly older: boolean;
  /** How sure the levels on the plan are, in words. */
  readonly doubt: string;
  readonly base: { readonly at: Point; readonly reach: number | null } | null;
  readonly draft: { readonly points: readonly Point[]; readonly closed: boolean; readonly typed: boolean } | null;
  readonly next: Point | null;
  readonly here: Point | null;
  /** The picture to trace over, unless it is hidden. */
  readonly sheet: Sheet | null;
  /** What is taken hold of, to be drawn as such: dots at its corners, a line along it. */
  readonly held: readonly Point[];
  /** How far an arrow key goes, plan units. */
  readonly step: number;
}

export function planModel(state: State, live: Live | null, fresh: boolean, unit: string): PlanModel {
  const odd = new Set((live?.suspects ?? []).filter((s) => !all(state, "answer").has(s.reading)).map((s) => s.station));
  return {
    areas: [...all(state, "area")].map(([id, fields]) => ({
      id,
      kind: text(fields, "kind"),
      outline: points(fields, "outline"),
      holes: rings(fields, "holes"),
      door: points(fields, "vehicle_door"),
    })),
    walls: [...all(state, "wall").values()].map((fields) => points(fields, "line")),
    sections: [...all(state, "section")].map(([id, fields]) => ({ id, line: points(fields, "line") })),
    marks: placed(state, "mark").map(([id, at]) => ({ id, at, label: markText(state, id) })),
    distress: placed(state, "distress").map(([id, at]) => ({ id, at })),
    stations: placed(state, "station").map(([id, at]) => stationOf(state, live, odd, unit, id, at)),
    contours: Object.values(live?.areas ?? {}).flatMap((area) =>
      (area.contours ?? []).map((line) => ({ ...line, label: shown(line.level, unit) })),
    ),
    older: !fresh,
    doubt: doubtOf(live, unit),
    base: baseOf(state),
    draft: null,
    next: null,
    here: null,
    sheet: shownSheet(state),
    held: [],
    step: text(all(state, "units").get(""), "plan") === "m" ? 0.25 : 1,
  };
}

function shownSheet(state: State): Sheet | null {
  const sheet = sheetOf(state);
  return sheet && !sheet.hidden ? sheet : null;
}

function placed(state: State, kind: string): [string, Point][] {
  return [...all(state, kind)].flatMap(([id, fields]): [string, Point][] => {
    const at = point(fields, "at");
    return at ? [[id, at]] : [];
  });
}

function markText(state: State, id: string): string {
  const fields = all(state, "mark").get(id);
  return text(fields, "label") || text(fields, "kind").replaceAll("-", " ");
}

function stationOf(state: State, live: Live | null, odd: Set<string>, unit: string, id: string, at: Point): PlanStation {
  const taken = readings(state, id);
  const level = live?.stations[id];
  if (!taken.length) return { id, at, label: "", look: "bare" };
  if (level) return { id, at, label: shown(level.level, unit), look: odd.has(id) ? "odd" : "level" };
  return { id, at, label: shown(numberOf(text(taken.at(-1)?.[1], "value")), unit), look: "raw" };
}

function baseOf(state: State): PlanModel["base"] {
  const setups = [...all(state, "setup").values()];
  const last = setups.findLast((fields) => point(fields, "base"));
  if (!last) return null;
  const reach = all(state, "instrument").get(text(last, "instrument"))?.["reach"];
  return { at: point(last, "base") as Point, reach: typeof reach === "number" ? reach : null };
}

function doubtOf(live: Live | null, unit: string): string {
  const most = Math.max(0, ...Object.values(live?.stations ?? {}).map((s) => s.sd));
  return most > 0 ? `Levels in ${unit === "in" ? "inches" : unit}, each ${doubt(most, unit)} or better (95 %)` : "";
}
