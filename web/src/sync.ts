/** Sending a visit's entries and taking those that this device lacks. */

import { call, waitOf } from "./api";
import { tellBrought } from "./brought";
import { type Answer, type Database, takeAnswer, unsent, visitRow } from "./db";
import type { Entry } from "./record";

const AT_ONCE = 500;

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
  const told = (await answer.json()) as Answer & { error?: { code: string; problem: string; remedy: string } };
  // A page that was just opened sends before it knows its session's token: that is being asked for.
  if (told.error?.code === "csrf") throw new SignedOutError();
  if (!answer.ok) throw new RefusedError(`${told.error?.problem}; ${told.error?.remedy}`);
  return told;
};

/** Exchange entries until neither side lacks any; returns those that came new.
 * Where the server does not know how far this device is, as it was set back to an earlier state
 * or is another, it tells all that it has of the visit, and what it lacks of this is sent again. */
export async function exchange(db: Database, visit: string, device: string, send: Post = post): Promise<Entry[]> {
  const came: Entry[] = [];
  for (;;) {
    const row = await visitRow(db, visit);
    const mine = await unsent(db, visit, AT_ONCE);
    const answer = await send(visit, { device, since: row.since, mark: row.mark ?? "", entries: mine });
    const back = await takeAnswer(db, row, answer);
    if (back === null) continue;
    tellBrought({ entries: back });
    came.push(...answer.entries);
    if (mine.length < AT_ONCE && !answer.again) return came;
  }
}
