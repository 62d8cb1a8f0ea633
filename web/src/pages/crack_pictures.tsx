/** Crack widths as pictures, drawn here at their own scale. Categories: BRE Digest 251 (1995). */

const MM_PER_IN = 25.4;
/** Category, words, the width drawn and filled in (middle of the category), mm. */
const CATEGORIES = [
  [0, "hairline, under 0.1 mm", 0.05], [1, "to 1 mm", 0.5], [2, "1 to 5 mm", 3],
  [3, "5 to 15 mm", 10], [4, "15 to 25 mm", 20], [5, "over 25 mm", 30],
] as const;
const PATH = "M30 -2 L26 9 L33 18 L27 29 L31 38 L25 50";

interface Props {
  readonly unit: string;
  readonly chosen: string;
  readonly choose: (width: string) => void;
}

export function CrackPictures({ unit, chosen, choose }: Props) {
  return (
    <div class="cracks" role="group" aria-label="Width by picture">
      {CATEGORIES.map(([category, words, mm]) => {
        const width = unit === "mm" ? String(mm) : (mm / MM_PER_IN).toFixed(mm < 1 ? 3 : 2);
        return (
          <button key={category} type="button" class="crack" aria-pressed={width === chosen} aria-label={`Category ${category}, ${words}`} onClick={() => choose(width)}>
            <svg viewBox="0 0 60 48" width="60" height="48" aria-hidden="true">
              <rect width="60" height="48" fill="var(--garage)" />
              <path d={PATH} fill="none" stroke="var(--ink)" stroke-width={Math.max(0.6, mm)} stroke-linejoin="round" />
            </svg>
            <span>{category}: {words}</span>
          </button>
        );
      })}
    </div>
  );
}
