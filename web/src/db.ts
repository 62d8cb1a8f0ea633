/** The device's own store: every entry is written here before the screen shows it. */

import { type DBSchema, type IDBPDatabase, openDB } from "idb";

import type { Entry } from "./record";

export interface VisitRow {
  readonly id: string;
  readonly label: string;
  readonly date: string;
  /** The number of the last of the server's entries that is here. */
  readonly since: number;
  readonly updated: string;
}

interface Tables extends DBSchema {
  entries: { key: string; value: { entry: Entry; sent: 0 | 1 }; indexes: { visit: string; sent: [string, number] } };
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
