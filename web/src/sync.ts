/** Sending a visit's entries and taking those that this device lacks. */

import { call, waitOf } from "./api";
import { addEntries, type Database, unsent, type VisitRow } from "./db";
import type { Entry } from "./record";

const AT_ONCE = 500;

export interface Answer {
  readonly seq: number;
  readonly entries: readonly Entry[];
  readonly accepted: readonly string[];
}

export type Post = (visit: string, body: object) => Promise<Answer>;

export class RefusedError extends Error {}
export class SignedOutError extends Error {}
/** The server asks to wait so many seconds; what was not sent is sent then. */
export class BusyError extends Error {
  constructor(readonly wait: number) {
    super(`the server asks to wait ${wait} seconds`);
  }
}

/** Post entries to the server; a refusal is told in its own words. */
export const post: Post = async (visit, body) => {
  const answer = await call(`/api/visits/${visit}/sync`, {
    method: "POST",
    headers: { "content-type": "application/json" },
    body: JSON.stringify(body),
  });
  if (answer.status === 401) throw new SignedOutError();
  const wait = waitOf(answer);
  if (wait) throw new BusyError(wait);
  const told = (await answer.json()) as Answer & { error?: { problem: string; remedy: string } };
  if (!answer.ok) throw new RefusedError(`${told.error?.problem}; ${told.error?.remedy}`);
  return told;
};

/** Exchange entries until neither side lacks any; returns those that came new. */
export async function exchange(db: Database, visit: string, device: string, send: Post = post): Promise<Entry[]> {
  const came: Entry[] = [];
  for (;;) {
    const row = await visitRow(db, visit);
    const mine = await unsent(db, visit, AT_ONCE);
    const answer = await send(visit, { device, since: row.since, entries: mine });
    const accepted = new Set(answer.accepted);
    await addEntries(db, mine.filter((entry) => accepted.has(entry.id)), 1);
    await addEntries(db, answer.entries, 1);
    came.push(...answer.entries);
    await db.put("visits", { ...(await visitRow(db, visit)), since: Math.max(row.since, answer.seq) });
    if (mine.length < AT_ONCE) return came;
  }
}

export async function visitRow(db: Database, visit: string): Promise<VisitRow> {
  return (await db.get("visits", visit)) ?? { id: visit, label: "", date: "", since: 0, updated: "" };
}
