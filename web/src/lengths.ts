/** Lengths as people write them: `12`, `12.5`, `12' 6"`, `12 6`, `12ft 6 1/2in`, metres. */

export type PlanUnit = "ft" | "m";

const FEET =
  /^(?:(\d+(?:\.\d+)?)\s*(?:'|ft|feet|foot)?)?\s*(?:(?:-|\s)?\s*(\d+(?:\.\d+)?)?\s*(?:(\d+)\/([1-9]\d*))?\s*(?:"|''|in|inch|inches)?)?$/;

/** The length in plan units, or null where it cannot be read. */
export function lengthOf(typed: string, unit: PlanUnit): number | null {
  const plain = typed.trim().toLowerCase().replace(/[’′]/g, "'").replace(/[”″]/g, '"').replace(",", ".");
  if (plain === "") return null;
  if (unit === "m") return positive(/^(\d*\.?\d+)\s*(m|metres|meters)?$/.exec(plain)?.[1]);
  const inches = /^(\d+(?:\.\d+)?)\s*(?:"|in)$/.exec(plain);
  if (inches) return positive(String(Number(inches[1]) / 12));
  const found = FEET.exec(plain);
  if (!found || found[1] === undefined) return null;
  const over = found[3] ? Number(found[3]) / Number(found[4]) : 0;
  return positive(String(Number(found[1]) + (Number(found[2] ?? 0) + over) / 12));
}

function positive(text: string | undefined): number | null {
  const value = Number(text);
  return text !== undefined && Number.isFinite(value) && value > 0 && value < 10_000 ? value : null;
}

/** A length for reading: feet and inches to the quarter inch, or metres to the centimetre. */
export function lengthText(length: number, unit: PlanUnit): string {
  if (unit === "m") return `${length.toFixed(2)} m`;
  const quarters = Math.round(Math.abs(length) * 48);
  const [feet, rest] = [Math.floor(quarters / 48), quarters % 48];
  const inches = Math.floor(rest / 4);
  const part = ["", "¼", "½", "¾"][rest % 4] ?? "";
  if (rest === 0) return `${feet} ft`;
  return `${feet ? `${feet} ft ` : ""}${inches || !part ? inches : ""}${part} in`;
}
