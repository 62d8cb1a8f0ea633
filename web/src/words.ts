/** Words as the server's list has them: by their beginnings, without accents and capitals. */

function wordsOf(text: string): string[] {
  return text.normalize("NFKD").replace(/\p{M}/gu, "").toLowerCase().match(/[\p{L}\p{N}]+/gu) ?? [];
}

/** Tell whether each word that is asked for is the beginning of a word of the text. */
export function hasWords(text: string, asked: string): boolean {
  const here = wordsOf(text);
  return wordsOf(asked).every((word) => here.some((each) => each.startsWith(word)));
}
