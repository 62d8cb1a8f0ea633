/** The visit that is open: its entries, what they add up to, writing and undoing. */

import { computed, signal } from "@preact/signals";

import { type Clock, readClock, tick, writeClock } from "./clock";
import { addEntries, type Database, entriesOf, openStore } from "./db";
import { single, text } from "./fields";
import { deviceId, newId } from "./ids";
import { addUp, type Entry, type Fields, type SetEntry } from "./record";
import { visitRow } from "./sync";

export const openVisit = signal("");
export const entries = signal<readonly Entry[]>([]);
export const state = computed(() => addUp(entries.value));
export const problem = signal("");
export const author = signal(localStorage.getItem("levelbook-author") ?? "");

export interface Change {
  readonly kind: string;
  readonly of?: string;
  readonly fields: Fields;
}

let store: Promise<Database> | null = null;
let clock: Clock = { milliseconds: 0, counter: 0, device: deviceId() };
let writing: Promise<unknown> = Promise.resolve();
const others = "BroadcastChannel" in globalThis ? new BroadcastChannel("levelbook") : null;
const listeners = new Set<() => void>();

export function database(): Promise<Database> {
  store ??= openStore();
  return store;
}

/** Call `then` after every entry written here. */
export function onWrite(then: () => void): void {
  listeners.add(then);
}

/** Open a visit from the device's own store. */
export async function open(visit: string): Promise<void> {
  openVisit.value = visit;
  entries.value = [];
  await refresh(visit);
}

/** Read the open visit's entries again, after others came in. */
export async function refresh(visit: string): Promise<void> {
  const found = await entriesOf(await database(), visit);
  if (openVisit.value !== visit) return;
  for (const entry of found) clock = past(clock, entry.clock);
  entries.value = found;
}

function past(mine: Clock, seen: string): Clock {
  const other = readClock(seen);
  const later = other.milliseconds > mine.milliseconds || (other.milliseconds === mine.milliseconds && other.counter > mine.counter);
  return later ? { ...other, device: mine.device } : mine;
}

/** Write changes down as one action: on the disk first, then on the screen. */
export function write(...changes: Change[]): Promise<void> {
  return put(openVisit.value, stamp(openVisit.value, (base) =>
    changes.map(({ kind, of = "", fields }) => ({ ...base(), do: "set", kind, of, fields }))));
}

/** Start a visit of its own with these changes, and tell its id. */
export async function start(changes: readonly Change[]): Promise<string> {
  const visit = newId();
  await open(visit);
  await write(...changes);
  return visit;
}

function stamp(visit: string, make: (base: () => Omit<SetEntry, "do" | "kind" | "of" | "fields">) => Entry[]): Entry[] {
  const made = new Date().toISOString();
  return make(() => {
    clock = tick(clock, Date.now());
    return { id: newId(), visit, clock: writeClock(clock), device: clock.device, author: author.value || "unnamed", made };
  });
}

function put(visit: string, made: readonly Entry[]): Promise<void> {
  const done = writing.then(async () => {
    await addEntries(await database(), made);
    if (openVisit.value === visit) entries.value = [...entries.value, ...made];
    await tellRow(visit);
    others?.postMessage(visit);
    listeners.forEach((listener) => listener());
  });
  writing = done.catch(() => {
    problem.value = "The device could not store this. Free some space on it, and write it down again.";
  });
  return done;
}

async function tellRow(visit: string): Promise<void> {
  const db = await database();
  const label = text(single(state.value, "property"), "label");
  const date = text(single(state.value, "visit"), "date");
  const row = await visitRow(db, visit);
  if (openVisit.value === visit && (row.label !== label || row.date !== date)) {
    await db.put("visits", { ...row, label, date, updated: new Date().toISOString() });
  }
}

/** The entries of this device's last action that still stands. */
const lastAction = computed(() => {
  const device = deviceId();
  const undone = new Set(entries.value.flatMap((entry) => (entry.do === "undo" ? [entry.undoes] : [])));
  const mine = entries.value.filter(
    (entry): entry is SetEntry => entry.do === "set" && entry.device === device && !undone.has(entry.id),
  );
  const last = mine.reduce<SetEntry | null>((a, b) => (a && a.clock > b.clock ? a : b), null);
  return last ? mine.filter((entry) => entry.made === last.made) : [];
});

export const canUndo = computed(() => lastAction.value.length > 0 && !lastAction.value.some((e) => e.kind === "property" && "label" in e.fields));

/** Undo the last action of this device; a reading stays in the book, struck. */
export async function undo(): Promise<void> {
  const undoing = lastAction.value;
  if (!canUndo.value) return;
  await put(openVisit.value, stamp(openVisit.value, (base) =>
    undoing.map((entry) => ({ ...base(), do: "undo", undoes: entry.id }))));
}

/** A mark for names made here, empty on the device that began the visit. */
export const suffix = computed(() => {
  const first = entries.value.reduce<Entry | null>((a, b) => (a && a.clock < b.clock ? a : b), null);
  return !first || first.device === deviceId() ? "" : `-${deviceId().slice(0, 3)}`;
});

others?.addEventListener("message", (event) => {
  if (event.data === openVisit.value) void refresh(openVisit.value);
});
