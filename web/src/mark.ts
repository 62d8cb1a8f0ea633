/** The firm's name and own logo: in the visit that is open, and remembered for the next house. */

import { sha256 } from "@noble/hashes/sha2.js";
import { bytesToHex } from "@noble/hashes/utils.js";

import { dotsOf } from "./dots";
import { all, nextName, single, text } from "./fields";
import { keepPhoto, type Shrunk } from "./photos";
import type { State } from "./record";
import { act, database, state, suffix, type Change } from "./visit";

const ROLE = "logo";
const REMEMBERED = "firm mark";
const [WIDE, HIGH] = [600, 240];
const LARGEST = 10_000_000;
const HEAVY = 200_000;
const MOST_DOTS = 50_000_000;

interface Remembered {
  readonly name?: string;
  readonly logo?: Shrunk | null;
}

/** A logo made ready: drawn anew as dots, so that nothing of an SVG but its looks goes on. */
export async function logoOf(file: Blob): Promise<Shrunk> {
  if (file.size > LARGEST) throw new Error("This file is larger than 10 MB. Choose a smaller logo.");
  if (((await dotsOf(file)) ?? 0) > MOST_DOTS) throw new Error("This picture has too many dots for a logo. Choose a smaller one.");
  const address = URL.createObjectURL(file);
  try {
    const picture = new Image();
    picture.src = address;
    await picture.decode().catch(() => {
      throw new Error("This logo cannot be read here. Choose a PNG, JPEG or SVG picture.");
    });
    const [width, height] = [picture.naturalWidth || WIDE, picture.naturalHeight || HIGH];
    return await drawn(picture, Math.min(1, WIDE / width, HIGH / height), [width, height]);
  } finally {
    URL.revokeObjectURL(address);
  }
}

async function drawn(picture: HTMLImageElement, scale: number, [width, height]: [number, number]): Promise<Shrunk> {
  const canvas = document.createElement("canvas");
  canvas.width = Math.max(1, Math.round(width * scale));
  canvas.height = Math.max(1, Math.round(height * scale));
  const pen = canvas.getContext("2d");
  pen?.drawImage(picture, 0, 0, canvas.width, canvas.height);
  let blob = await encoded(canvas, "image/png");
  if (blob && blob.size > HEAVY && pen) {
    pen.globalCompositeOperation = "destination-over";
    pen.fillStyle = "#ffffff";
    pen.fillRect(0, 0, canvas.width, canvas.height);
    blob = await encoded(canvas, "image/jpeg");
  }
  if (!blob) throw new Error("This logo is too large for the device. Choose a smaller one.");
  const name = bytesToHex(sha256(new Uint8Array(await blob.arrayBuffer())));
  return { sha256: name, blob, size: [canvas.width, canvas.height] };
}

function encoded(canvas: HTMLCanvasElement, kind: string): Promise<Blob | null> {
  return new Promise((done) => canvas.toBlob(done, kind, 0.9));
}

/** The digest of the logo of a visit, or nothing. */
export function logoIn(now: State): string {
  return text([...all(now, "photo").values()].findLast((fields) => text(fields, "of") === ROLE), "sha256");
}

/** Put a logo into the open visit in place of an earlier one, and remember it on this device. */
export async function setLogo(logo: Shrunk | null): Promise<void> {
  if (logo) await keepPhoto(await database(), logo);
  await act(() => [...gone(state.value), ...(logo ? [added(state.value, logo, suffix.value)] : [])]);
  await remember({ logo });
}

/** Remember what a field of the firm says. */
export async function remember(part: Remembered): Promise<void> {
  const db = await database();
  const before = ((await db.get("kept", REMEMBERED)) ?? {}) as Remembered;
  await db.put("kept", { ...before, ...part }, REMEMBERED);
}

/** What a new house begins with: the firm as last written on this device. */
export async function markChanges(): Promise<Change[]> {
  const db = await database();
  const { name, logo } = ((await db.get("kept", REMEMBERED)) ?? {}) as Remembered;
  if (logo) await keepPhoto(db, logo);
  return [
    ...(name ? [{ kind: "visit", fields: { firm: name } } as const] : []),
    ...(logo ? [added(new Map(), logo, "")] : []),
  ];
}

/** The firm's name in the open visit. */
export function firmName(now: State): string {
  return text(single(now, "visit"), "firm");
}

function added(now: State, logo: Shrunk, mark: string): Change {
  const id = nextName(all(now, "photo").keys(), ROLE, mark);
  const ending = logo.blob.type === "image/jpeg" ? "jpg" : "png";
  return { kind: "photo", of: id, fields: { sha256: logo.sha256, name: `logo.${ending}`, of: ROLE } };
}

function gone(now: State): Change[] {
  return [...all(now, "photo")].filter(([, f]) => text(f, "of") === ROLE).map(([of]) => ({ kind: "photo", of, fields: { gone: true } }));
}
