/** The visit that is open: its entries, what they add up to, writing and undoing. */

import { computed, signal } from "@preact/signals";

import { type Clock, readClock, tick, writeClock } from "./clock";
import { addEntries, changeRow, type Database, entriesOf, openStore, visitRow } from "./db";
import { single, text } from "./fields";
import { deviceId, newId } from "./ids";
import type { Change } from "./kinds";
import { addUp, type Entry, type Fields, type SetEntry } from "./record";

export const openVisit = signal("");
export const entries = signal<readonly Entry[]>([]);
export const state = computed(() => addUp(entries.value));
/** The visit whose entries are on the screen. */
export const loaded = signal("");
/** How many actions are on their way to the device's own store. */
export const underway = signal(0);
export const problem = signal("");
export const author = signal(localStorage.getItem("levelbook-author") ?? "");

export type { Change };

let store: Promise<Database> | null = null;
let clock: Clock = { milliseconds: 0, counter: 0, device: deviceId() };
let writing: Promise<unknown> = Promise.resolve();
const others = "BroadcastChannel" in globalThis ? new BroadcastChannel("levelbook") : null;
const listeners = new Set<() => void>();

let storeName = "levelbook";

export function database(): Promise<Database> {
  store ??= openStore(storeName);
  return store;
}

/** Go over to another store of this device: each person of a firm has one. */
export async function useStore(name: string): Promise<void> {
  if (name === storeName) return;
  const before = store;
  await writing;
  store = null;
  storeName = name;
  openVisit.value = "";
  loaded.value = "";
  entries.value = [];
  (await before)?.close();
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
  const known = new Set(found.map((entry) => entry.id));
  entries.value = [...found, ...entries.value.filter((entry) => entry.visit === visit && !known.has(entry.id))];
  loaded.value = visit;
}

function past(mine: Clock, seen: string): Clock {
  const other = readClock(seen);
  const later = other.milliseconds > mine.milliseconds || (other.milliseconds === mine.milliseconds && other.counter > mine.counter);
  return later ? { ...other, device: mine.device } : mine;
}

/** Write changes down as one action: on the disk first, then on the screen. */
export function write(...changes: Change[]): Promise<void> {
  return act(() => changes);
}

/** Write down what `make` gives once everything before it is written: for names that count on. */
export function act(make: () => readonly Change[]): Promise<void> {
  const visit = openVisit.value;
  return put(visit, () => stamp(visit, (base) =>
    make().map(({ kind, of = "", fields }) => ({ ...base(), do: "set", kind, of, fields: fields as Fields }))));
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

function put(visit: string, make: () => readonly Entry[]): Promise<void> {
  underway.value += 1;
  const done = writing.then(async () => {
    const made = make();
    await addEntries(await database(), made);
    listeners.forEach((listener) => listener());
    if (openVisit.value === visit) entries.value = [...entries.value, ...made];
    others?.postMessage(visit);
    await tellRow(visit);
  }).finally(() => {
    underway.value -= 1;
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
    await changeRow(db, visit, (now) => ({ ...now, label, date, updated: new Date().toISOString() }));
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
  if (canUndo.value) await undoThese(lastAction.value.map((entry) => entry.id));
}

/** Undo the entries of these ids, in the open visit, as one action. */
export async function undoThese(ids: readonly string[]): Promise<void> {
  const visit = openVisit.value;
  await put(visit, () => stamp(visit, (base) => ids.map((id) => ({ ...base(), do: "undo", undoes: id }))));
}

/** A mark for names made here, empty on the device that began the visit. */
export const suffix = computed(() => {
  const first = entries.value.reduce<Entry | null>((a, b) => (a && a.clock < b.clock ? a : b), null);
  return !first || first.device === deviceId() ? "" : `-${deviceId().slice(0, 3)}`;
});

others?.addEventListener("message", (event) => {
  if (event.data === openVisit.value) void refresh(openVisit.value);
});
