/** Bringing files in: asking the server what a file holds, writing it down, taking it back. */

import { ask } from "./api";
import type { Entry, Fields, Json, SetEntry } from "./record";
import { start, undoThese, write, type Change } from "./visit";

export interface Option {
  readonly key: string;
  readonly says: string;
}

export interface Question {
  readonly key: string;
  readonly asks: string;
  readonly options: readonly Option[];
  readonly usual: string | null;
}

export interface Left {
  readonly place: string;
  readonly what: string;
  readonly why: string;
}

export interface Plan {
  readonly kind: "table" | "grid" | "book" | "outlines";
  readonly ready: boolean;
  readonly questions: readonly Question[];
  readonly columns: readonly { readonly letter: string; readonly title: string; readonly role: string | null }[];
  readonly rows: readonly (readonly string[])[];
  readonly taken: readonly string[];
  readonly assumed: readonly string[];
  readonly left: readonly Left[];
  readonly left_count: number;
}

interface Taken extends Plan {
  readonly head: readonly Change[];
  readonly changes: readonly Change[];
}

export interface Files {
  readonly file: File;
  readonly outline?: File;
  readonly places?: File;
}

export type Answers = { readonly [key: string]: string };

export const LARGEST = 40_000_000;

/** What is sent: one line that names the files and their sizes, then the files. */
export function framed(files: Files, answers: Answers, into: string): Blob {
  const { file, outline, places } = files;
  const sizes = { file: file.size, outline: outline?.size ?? 0, places: places?.size ?? 0 };
  const head = { name: file.name, answers, sizes, ...(into ? { into } : {}) };
  return new Blob([JSON.stringify(head), "\n", file, ...(outline ? [outline] : []), ...(places ? [places] : [])]);
}

function send<T>(what: string, files: Files, answers: Answers, into: string): Promise<T> {
  const body = framed(files, answers, into);
  return ask<T>(`/api/import/${what}`, { method: "POST", headers: { "content-type": "application/octet-stream" }, body });
}

export function preview(files: Files, answers: Answers, into: string): Promise<Plan> {
  return send("preview", files, answers, into);
}

/** Write an import down: into the open visit, or as a visit of its own, whose id is told. */
export async function take(files: Files, answers: Answers, into: string): Promise<string> {
  const { head, changes } = await send<Taken>("take", files, answers, into);
  if (into) {
    await write(...changes);
    return into;
  }
  const visit = await start(head);
  await new Promise((later) => setTimeout(later, 5)); // what is undone together has one time
  await write(...changes);
  return visit;
}

export interface Earlier {
  readonly name: string;
  readonly made: string;
  readonly ids: readonly string[];
}

/** The imports into this visit that stand, the last first: what each wrote has one time and device. */
export function imports(entries: readonly Entry[]): readonly Earlier[] {
  const undone = new Set(entries.flatMap((entry) => (entry.do === "undo" ? [entry.undoes] : [])));
  const standing = entries.filter((entry): entry is SetEntry => entry.do === "set" && !undone.has(entry.id));
  return standing
    .filter((entry) => entry.kind === "book" && names(entry.fields).length > 0)
    .sort((a, b) => (a.clock < b.clock ? 1 : -1))
    .map((entry) => ({
      name: names(entry.fields).at(-1) ?? "",
      made: entry.made,
      ids: standing.filter((e) => e.made === entry.made && e.device === entry.device && !HEAD.has(e.kind)).map((e) => e.id),
    }));
}

const HEAD = new Set(["units", "property", "visit"]);

export function takeBack(earlier: Earlier): Promise<void> {
  return undoThese(earlier.ids);
}

function names(fields: Fields): string[] {
  const done = object(fields["extra"])["imports"];
  return Array.isArray(done) ? done.map((each: Json) => String(object(each)["file"] ?? "")) : [];
}

function object(value: Json | undefined): { readonly [key: string]: Json } {
  return value && typeof value === "object" && !Array.isArray(value) ? (value as { readonly [key: string]: Json }) : {};
}
