/** In the background: sending what was written, and asking for the floor as it now stands. */

import { signal } from "@preact/signals";

import { ask, type Live, onLife } from "./api";
import { visitRow } from "./db";
import { deviceId } from "./ids";
import { photosWait, sendPhotos } from "./photos";
import { goThrough } from "./restored";
import { BusyError, exchange, RefusedError } from "./sync";
import { database, entries, onWrite, openVisit, problem, refresh } from "./visit";

export type Link = "saved" | "sending" | "offline" | "refused";
export const link = signal<Link>("sending");
export const waiting = signal(0);
export const live = signal<Live | null>(null);
/** Whether `live` tells of everything that is written here. */
export const fresh = signal(false);

const AGAIN_MS = 8_000;
let busy = false;
let more = false;
/** Whether something was written since the sending that is under way began. */
let wrote = false;
let timer: ReturnType<typeof setTimeout> | undefined;

/** Send now, or once more after what is under way. */
export function sync(): void {
  if (busy) {
    more = true;
    return;
  }
  busy = true;
  more = false;
  wrote = false;
  void turn().finally(() => {
    busy = false;
    if (more) sync();
  });
}

async function turn(): Promise<void> {
  const visit = openVisit.value;
  if (!visit) return;
  clearTimeout(timer);
  const before = entries.value.length;
  let again = AGAIN_MS;
  try {
    if (link.value !== "saved") link.value = "sending";
    const came = await exchange(await database(), visit, deviceId());
    if (came.length) await refresh(visit);
    const left = await sendPhotos(await database());
    tellPhotos(left);
    link.value = wrote ? "sending" : left ? "refused" : "saved";
    if (came.length || before !== told || visit !== shownVisit || !live.value) await renew(visit, before);
    settle((await visitRow(await database(), visit)).life ?? "");
  } catch (error) {
    if (error instanceof BusyError) again = Math.max(again, error.wait * 1000);
    else link.value = error instanceof RefusedError ? "refused" : "offline";
    if (error instanceof RefusedError) problem.value = `Not sent: ${error.message}`;
  }
  await count(visit);
  timer = setTimeout(sync, again);
}

let toldOfPhotos = "";

/** Say once why photographs stay here. */
function tellPhotos(left: number): void {
  const why = left ? photosWait() : "";
  if (why && why !== toldOfPhotos) problem.value = `${left === 1 ? "One photograph waits" : `${left} photographs wait`} on this device: ${why}.`;
  toldOfPhotos = why;
}

let settling = false;

/** Bring the server what it lacks of other visits, where it tells that it was restored. */
function settle(life: string): void {
  if (settling) return;
  settling = true;
  void database().then((db) => goThrough(db, life)).catch(() => undefined).finally(() => {
    settling = false;
  });
}

let told = -1;
let shownVisit = "";

async function renew(visit: string, known: number): Promise<void> {
  const found = await ask<Live>(`/api/visits/${visit}/live`);
  if (openVisit.value !== visit) return;
  live.value = found;
  told = known;
  shownVisit = visit;
  fresh.value = !more;
  await (await database()).put("kept", found, `live ${visit}`);
}

async function count(visit: string): Promise<void> {
  const db = await database();
  waiting.value = await db.countFromIndex("entries", "sent", [visit, 0]);
}

/** Show the last floor that was worked out, kept from before, until a newer one comes. */
export async function follow(visit: string): Promise<void> {
  live.value = null;
  fresh.value = false;
  told = -1;
  const kept = (await (await database()).get("kept", `live ${visit}`)) as Live | undefined;
  if (openVisit.value === visit && !live.value && kept) live.value = kept;
  sync();
}

onWrite(() => {
  wrote = true;
  fresh.value = false;
  if (link.value === "saved") link.value = "sending";
  void count(openVisit.value);
  sync();
});
onLife(settle);
addEventListener("online", sync);
addEventListener("visibilitychange", () => {
  if (document.visibilityState === "visible") sync();
});
