/** Signs of distress: where, what, how wide by pictures of the categories, how old, photographs. */

import { useMemo, useState } from "preact/hooks";

import { fresh, live } from "../background";
import type { Distress as Found } from "../document";
import { all, nextName, single, text, type Point } from "../fields";
import { Chips, Choice, Field, Note } from "../parts";
import { fileName, keepPhoto, shrink, type Shrunk } from "../photos";
import { planModel } from "../plan/model";
import { PlanView } from "../plan/PlanView";
import { database, state, suffix, write, type Change } from "../visit";
import { readingOf } from "../written";
import { CrackPictures } from "./crack_pictures";
import { Photo } from "./photo";

type Said<K extends keyof Found> = NonNullable<Found[K]>;
type Options<K extends keyof Found> = readonly (readonly [Said<K> & string, string])[];

const KINDS: Options<"kind"> = [
  ["crack", "Crack"], ["separation", "Gap"], ["door-binding", "Door binds"], ["door-out-of-square", "Door out of square"],
  ["slope-felt", "Slope felt"], ["repair-seen", "Repair seen"], ["other", "Other"],
];
const ELEMENTS: Options<"element"> = [
  ["drywall", "Drywall"], ["ceiling", "Ceiling"], ["brick-veneer", "Brick veneer"], ["slab", "Slab"], ["tile", "Tile"],
  ["trim", "Trim"], ["exterior-grade-beam", "Grade beam outside"], ["other", "Other"],
];
const AGES: Options<"age"> = [["fresh", "Fresh"], ["old", "Old"], ["repaired", "Repaired"], ["unknown", "Cannot tell"]];
const SIDES: Options<"side"> = [["inside", "Inside"], ["outside", "Outside"]];

interface Sign {
  readonly kind: Said<"kind">;
  readonly element: Said<"element">;
  readonly width: string;
  readonly age: Said<"age">;
  readonly side: Said<"side">;
  readonly note: string;
}

const BLANK: Sign = { kind: "crack", element: "drywall", width: "", age: "unknown", side: "inside", note: "" };

export function Distress() {
  const now = state.value;
  const unit = text(single(now, "units"), "level") || "in";
  const [at, setAt] = useState<Point | null>(null);
  const [sign, setSign] = useState<Sign>(BLANK);
  const [photo, setPhoto] = useState<{ readonly shrunk: Shrunk; readonly name: string } | null>(null);
  const [told, setTold] = useState("");
  const [floor, isFresh] = [live.value, fresh.value];
  const model = useMemo(() => ({ ...planModel(now, floor, isFresh, unit), contours: [], here: at }), [now, floor, isFresh, unit, at]);
  const set = (part: Partial<Sign>): void => setSign({ ...sign, ...part });
  const wide = sign.kind === "crack" || sign.kind === "separation";
  const take = async (file: File | undefined): Promise<void> => {
    if (!file) return;
    try {
      setPhoto({ shrunk: await shrink(file), name: fileName(file.name, "photograph.jpg") });
      setTold("");
    } catch (error) {
      setTold((error as Error).message);
    }
  };
  const keep = async (): Promise<void> => {
    if (!at) return setTold("Tap the plan where it is.");
    const width = wide && sign.width ? readingOf(sign.width, "decimal") : null;
    if (wide && sign.width && width === null) return setTold(`The width is no number: type ${unit === "in" ? "0.1 or 1/8" : "3"}.`);
    if (photo) await keepPhoto(await database(), photo.shrunk);
    await write(...changes(sign, at, width, photo && { sha256: photo.shrunk.sha256, name: photo.name }));
    setSign({ ...BLANK, kind: sign.kind, element: sign.element });
    setPhoto(null);
    setAt(null);
    setTold("");
  };
  return (
    <div class="split">
      <h1 class="sr">Distress and photographs</h1>
      <div class="stage"><PlanView model={model} label="Plan of the house. Tap where the sign is." tap={(place) => setAt(place)} /></div>
      <section class="sheet" aria-label="Sign of distress">
        {told && <div role="alert"><Note kind="warn">{told}</Note></div>}
        {!at && <Note>Tap the plan where the sign is.</Note>}
        <Chips label="What" scroll value={sign.kind} options={KINDS} change={(kind) => set({ kind })} />
        <div class="row fields">
          <Choice label="On what" value={sign.element} options={ELEMENTS} change={(element) => set({ element })} />
          <Choice label="How old it looks" value={sign.age} options={AGES} change={(age) => set({ age })} />
        </div>
        <Chips label="Side" value={sign.side} options={SIDES} change={(side) => set({ side })} />
        {wide && <CrackPictures unit={unit} chosen={sign.width} choose={(width) => set({ width })} />}
        {wide && <Field label={`Width (${unit})`} value={sign.width} change={(width) => set({ width })} inputMode="decimal" hint="A picture fills in the middle of its category; type the width if you measured it" />}
        <Field label="Remark" value={sign.note} change={(note) => set({ note })} maxLength={500} />
        <div class="row">
          <label class="button">{photo ? "Another photograph" : "Photograph"}
            <input type="file" class="hidden" accept="image/*" onChange={(event) => void take(event.currentTarget.files?.[0])} />
          </label>
          {photo && <span>{photo.name} · {Math.ceil(photo.shrunk.blob.size / 1000)} kB</span>}
          <button type="button" class="main" disabled={!at} onClick={() => void keep()}>Keep this sign</button>
        </div>
        <Signs unit={unit} />
      </section>
    </div>
  );
}

function changes(sign: Sign, at: Point, width: string | null, photo: { sha256: string; name: string } | null): Change[] {
  const id = nextName(all(state.value, "distress").keys(), "d", suffix.value);
  const shot = nextName(all(state.value, "photo").keys(), "p", suffix.value);
  const note = sign.note.trim();
  const fields = {
    kind: sign.kind, element: sign.element, at, age: sign.age, side: sign.side,
    ...(width ? { width } : {}), ...(note ? { note } : {}), ...(photo ? { photo: shot } : {}),
  };
  const made: Change[] = [{ kind: "distress", of: id, fields }];
  if (photo) made.unshift({ kind: "photo", of: shot, fields: { sha256: photo.sha256, name: photo.name || "photograph.jpg", of: id } });
  return made;
}

/** The words for what was chosen. */
function told(options: readonly (readonly [string, string])[], chosen: string): string {
  return options.find(([key]) => key === chosen)?.[1] ?? chosen;
}

function Signs({ unit }: { readonly unit: string }) {
  const rows = [...all(state.value, "distress")].reverse();
  if (!rows.length) return null;
  return (
    <>
      <h2>Written down</h2>
      <ul class="list">
        {rows.map(([id, fields]) => {
          const photo = all(state.value, "photo").get(text(fields, "photo"));
          return (
            <li key={id}>
              {photo && <Photo sha256={text(photo, "sha256")} alt={`Photograph of ${id}`} />}
              <span class="grow"><strong>{id}</strong> · {told(KINDS, text(fields, "kind"))} · {told(ELEMENTS, text(fields, "element"))}{text(fields, "age") !== "unknown" && ` · ${told(AGES, text(fields, "age"))}`}{text(fields, "width") && ` · ${text(fields, "width")} ${unit}`}{text(fields, "note") && ` · ${text(fields, "note")}`}</span>
              <button type="button" aria-label={`Take ${id} back`} onClick={() => void write({ kind: "distress", of: id, fields: { gone: true } })}>Take back</button>
            </li>
          );
        })}
      </ul>
    </>
  );
}
