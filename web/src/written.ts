/** What is typed or spoken into the keypad, and the reading that it means. */

import { inDigits } from "./spoken";

export type Way = "tenths" | "decimal" | "fraction" | "mm";

/** The reading as it will be written down, or null while it is none. */
export function readingOf(typed: string, way: Way): string | null {
  const spoken = asDigits(typed);
  const sign = spoken.startsWith("-") ? "-" : "";
  const bare = spoken.replace(/^[+-]\s*/, "");
  if (way === "tenths" && /^\d{1,4}$/.test(bare)) return nonzero(sign, inTenths(bare));
  if (way !== "mm" && /^(\d{1,3} )?\d{1,3}\/([1-9]\d{0,2})$/.test(bare)) return `${sign}${bare}`;
  if (/^(\d{1,5}(\.\d{0,4})?|\.\d{1,4})$/.test(bare)) return nonzero(sign, whole(bare));
  return null;
}

/** Dictation and paste: "minus 0.6", "0,6", "− 5/8". */
function asDigits(typed: string): string {
  return inDigits(typed.trim().toLowerCase().replace(/[−–—]/g, "-"))
    .replace(/^(minus|negative|down)\s*/, "-")
    .replace(/^(plus|positive|up)\s*/, "")
    .replace(/\s*(point|comma)\s*/, ".")
    .replace(",", ".")
    .replace(/^-\s+/, "-")
    .replace(/\s+/g, " ");
}

function inTenths(digits: string): string {
  const padded = digits.padStart(2, "0");
  return `${Number(padded.slice(0, -1))}.${padded.slice(-1)}`;
}

function whole(bare: string): string {
  const text = bare.startsWith(".") ? `0${bare}` : bare;
  return text.endsWith(".") ? text.slice(0, -1) : text;
}

function nonzero(sign: string, text: string): string {
  return Number(text) === 0 ? text : sign + text;
}

/** The number that a written reading stands for. */
export function numberOf(written: string): number {
  const found = /^(-?)(?:(\d+) )?(\d+)\/(\d+)$/.exec(written.trim());
  if (!found) return Number(written);
  const size = Number(found[2] ?? 0) + Number(found[3]) / Number(found[4]);
  return found[1] ? -size : size;
}

/** Change the sign of what is typed so far. */
export function flip(typed: string): string {
  return typed.startsWith("-") ? typed.slice(1) : `-${typed.replace(/^\+/, "")}`;
}

/** A level for reading: a true minus sign, as many places as the unit deserves. */
export function shown(value: number, unit: string): string {
  const text = value.toFixed(unit === "mm" ? 0 : 1);
  return Number(text) === 0 ? text.replace("-", "") : text.replace("-", "−");
}

/** The half-width of the 95 % interval, with one place more than the value has. */
export function doubt(sd: number, unit: string): string {
  return `± ${(1.96 * sd).toFixed(unit === "mm" ? 1 : 2)}`;
}
