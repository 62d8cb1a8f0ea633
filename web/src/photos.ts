/** Photographs: turned upright, made smaller and freed of where they were taken, on the device.
 * Drawing a picture anew keeps its dots alone; nothing else of the file goes on. */

import { sha256 } from "@noble/hashes/sha2.js";
import { bytesToHex } from "@noble/hashes/utils.js";

import { call, type Problem, waitOf } from "./api";
import { tellBrought } from "./brought";
import type { Database, Kept } from "./db";
import { dotsOf } from "./dots";

const MOST = 1600;
const LARGEST = 40_000_000;
const MOST_DOTS = 150_000_000;
const QUALITY = 0.82;

export interface Shrunk {
  readonly sha256: string;
  readonly blob: Blob;
  /** Width and height in dots. */
  readonly size: readonly [number, number];
}

/** A file's own name: without the folders before it and what cannot be printed. */
export function fileName(given: string, usual: string): string {
  const bare = given.split(/[/\\]/).at(-1)?.replace(/\p{C}/gu, "").trim().slice(0, 120) ?? "";
  return bare.replace(/^\.+/, "") || usual;
}

/** Make a photograph ready to keep, with at most `most` dots to its longer side. */
export async function shrink(file: Blob, most = MOST): Promise<Shrunk> {
  if (file.size > LARGEST) throw new Error("This file is larger than 40 MB. Take a smaller picture.");
  if (((await dotsOf(file)) ?? 0) > MOST_DOTS) throw new Error("This picture has more dots than a device can hold. Take a smaller one.");
  const picture = await createImageBitmap(file, { imageOrientation: "from-image" }).catch(() => {
    throw new Error("This picture cannot be read here. Take it as JPEG or PNG.");
  });
  const scale = Math.min(1, most / Math.max(picture.width, picture.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.max(1, Math.round(picture.width * scale));
  canvas.height = Math.max(1, Math.round(picture.height * scale));
  canvas.getContext("2d")?.drawImage(picture, 0, 0, canvas.width, canvas.height);
  picture.close();
  const blob = await new Promise<Blob | null>((done) => canvas.toBlob(done, "image/jpeg", QUALITY));
  if (!blob) throw new Error("This picture is too large for the device. Take a smaller one.");
  const size = [canvas.width, canvas.height] as const;
  return { sha256: bytesToHex(sha256(new Uint8Array(await blob.arrayBuffer()))), blob, size };
}

/** Keep a photograph on the device until it is on the server. */
export async function keepPhoto(db: Database, { sha256: name, blob }: Shrunk): Promise<void> {
  const known = await db.get("kept", `photo ${name}`);
  if (!known) await db.put("kept", { blob, sent: false } satisfies Kept, `photo ${name}`);
}

export async function keptPhoto(db: Database, name: string): Promise<Blob | null> {
  const kept = (await db.get("kept", `photo ${name}`)) as Kept | undefined;
  return kept?.blob ?? null;
}

/** A photograph from this device, or from the server and then kept here for when there is none. */
export async function fetchedPhoto(db: Database, name: string): Promise<Blob | null> {
  const here = await keptPhoto(db, name);
  if (here || !/^[0-9a-f]{64}$/.test(name)) return here;
  const answer = await fetch(`/api/photos/${name}`).catch(() => null);
  if (!answer?.ok) return null;
  const blob = await answer.blob();
  await db.put("kept", { blob, sent: true } satisfies Kept, `photo ${name}`);
  return blob;
}

const [USUAL_S, LONGEST_S] = [300, 3600];
/** By the store's name: until when no photograph is sent, and why, in the server's words. */
const resting = new Map<string, { readonly until: number; readonly why: string }>();
let why = "";

/** Why the photographs that are left were not taken, empty if nothing is known. */
export function photosWait(): string {
  return why;
}

/** Send the photographs that the server lacks; returns how many are left.
 *
 * Where it has no room for more now, they wait as long as it says, an hour at the most. */
export async function sendPhotos(db: Database): Promise<number> {
  let left = 0;
  why = "";
  for (const key of await db.getAllKeys("kept", IDBKeyRange.bound("photo ", "photo ~"))) {
    const kept = (await db.get("kept", key)) as Kept;
    if (kept.sent) continue;
    const rest = resting.get(db.name);
    if (rest && Date.now() < rest.until) {
      why = rest.why;
      left += 1;
      continue;
    }
    const path = `/api/photos/${key.slice(6)}`;
    const there = kept.doubt === true && (await call(path, { method: "HEAD" })).ok;
    const answer = there ? null : await call(path, { method: "PUT", body: kept.blob });
    if (answer === null || answer.ok) {
      await db.put("kept", { blob: kept.blob, sent: true } satisfies Kept, key);
      if (answer && kept.doubt) tellBrought({ photos: 1 });
      continue;
    }
    left += 1;
    const told = (await answer.json().catch(() => null)) as { error?: Problem } | null;
    if (told?.error) why = `${told.error.problem}; ${told.error.remedy}`;
    if (answer.status === 429 || answer.status === 507) {
      const wait = Math.min(LONGEST_S, waitOf(answer) || Number(answer.headers.get("retry-after")) || USUAL_S);
      resting.set(db.name, { until: Date.now() + wait * 1000, why });
    }
  }
  return left;
}
