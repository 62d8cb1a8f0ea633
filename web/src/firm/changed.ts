/** What changed in one's own way in: asked for once after each sign-in, told until it is read. */

import { effect, signal } from "@preact/signals";

import { ask, send } from "../api";
import { me, standing } from "./here";

export interface Change {
  readonly seq: number;
  readonly at: string;
  readonly what: string;
  readonly own: boolean;
  readonly by: string;
  readonly device: string;
}

export const changes = signal<readonly Change[]>([]);
let session = "";

/** Ask whenever somebody has signed in. */
export function watchChanges(): () => void {
  return effect(() => {
    const now = standing.value === "in" ? (me.value?.csrf ?? "") : "";
    if (standing.value === "out") changes.value = [];
    if (now === session) return;
    session = now;
    if (now) void find(now);
  });
}

async function find(asker: string): Promise<void> {
  const found = await ask<{ changes: Change[] }>("/api/changes").catch(() => null);
  if (session !== asker) return;
  if (found) changes.value = found.changes;
  else session = "";
}

/** Tell the server that what is shown was read. */
export async function readChanges(): Promise<void> {
  const upto = Math.max(...changes.value.map((each) => each.seq));
  await send("/api/changes/read", { upto });
  changes.value = [];
}
