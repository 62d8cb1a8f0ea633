/** The sheet: a picture of a sketch or floor plan that lies under the plan to be traced over.
 * It is a photograph of the visit (`of` is `sheet`) whose `extra` tells how it lies. */

import { all, isPoint, nextName, points, text, type Point } from "../fields";
import { fetchedPhoto, fileName, keepPhoto, shrink } from "../photos";
import type { Fields, Json, State } from "../record";
import { act, database, state, suffix, write, type Change } from "../visit";
import type { Placed } from "./placed";

export interface Sheet extends Placed {
  readonly id: string;
  readonly sha256: string;
  readonly name: string;
  readonly opacity: number;
  readonly locked: boolean;
  readonly hidden: boolean;
}

const ROLE = "sheet";
const MOST_DOTS = 2000;
const WIDTH = { ft: 60, m: 18 } as const;

/** The sheet that lies under the plan: the last one put there. */
export function sheetOf(now: State): Sheet | null {
  const found = [...all(now, "photo")].findLast(([, fields]) => text(fields, "of") === ROLE);
  return found ? read(...found) : null;
}

function read(id: string, fields: Fields): Sheet | null {
  const extra = object(object(fields["extra"])["sheet"]);
  const { at, size, per, turned, opacity } = extra;
  if (!isPoint(at) || !isPoint(size) || typeof per !== "number" || !(per > 0)) return null;
  return {
    id, at, size, per, sha256: text(fields, "sha256"), name: text(fields, "name"),
    turned: typeof turned === "number" ? turned : 0,
    opacity: typeof opacity === "number" ? Math.min(1, Math.max(0.1, opacity)) : 0.6,
    locked: extra["locked"] === true,
    hidden: extra["hidden"] === true,
  };
}

function object(value: Json | undefined): { readonly [key: string]: Json } {
  return value && typeof value === "object" && !Array.isArray(value) ? (value as { readonly [key: string]: Json }) : {};
}

/** Put a picture under the plan of the open visit, in place of an earlier one. Works offline.
 * `name` is the file's; the picture is shrunk, turned upright and freed of its place of taking. */
export async function setSheet(blob: Blob, name = "sheet.jpg"): Promise<void> {
  const shrunk = await shrink(blob, MOST_DOTS);
  await keepPhoto(await database(), shrunk);
  const placed = firstPlace(state.value, shrunk.size);
  await act(() => {
    const id = nextName(all(state.value, "photo").keys(), ROLE, suffix.value);
    const fields = { sha256: shrunk.sha256, name: fileName(name, "sheet.jpg"), of: ROLE, extra: { sheet: plain(placed) } };
    return [...gone(state.value), { kind: "photo", of: id, fields }];
  });
}

/** Write down that the sheet lies otherwise, or looks otherwise. */
export function changeSheet(sheet: Sheet, change: Partial<Omit<Sheet, "id" | "sha256" | "name">>): Promise<void> {
  return write({ kind: "photo", of: sheet.id, fields: { extra: { sheet: plain({ ...sheet, ...change }) } } });
}

export function removeSheet(): Promise<void> {
  return write(...gone(state.value));
}

/** The picture itself, from this device or from the server, and then kept here. */
export async function sheetPicture(sha256: string): Promise<Blob | null> {
  return fetchedPhoto(await database(), sha256);
}

function gone(now: State): Change[] {
  return [...all(now, "photo")].filter(([, f]) => text(f, "of") === ROLE).map(([of]) => ({ kind: "photo", of, fields: { gone: true } }));
}

function plain(sheet: Placed & Partial<Sheet>): { [key: string]: Json } {
  const { at, size, per, turned, opacity = 0.6, locked = false, hidden = false } = sheet;
  return { at: at.map(tidy), size: [...size], per, turned: tidy(turned), opacity, locked, hidden };
}

/** Over the floors that are drawn, else as wide as a house. */
function firstPlace(now: State, size: Point): Placed {
  const drawn = [...all(now, "area").values()].flatMap((fields) => points(fields, "outline"));
  const unit = text(all(now, "units").get(""), "plan") === "m" ? "m" : "ft";
  if (!drawn.length) return { at: [WIDTH[unit] / 2, (WIDTH[unit] * size[1]) / size[0] / 2], size, per: WIDTH[unit] / size[0], turned: 0 };
  const [xs, ys] = [drawn.map((p) => p[0]), drawn.map((p) => p[1])];
  const [left, right, low, high] = [Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)];
  const per = Math.max((right - left) / size[0], (high - low) / size[1]) * 1.1 || WIDTH[unit] / size[0];
  return { at: [(left + right) / 2, (low + high) / 2], size, per, turned: 0 };
}

function tidy(value: number): number {
  return Math.round(value * 1e4) / 1e4;
}
