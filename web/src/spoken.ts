/** Numbers as they are said: "minus zero point six", "five eighths", "one and three eighths". */

const UNITS = ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen"];
const TENS = ["", "", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"];
const PARTS: Record<string, number> = { half: 2, halves: 2, quarter: 4, quarters: 4, fourth: 4, fourths: 4, eighth: 8, eighths: 8, tenth: 10, tenths: 10, sixteenth: 16, sixteenths: 16 };
const SIGNS: Record<string, string> = { minus: "-", negative: "-", down: "-", "-": "-", plus: "", positive: "", up: "", "+": "" };
const FILLERS = new Set(["and", "a", "an", "inch", "inches", "in", "mm", "millimeter", "millimeters", "millimetre", "millimetres", "of"]);
const POINTS = new Set(["point", "dot", "comma"]);
const SMALL: Record<string, string> = { "½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8" };

/** What was said in digits, or the text as it was where it is no number in words. */
export function inDigits(text: string): string {
  const plain = text.replace(/[½¼¾⅛⅜⅝⅞]/g, (sign) => ` ${SMALL[sign]}`).trim();
  if (!/[a-z]/.test(plain)) return plain;
  const said = plain.replace(/([a-z])-([a-z])/g, "$1 $2").replace(/^([-+])\s*/, "$1 ").split(/\s+/);
  const sign = SIGNS[said[0] ?? ""];
  const words = (sign === undefined ? said : said.slice(1)).filter((word) => !FILLERS.has(word));
  const written = words.join(" ");
  const found = /[a-z]/.test(written) ? numberIn(words) : written;
  return found === null ? plain : `${sign ?? ""}${found}`;
}

function numberIn(words: readonly string[]): string | null {
  const [whole, used] = cardinal(words);
  const rest = words.slice(used);
  const next = rest[0];
  if (whole === null) return next !== undefined && POINTS.has(next) ? decimals("0", rest.slice(1)) : partOf(1, rest);
  if (next === undefined) return String(whole);
  if (POINTS.has(next)) return decimals(String(whole), rest.slice(1));
  const one = partOf(whole, rest);
  if (one !== null) return one;
  const halves = partOf(1, rest);
  if (halves !== null) return `${whole} ${halves}`;
  const [over, more] = cardinal(rest);
  const part = partOf(over ?? 1, rest.slice(more));
  return part === null || !part.includes("/") ? null : `${whole} ${part}`;
}

/** "three eighths" is 3/8, "six tenths" 0.6, "half" one half; only where nothing follows. */
function partOf(over: number, words: readonly string[]): string | null {
  const under = PARTS[words[0] ?? ""];
  const several = (words[0] ?? "").endsWith("s") || words[0] === "halves";
  if (under === undefined || words.length > 1 || (over !== 1 && !several)) return null;
  return under === 10 ? (over / 10).toFixed(1) : `${over}/${under}`;
}

/** Decimals digit by digit, or as one number: "two five" and "twenty five" are both 25. */
function decimals(whole: string, words: readonly string[]): string | null {
  let digits = "";
  for (let k = 0; k < words.length; ) {
    const [value, used] = cardinal(words.slice(k));
    if (value === null) return null;
    digits += value;
    k += used;
  }
  return digits ? `${whole}.${digits}` : null;
}

/** The number that the words begin with, below a hundred in words, and how many words it takes. */
function cardinal(words: readonly string[]): [number | null, number] {
  const [first = "", second = ""] = words;
  if (/^\d{1,5}$/.test(first)) return [Number(first), 1];
  if (first === "oh" || first === "nought" || first === "nil") return [0, 1];
  const unit = UNITS.indexOf(first);
  if (unit >= 0) return [unit, 1];
  const ten = TENS.indexOf(first);
  if (ten < 2) return [null, 0];
  const more = UNITS.indexOf(second);
  return more > 0 && more < 10 ? [ten * 10 + more, 2] : [ten * 10, 1];
}
