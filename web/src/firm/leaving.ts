/** What waits on this device to be sent, in every house of the person who is signed in. */

import { deviceId } from "../ids";
import { sendPhotos } from "../photos";
import { exchange } from "../sync";
import { database } from "../visit";

/** Send what can be sent, and tell how many entries and photographs still wait. */
export async function sendAll(): Promise<number> {
  const db = await database();
  for (const visit of new Set((await waiting()).map(({ entry }) => entry.visit))) {
    await exchange(db, visit, deviceId()).catch(() => undefined);
  }
  const photos = await sendPhotos(db).catch(() => 1);
  return (await waiting()).length + photos;
}

async function waiting() {
  return (await (await database()).getAll("entries")).filter((row) => row.sent === 0);
}
