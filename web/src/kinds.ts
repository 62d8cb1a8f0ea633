/** What may be written down: the objects of the document, field by field, held to its schema. */

import type * as doc from "./document";
import type { Fields } from "./record";

type Line = readonly (readonly [number, number])[];

/** The fields of each kind of entry. */
interface Kinds {
  units: doc.Units;
  property: doc.Property;
  visit: doc.Visit;
  reference: doc.Reference;
  instrument: doc.Instrument;
  area: doc.Area;
  wall: { readonly line: Line };
  mark: doc.Mark;
  finish: doc.Finish;
  setup: doc.Setup;
  station: doc.Station;
  reading: doc.Reading;
  section: doc.Section;
  grade: doc.Grade;
  distress: doc.Distress;
  photo: doc.Photo;
  wording: { readonly text: string; readonly reason: string; readonly by: string };
  answer: { readonly code: string; readonly reading: string; readonly text: string };
}

/** Some fields of an object; null takes one out, `gone` the whole object. */
type Some<T> = { readonly [K in keyof T as K extends "id" ? never : K]?: T[K] | null } & { readonly gone?: boolean | null };

type ChangeOf<K extends keyof Kinds> = { readonly kind: K; readonly of?: string; readonly fields: Some<Kinds[K]> };

/** Fields of one object to be written down. */
export type Change = { [K in keyof Kinds]: ChangeOf<K> }[keyof Kinds];

/** A change of an object whose kind is known only when it is made, such as whatever is moved. */
export function changeOf(kind: string, of: string, fields: Fields): Change {
  return { kind, of, fields } as unknown as Change;
}
