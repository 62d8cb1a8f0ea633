/** What is still missing before the house is left. Told from what is written here, and from
 * the floor as last worked out. */

import type { Live } from "./api";
import { all, points, readings, text } from "./fields";
import type { State } from "./record";
import { SPACING } from "./walk";

export interface Missing {
  readonly key: string;
  readonly words: string;
  readonly page: string;
  readonly good: boolean;
}

export function leaving(state: State, live: Live | null, unit: "ft" | "m", open: number): Missing[] {
  return [
    ...outlines(state),
    ...closings(state),
    ...coverage(live, unit),
    ...finishes(state),
    ...groups(live),
    ...garages(state),
    told("suspects", open === 0, "Every questioned reading is answered", `${open} questioned reading${open > 1 ? "s" : ""} to answer`, "readings"),
    ...photos(state),
  ];
}

function told(key: string, good: boolean, fine: string, missing: string, page: string): Missing {
  return { key, good, words: good ? fine : missing, page };
}

function outlines(state: State): Missing[] {
  const areas = [...all(state, "area")];
  const counts = areas.map(([id]) => ({ id, n: [...all(state, "station").values()].filter((s) => text(s, "area") === id).length }));
  return [
    told("outline", areas.length > 0, "The outline is drawn", "No floor is drawn", "plan"),
    ...counts.filter(({ n }) => n === 0).map(({ id }) => told(`empty ${id}`, false, "", `No station in ${id}`, "readings")),
  ];
}

/** Each setup wants its first station read again at its end. */
function closings(state: State): Missing[] {
  return [...all(state, "setup").keys()].flatMap((setup) => {
    const stations = readings(state).filter(([, r]) => text(r, "setup") === setup).map(([, r]) => text(r, "station"));
    if (stations.length < 3) return [];
    const half = stations.slice(Math.floor(stations.length / 2));
    const good = half.some((station) => stations.indexOf(station) < stations.lastIndexOf(station));
    return [told(`closing ${setup}`, good, `Setup ${setup} has its closing check`, `Setup ${setup} has no closing check: read its first station again`, "readings")];
  });
}

function coverage(live: Live | null, unit: "ft" | "m"): Missing[] {
  return Object.entries(live?.areas ?? {}).flatMap(([id, area]) => {
    if (area.too_few !== undefined) return [told(`few ${id}`, false, "", `${id} has ${area.too_few} stations; its shape needs ${area.needs}`, "readings")];
    const corners = area.missed_corners?.length ?? 0;
    const gap = area.largest_gap ?? 0;
    const most = SPACING[unit].most * 1.25;
    return [
      told(`corners ${id}`, corners === 0, `All corners of ${id} are read`, `${corners} corner${corners > 1 ? "s" : ""} of ${id} not read`, "readings"),
      told(`gap ${id}`, gap <= most, `No large gap in ${id}`, `A gap in ${id}: a place ${gap.toFixed(1)} ${unit} from any station`, "readings"),
    ];
  });
}

/** Finishes of one floor want a station read on both, or heights across them are not known. */
function finishes(state: State): Missing[] {
  const taken = readings(state).map(([, r]) => ({ finish: text(r, "finish"), station: text(r, "station") }));
  const joined = joinedFinishes(taken);
  return [...all(state, "area").keys()].flatMap((area) => {
    const here = taken.filter(({ station }) => text(all(state, "station").get(station), "area") === area);
    const parts = new Map(here.map(({ finish }) => [joined.get(finish) ?? finish, finish]));
    if (new Set(here.map(({ finish }) => finish)).size < 2) return [];
    const names = [...parts.values()].map((finish) => text(all(state, "finish").get(finish), "name") || finish);
    return [told(`pairs ${area}`, parts.size < 2, `All finishes of ${area} are paired`, `No pair yet between ${names.join(" and ")} in ${area}: read one station on both`, "readings")];
  });
}

/** Each finish with the name of the first that it is paired with, straight or by others. */
function joinedFinishes(taken: readonly { readonly finish: string; readonly station: string }[]): Map<string, string> {
  const found = new Map(taken.map(({ finish }) => [finish, finish]));
  const at = new Map<string, string>();
  for (const { finish, station } of taken) {
    const other = at.get(station);
    at.set(station, finish);
    const [a, b] = [found.get(finish), found.get(other ?? finish)];
    if (a !== b) for (const [name, first] of found) if (first === a) found.set(name, b as string);
  }
  return found;
}

function groups(live: Live | null): Missing[] {
  const names = new Set(Object.values(live?.stations ?? {}).map((s) => s.group));
  if (!live || names.size === 0) return [];
  return [told("groups", names.size < 2, "All readings are joined to one zero", `The readings fall into ${names.size} groups with no tie or finish pair between them: heights cannot be compared across`, "readings")];
}

function garages(state: State): Missing[] {
  return [...all(state, "area")].flatMap(([id, fields]) => {
    if (text(fields, "kind") !== "garage") return [];
    const good = points(fields, "vehicle_door").length === 2;
    return [told(`door ${id}`, good, `The vehicle door of ${id} is placed`, `The vehicle door of ${id} is not placed: without it the fall to the door is not judged`, "plan")];
  });
}

function photos(state: State): Missing[] {
  const without = [...all(state, "distress").values()].filter((d) => !text(d, "photo")).length;
  return all(state, "distress").size ? [told("photos", without === 0, "Every sign of distress has a photograph", `${without} sign${without > 1 ? "s" : ""} of distress without a photograph`, "distress")] : [];
}
