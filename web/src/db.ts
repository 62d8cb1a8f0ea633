/** The device's own store: every entry is written here before the screen shows it. */

import { type DBSchema, type IDBPDatabase, openDB } from "idb";

import type { Entry } from "./record";

export interface VisitRow {
  readonly id: string;
  readonly label: string;
  readonly date: string;
  /** The number of the last of the server's entries that is here, and what it is known by. */
  readonly since: number;
  readonly mark?: string;
  /** The server's archive and its life in which this visit was last exchanged. */
  readonly life?: string;
  readonly updated: string;
}

interface EntryRow {
  readonly entry: Entry;
  readonly sent: 0 | 1;
  /** The server had it once and lacks it now. */
  readonly back?: true;
}

/** A photograph; with `doubt`, the server may lack it although it had it once. */
export interface Kept {
  readonly blob: Blob;
  readonly sent: boolean;
  readonly doubt?: true;
}

/** What the server answers to a sending. */
export interface Answer {
  readonly seq: number;
  /** What the entry of that number is known by. */
  readonly mark?: string;
  /** The server's archive and its life, which is another after every restoring. */
  readonly life?: string;
  /** The number that was sent is not known there: entries and accepted are all that it has. */
  readonly again?: boolean;
  readonly entries: readonly Entry[];
  readonly accepted: readonly string[];
}

interface Tables extends DBSchema {
  entries: { key: string; value: EntryRow; indexes: { visit: string; sent: [string, number] } };
  visits: { key: string; value: VisitRow };
  kept: { key: string; value: unknown };
}

export type Database = IDBPDatabase<Tables>;

export async function openStore(name = "levelbook"): Promise<Database> {
  return openDB<Tables>(name, 1, {
    upgrade(db) {
      const entries = db.createObjectStore("entries", { keyPath: "entry.id" });
      entries.createIndex("visit", "entry.visit");
      entries.createIndex("sent", ["entry.visit", "sent"]);
      db.createObjectStore("visits", { keyPath: "id" });
      db.createObjectStore("kept");
    },
  });
}

/** Add entries made here; resolves when they are on the disk. */
export async function addEntries(db: Database, entries: readonly Entry[], sent: 0 | 1 = 0): Promise<void> {
  const change = db.transaction("entries", "readwrite", { durability: "strict" });
  for (const entry of entries) {
    const known = await change.store.get(entry.id);
    if (!known || known.sent < sent) await change.store.put({ entry, sent });
  }
  await change.done;
}

export async function entriesOf(db: Database, visit: string): Promise<Entry[]> {
  return (await db.getAllFromIndex("entries", "visit", visit)).map((row) => row.entry);
}

export async function unsent(db: Database, visit: string, most: number): Promise<Entry[]> {
  return (await db.getAllFromIndex("entries", "sent", [visit, 0], most)).map((row) => row.entry);
}

export async function visitRow(db: Database, visit: string): Promise<VisitRow> {
  return (await db.get("visits", visit)) ?? emptyRow(visit);
}

/** Change a visit's row in one step, whatever else is written meanwhile. */
export async function changeRow(db: Database, visit: string, change: (row: VisitRow) => VisitRow): Promise<void> {
  const step = db.transaction("visits", "readwrite");
  await step.store.put(change((await step.store.get(visit)) ?? emptyRow(visit)));
  await step.done;
}

/** Write down what the server answered to what was sent from `before`, in one step.
 * Tells how many entries it had lacked and has again; null if another page of this device got
 * an answer meanwhile, which this one may contradict: then nothing is written. */
export async function takeAnswer(db: Database, before: VisitRow, answer: Answer): Promise<number | null> {
  const step = db.transaction(["entries", "visits", "kept"], "readwrite", { durability: "strict" });
  const [entries, visits, kept] = [step.objectStore("entries"), step.objectStore("visits"), step.objectStore("kept")];
  const row = (await visits.get(before.id)) ?? emptyRow(before.id);
  if (row.since !== before.since || row.mark !== before.mark) {
    await step.done;
    return null;
  }
  let back = 0;
  for (const id of answer.accepted) {
    const known = await entries.get(id);
    if (known) await entries.put({ entry: known.entry, sent: 1 });
    if (known?.back) back += 1;
  }
  for (const entry of answer.entries) {
    if ((await entries.get(entry.id))?.sent !== 1) await entries.put({ entry, sent: 1 });
  }
  if (answer.again) {
    const there = new Set([...answer.accepted, ...answer.entries.map((entry) => entry.id)]);
    for (const { entry, sent } of await entries.index("visit").getAll(row.id)) {
      if (sent && !there.has(entry.id)) await entries.put({ entry, sent: 0, back: true });
    }
  }
  if (answer.again || (answer.life !== undefined && row.life !== answer.life)) {
    for (const { entry } of await entries.index("visit").getAll(row.id)) {
      const key = entry.do === "set" && entry.kind === "photo" ? `photo ${String(entry.fields["sha256"])}` : "";
      const photo = key ? ((await kept.get(key)) as Kept | undefined) : undefined;
      if (photo?.sent) await kept.put({ ...photo, sent: false, doubt: true }, key);
    }
  }
  const { mark, life } = answer;
  await visits.put({ ...row, since: answer.seq, ...(mark === undefined ? {} : { mark }), ...(life === undefined ? {} : { life }) });
  await step.done;
  return back;
}

function emptyRow(visit: string): VisitRow {
  return { id: visit, label: "", date: "", since: 0, updated: "" };
}
