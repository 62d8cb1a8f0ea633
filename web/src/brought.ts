/** What the server lacked, as it was set back to an earlier state, and this device sent again. */

import { signal } from "@preact/signals";

export interface Brought {
  readonly entries: number;
  readonly photos: number;
}

export const NOTHING: Brought = { entries: 0, photos: 0 };
export const brought = signal<Brought>(NOTHING);

export function tellBrought(more: Partial<Brought>): void {
  const { entries, photos } = { ...NOTHING, ...more };
  if (entries + photos > 0) brought.value = { entries: brought.value.entries + entries, photos: brought.value.photos + photos };
}

/** The same in words. */
export function broughtWords({ entries, photos }: Brought): string {
  const parts = [count(entries, "entry", "entries"), count(photos, "photograph", "photographs")].filter(Boolean);
  return `The server was set back to an earlier state. This device has sent it again what it lacked: ${parts.join(" and ")}.`;
}

function count(number: number, one: string, many: string): string {
  return number ? `${number} ${number === 1 ? one : many}` : "";
}
