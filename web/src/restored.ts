/** After the server was restored from a backup: going through all that this device holds. */

import { addEntries, changeRow, type Database, type Kept, openStore, type VisitRow } from "./db";
import { deviceId } from "./ids";
import { sendPhotos } from "./photos";
import { exchange, type Post, post, RefusedError } from "./sync";

const LIFE = "life";
/** The store of one's own machine; those of a firm's people have longer names. */
const OWN = "levelbook";
/** Visits that the server does not take; they are tried again when the page is loaded anew. */
const refused = new Set<string>();

/** Exchange every visit that was last exchanged in another life of the server's archive.
 * What breaks off goes on the next time: each visit keeps the life that it was exchanged in. */
export async function goThrough(db: Database, life: string, send: Post = post): Promise<void> {
  if (!life || (await db.get("kept", LIFE)) === life) return;
  let whole = true;
  for (const row of await db.getAll("visits")) {
    if (row.life === life || refused.has(row.id) || !belongs(db, row, life)) continue;
    await exchange(db, row.id, deviceId(), send).catch((error: unknown) => {
      if (!(error instanceof RefusedError)) throw error;
      refused.add(row.id);
      whole = false;
    });
  }
  await sendPhotos(db);
  if (whole) await db.put("kept", life, LIFE);
}

/** Take over what another store of this device holds, to be sent: of somebody who is known to the
 * server by another id, as they joined after the backup was taken and were invited again. */
export async function comeAlong(from: string, to: Database): Promise<void> {
  const old = await openStore(from);
  await addEntries(to, (await old.getAll("entries")).map((row) => row.entry));
  for (const { id, label, date, updated } of await old.getAll("visits")) {
    await changeRow(to, id, (row) => (row.label ? row : { ...row, label, date, updated }));
  }
  for (const key of await old.getAllKeys("kept", IDBKeyRange.bound("photo ", "photo ~"))) {
    const { blob } = (await old.get("kept", key)) as Kept;
    if (!(await to.get("kept", key))) await to.put("kept", { blob, sent: false, doubt: true } satisfies Kept, key);
  }
  old.close();
}

/** Whether a visit is of the archive that the server keeps. A firm has one; on one's own machine
 * another folder may be served at the same address, which this device's houses do not belong to. */
function belongs(db: Database, row: VisitRow, life: string): boolean {
  return db.name !== OWN || (row.life !== undefined && archiveOf(row.life) === archiveOf(life));
}

function archiveOf(life: string): string {
  return life.split(".")[0] ?? "";
}
