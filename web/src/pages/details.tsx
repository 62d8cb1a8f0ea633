/** The house and the visit in words; each field is written down when it is left. */

import { useState } from "preact/hooks";

import type { Property, Visit } from "../document";
import { single, text } from "../fields";
import { changeOf } from "../kinds";
import { remember } from "../mark";
import { Choice, Field } from "../parts";
import { route } from "../route";
import { setTheme, theme, type Theme } from "../theme";
import { state, write } from "../visit";
import { FirmLogo } from "./firm_mark";

type Foundation = NonNullable<Property["foundation"]> | "";
type Purpose = NonNullable<Visit["purpose"]>;

const FOUNDATIONS: readonly (readonly [Foundation, string])[] = [["", "Not said"], ["slab-on-ground", "Slab on ground"], ["pier-and-beam", "Pier and beam"], ["crawl-space", "Crawl space"], ["basement", "Basement"], ["other", "Other"]];
const PURPOSES: readonly (readonly [Purpose, string])[] = [["baseline", "Baseline: the first of several"], ["condition", "Condition today"], ["repeat", "Repeat: to compare"]];

export function Details() {
  const [house, visit] = [single(state.value, "property"), single(state.value, "visit")];
  return (
    <>
      <h1>House and visit</h1>
      <Kept kind="property" name="label" label="Name of the house" />
      <Kept kind="property" name="address" label="Address" />
      <Choice label="Foundation" value={text(house, "foundation") as Foundation} options={FOUNDATIONS}
        change={(value) => void write({ kind: "property", fields: { foundation: value || null } })} />
      <Kept kind="visit" name="date" label="Day of the visit" type="date" />
      <Choice label="Purpose" value={(text(visit, "purpose") || "condition") as Purpose} options={PURPOSES}
        change={(value) => void write({ kind: "visit", fields: { purpose: value } })} />
      <Kept kind="visit" name="surveyor" label="Surveyor" />
      <Kept kind="visit" name="licence" label="Licence" />
      <Kept kind="visit" name="firm" label="Firm" also={(name) => void remember({ name })} />
      <FirmLogo />
      <Kept kind="visit" name="weather" label="Weather, better of the weeks before" />
      <Kept kind="property" name="notes" label="Remarks on the house" />
      <Choice label="Colours" value={theme.value} change={(to) => setTheme(to as Theme)}
        options={[["light", "Light"], ["dark", "Dark"], ["sun", "Sunlight: black on white, heavier"]]} />
      <div class="row">
        <a class="button" href={`#/${route.value.visit}/history`}>History</a>
        <a class="button" href={`#/${route.value.visit}/compare`}>Compare with another visit</a>
        <a class="button" href={`#/${route.value.visit}/import`}>Bring in readings or an outline</a>
        <a class="button" href={`#/${route.value.visit}/export`}>Files for others</a>
      </div>
    </>
  );
}

interface KeptProps {
  readonly kind: string;
  readonly name: string;
  readonly label: string;
  readonly type?: string;
  /** Called with what was kept. */
  readonly also?: (value: string) => void;
}

function Kept({ kind, name, label, type = "text", also }: KeptProps) {
  const known = text(single(state.value, kind), name);
  const [typed, setTyped] = useState<string | null>(null);
  const keep = (): void => {
    const value = typed?.trim();
    setTyped(null);
    const needed = name === "label" || name === "date";
    if (value === undefined || value === known || (needed && !value)) return;
    void write(changeOf(kind, "", { [name]: value || null }));
    also?.(value);
  };
  return <Field label={label} type={type} value={typed ?? known} change={setTyped} onBlur={keep} maxLength={300} />;
}
