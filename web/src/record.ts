/** The record of a visit: small entries, added and never altered, and what they add up to.
 * The rule is the server's, held to it by shared vectors; docs/record.md tells it in words. */

export type Json = null | boolean | number | string | readonly Json[] | { readonly [key: string]: Json };
export type Fields = { readonly [key: string]: Json };

interface Stamp {
  readonly id: string;
  readonly visit: string;
  readonly clock: string;
  readonly device: string;
  readonly author: string;
  readonly made: string;
}

export interface SetEntry extends Stamp {
  readonly do: "set";
  readonly kind: string;
  readonly of: string;
  readonly fields: Fields;
}

export interface UndoEntry extends Stamp {
  readonly do: "undo";
  readonly undoes: string;
}

export type Entry = SetEntry | UndoEntry;

/** What the entries add up to: fields by kind and id, in list order. */
export type State = ReadonlyMap<string, ReadonlyMap<string, Fields>>;

interface Thing {
  readonly kind: string;
  readonly of: string;
  readonly live: Record<string, Json>;
  readonly written: Record<string, Json>;
  seen: boolean;
  struck: boolean;
}

export function addUp(entries: Iterable<Entry>): State {
  const ordered = [...new Map([...entries].map((e) => [e.id, e])).values()].sort(byClock);
  const undone = undoneIds(ordered);
  const things = new Map<string, Thing>();
  for (const entry of ordered) {
    if (entry.do === "set") take(things, entry, !undone.has(entry.id));
  }
  return present([...things.values()]);
}

function byClock(a: Entry, b: Entry): number {
  return compare(a.clock, b.clock) || compare(a.id, b.id);
}

function compare(a: string, b: string): number {
  if (a === b) return 0;
  return a < b ? -1 : 1;
}

/** The ids of entries that a live undo, coming later, has undone. */
function undoneIds(ordered: readonly Entry[]): Set<string> {
  const place = new Map(ordered.map((entry, i) => [entry.id, i]));
  const undone = new Set<string>();
  for (let i = ordered.length - 1; i >= 0; i -= 1) {
    const entry = ordered[i] as Entry;
    if (entry.do !== "undo" || undone.has(entry.id)) continue;
    if ((place.get(entry.undoes) ?? i) < i) undone.add(entry.undoes);
  }
  return undone;
}

function take(things: Map<string, Thing>, entry: SetEntry, live: boolean): void {
  const key = `${entry.kind}\n${entry.of}`;
  let thing = things.get(key);
  if (!thing) {
    thing = { kind: entry.kind, of: entry.of, live: {}, written: {}, seen: false, struck: false };
    things.set(key, thing);
  }
  Object.assign(thing.written, entry.fields);
  if (entry.fields["struck"] === true || entry.fields["gone"] === true) thing.struck = true;
  if (live) {
    Object.assign(thing.live, entry.fields);
    thing.seen = true;
  }
}

function present(things: readonly Thing[]): State {
  const standing = things
    .map((thing) => ({ thing, fields: absentOut(thing.seen ? thing.live : thing.written) }))
    .filter(({ fields }) => Object.keys(fields).length > 0);
  const kept = namedByReadings(standing);
  const state = new Map<string, Map<string, Fields>>();
  for (const { thing, fields } of standing) {
    const reading = thing.kind === "reading";
    const stays = thing.seen && fields["gone"] !== true;
    if (!stays && !reading && !kept.has(`${thing.kind}\n${thing.of}`)) continue;
    delete fields["gone"];
    if (reading && (thing.struck || !thing.seen)) fields["struck"] = true;
    const list = state.get(thing.kind) ?? new Map<string, Fields>();
    list.set(thing.of, fields);
    state.set(thing.kind, list);
  }
  return state;
}

function absentOut(fields: Record<string, Json>): Record<string, Json> {
  return Object.fromEntries(Object.entries(fields).filter(([, value]) => value !== null));
}

const FURTHER: readonly (readonly [string, string])[] = [["setup", "instrument"], ["station", "area"]];

/** What readings name stays: their stations with their areas, setups with their instruments, finishes. */
function namedByReadings(standing: readonly { readonly thing: Thing; readonly fields: Fields }[]): Set<string> {
  const kept = new Set<string>();
  for (const { thing, fields } of standing) {
    if (thing.kind !== "reading") continue;
    for (const name of ["station", "setup", "finish"]) kept.add(`${name}\n${String(fields[name])}`);
  }
  for (const { thing, fields } of standing) {
    for (const [kind, name] of FURTHER) {
      if (thing.kind === kind && kept.has(`${kind}\n${thing.of}`)) kept.add(`${name}\n${String(fields[name])}`);
    }
  }
  return kept;
}
