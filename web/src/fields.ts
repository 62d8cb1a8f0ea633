/** Reading the fields of what was written down: each value as the kind it should be, or nothing. */

import type { Fields, Json, State } from "./record";

export type Point = readonly [number, number];

const NONE: ReadonlyMap<string, Fields> = new Map();

export function all(state: State, kind: string): ReadonlyMap<string, Fields> {
  return state.get(kind) ?? NONE;
}

export function single(state: State, kind: string): Fields {
  return all(state, kind).get("") ?? {};
}

export function text(fields: Fields | undefined, name: string): string {
  const value = fields?.[name];
  return typeof value === "string" ? value : "";
}

export function number(fields: Fields | undefined, name: string): number | null {
  const value = fields?.[name];
  return typeof value === "number" ? value : null;
}

export function isPoint(value: Json | undefined): value is Point {
  return Array.isArray(value) && value.length === 2 && value.every((v) => typeof v === "number");
}

export function point(fields: Fields | undefined, name: string): Point | null {
  const value = fields?.[name];
  return isPoint(value) ? value : null;
}

export function points(fields: Fields | undefined, name: string): readonly Point[] {
  const value = fields?.[name];
  return Array.isArray(value) ? value.filter(isPoint) : [];
}

/** Both ends of a line. */
export function pair(line: readonly Point[]): readonly [Point, Point] {
  return [line[0] as Point, line[1] as Point];
}

/** A list of rings, such as the holes of a floor. */
export function rings(fields: Fields | undefined, name: string): readonly (readonly Point[])[] {
  const value = fields?.[name];
  return Array.isArray(value) ? value.map((ring: Json) => (Array.isArray(ring) ? ring.filter(isPoint) : [])) : [];
}

export function struck(fields: Fields): boolean {
  return fields["struck"] === true;
}

/** The readings that count, of one station or of all, in the order they were taken. */
export function readings(state: State, station?: string): [string, Fields][] {
  return [...all(state, "reading")].filter(
    ([, fields]) => !struck(fields) && (station === undefined || text(fields, "station") === station),
  );
}

/** The next free name such as `12` or `r12`; other devices than the first add a mark of their own. */
export function nextName(names: Iterable<string>, prefix: string, suffix: string): string {
  let most = 0;
  for (const name of names) {
    const found = /^([a-z]*)(\d+)/i.exec(name);
    if (found && found[1] === prefix) most = Math.max(most, Number(found[2]));
  }
  return `${prefix}${most + 1}${suffix}`;
}
