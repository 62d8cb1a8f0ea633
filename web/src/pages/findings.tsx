/** The results in words: the screening, each floor's figures, and each criterion with its source. */

import { Figure } from "../parts";
import { doubt, shown } from "../written";

export interface Measured {
  readonly value: number;
  readonly sd: number;
}

export interface AreaFound {
  readonly too_few?: number;
  readonly needs?: number;
  readonly range?: Measured & { readonly high: string; readonly low: string };
  readonly tilt?: { readonly slope: number; readonly sd: number; readonly direction: number };
  readonly deflection?: { readonly deflection: number; readonly sd: number; readonly length: number; readonly shape: string } | null;
  readonly bend?: { readonly word: string; readonly why: string };
}

export interface CriterionFound {
  readonly id: string;
  readonly set: string;
  readonly area: string;
  readonly title: string;
  readonly quantity: string;
  readonly value: number | null;
  readonly sd: number | null;
  readonly limit: number;
  readonly unit: string;
  readonly state: string;
  readonly basis: string;
  readonly source: string;
  readonly note: string;
}

export interface Assessed {
  readonly sha256: string;
  readonly areas: { readonly [id: string]: AreaFound };
  readonly criteria: readonly CriterionFound[];
  readonly screening: { readonly outcome: string; readonly reasons: readonly string[]; readonly cautions: readonly string[] };
  readonly words: { readonly title: string; readonly summary: readonly string[]; readonly meaning: readonly string[]; readonly advice: readonly string[]; readonly limits: readonly string[]; readonly sentences?: { readonly [key: string]: string } };
}

export function Screening({ found }: { readonly found: Assessed }) {
  const { words, screening } = found;
  return (
    <section class="outcome">
      <h2>{words.title}</h2>
      {words.summary.map((line) => <p key={line}>{line}</p>)}
      <details open>
        <summary>What this means</summary>
        <ul>{words.meaning.map((line) => <li key={line}>{line}</li>)}</ul>
      </details>
      <details>
        <summary>What to do</summary>
        <ul>{words.advice.map((line) => <li key={line}>{line}</li>)}</ul>
      </details>
      <details>
        <summary>What one visit cannot tell, and cautions</summary>
        <ul>{[...words.limits, ...screening.cautions].map((line) => <li key={line}>{line}</li>)}</ul>
      </details>
    </section>
  );
}

export function Areas({ found, unit }: { readonly found: Assessed; readonly unit: string }) {
  return (
    <>
      {Object.entries(found.areas).map(([id, area]) => (
        <section key={id} aria-label={`Floor ${id}`}>
          <h2>{id}</h2>
          {area.too_few !== undefined ? <p>{area.too_few} stations; the shape needs {area.needs}.</p> : <AreaFigures area={area} unit={unit} />}
        </section>
      ))}
      <p class="small">± is half of the 95 % interval.</p>
    </>
  );
}

function AreaFigures({ area, unit }: { readonly area: AreaFound; readonly unit: string }) {
  const { range, tilt, deflection, bend } = area;
  const [per, words] = unit === "mm" ? [1000, "mm per m"] : [240, "in per 20 ft"];
  return (
    <>
      <dl class="figures">
        {range && <Figure name={`Highest (${range.high}) to lowest (${range.low})`} value={`${shown(range.value, unit)} ${unit}`} doubt={doubt(range.sd, unit)} />}
        {tilt && <Figure name="Tilt of the whole floor" value={`${(tilt.slope * per).toFixed(2)} ${words}`} doubt={`± ${(1.96 * tilt.sd * per).toFixed(2)}`} />}
        {deflection && <Figure name={`Largest bend along a line (${deflection.shape})`} value={`${shown(deflection.deflection, unit)} ${unit}`} doubt={doubt(deflection.sd, unit)} />}
        {bend && <Figure name="Shape without the tilt" value={bend.word} doubt="" />}
      </dl>
      {bend && <p class="small">{bend.why}</p>}
    </>
  );
}

export function Criteria({ found, unit }: { readonly found: Assessed; readonly unit: string }) {
  return (
    <ul class="criteria" data-unit={unit}>
      {found.criteria.map((c) => (
        <li key={`${c.set} ${c.id} ${c.area}`}>
          <p class={`state ${c.state.replaceAll(" ", "-")}`}>{c.state}</p>
          <p><strong>{c.title}</strong> · {c.area}</p>
          <p>{c.value === null ? "not measured" : `${plain(c.value)}${c.sd === null ? "" : ` ± ${plain(1.96 * c.sd)}`} ${c.unit}`}; limit {plain(c.limit)} {c.unit}</p>
          <details><summary>Where this comes from</summary><p>{c.note}</p><p>{c.basis}: {c.source}</p></details>
        </li>
      ))}
    </ul>
  );
}

function plain(value: number): string {
  return Math.abs(value) < 0.1 && value !== 0 ? value.toPrecision(2) : value.toFixed(2);
}
