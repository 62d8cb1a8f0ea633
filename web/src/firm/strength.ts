/** How hard a new password looks to guess, told while it is typed. It is worked out here and sent
 * nowhere; what is taken in the end is for the server to say, which knows longer lists. */

/** 0 too short, 1 easy to guess, 2 fair, 3 strong. */
export type Level = 0 | 1 | 2 | 3;

export interface Strength {
  readonly level: Level;
  readonly words: string;
}

const SHORTEST = 12;
const [FEW, ENOUGH] = [8, 16];
/** What is tried first, in passwords of every language (from memory). */
const COMMON = "password passwort passwd letmein welcome iloveyou admin login master secret changeme dragon monkey sunshine princess football baseball superman batman trustno shadow michael jordan charlie summer winter spring autumn monday friday january december".split(" ");
const ROWS = ["qwertyuiop", "asdfghjkl", "zxcvbnm", "qwertzuiop", "azertyuiop"];
const LOOKALIKES: { readonly [sign: string]: string } = { 0: "o", 3: "e", 4: "a", 5: "s", 7: "t", "@": "a", $: "s", "!": "i" };

/** Judge a password beside what others know of the person: name, e-mail address, firm. */
export function strengthOf(password: string, about: readonly string[]): Strength {
  const text = password.normalize("NFKC").toLowerCase();
  if ([...text].length < SHORTEST) return { level: 0, words: `Too short: ${SHORTEST} characters at the least.` };
  const [read, other] = ["l", "i"].map((one) => [...text].map((sign) => LOOKALIKES[sign] ?? (sign === "1" ? one : sign)).join("")) as [string, string];
  const known = about.flatMap((each) => each.normalize("NFKC").toLowerCase().split(/[^\p{L}\p{N}]+/u)).filter((word) => [...word].length >= 4);
  if (known.some((word) => [text, read, other].some((form) => form.includes(word)))) return { level: 1, words: "Weak: it holds a part of your name, your e-mail address or your firm’s name." };
  const free = Math.min(...[text, read].map((form) => freeSigns(without(form)))) * (kinds(password) > 2 ? 1.5 : 1);
  if (free < FEW) return { level: 1, words: "Weak: common words, repeats, or rows of letters or digits." };
  if (free < ENOUGH) return { level: 2, words: "Fair. One more word makes it strong." };
  return { level: 3, words: "Strong." };
}

/** A text with each common word in it as one sign. */
function without(text: string): string {
  return COMMON.reduce((left, word) => left.replaceAll(word, "·"), text);
}

/** How many signs do not follow from those before: not in a row, no repeat of the beginning. */
function freeSigns(text: string): number {
  const all = [...text];
  const period = all.findIndex((_, n) => n > 0 && all.slice(n).every((sign, k) => sign === all[k]));
  const signs = period > 0 ? all.slice(0, period) : all;
  return signs.filter((sign, k) => k < 2 || !follows(signs[k - 2] ?? "", signs[k - 1] ?? "", sign)).length;
}

function follows(a: string, b: string, c: string): boolean {
  const [one, two, three] = [a, b, c].map((sign) => sign.codePointAt(0) ?? 0) as [number, number, number];
  return (two - one === three - two && Math.abs(three - two) <= 1) || (beside(a, b) && beside(b, c));
}

function beside(a: string, b: string): boolean {
  return ROWS.some((row) => row.includes(a + b) || row.includes(b + a));
}

/** How many kinds of signs there are: small and large letters, digits, others. */
function kinds(text: string): number {
  return [/\p{Ll}/u, /\p{Lu}/u, /\p{N}/u, /[^\p{L}\p{N}\s]/u].filter((kind) => kind.test(text)).length;
}
