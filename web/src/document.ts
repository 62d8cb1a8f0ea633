/** The level-book document, written by tools/make_types.py from its JSON Schema.
 * Do not change it here. */

import type { Json } from "./record";

/** One continuous floor; nothing is carried over from one area into another. */
export interface Area {
  /** Anything of your own; kept as it is, and not looked at. */
  readonly extra?: { readonly [key: string]: Json } | null;
  /** Name that stations use. */
  readonly id: string;
  /** What the floor is used for. */
  readonly kind: "living" | "garage" | "addition" | "porch" | "other";
  /** Corners in order round the floor; the last joins the first and is not repeated. */
  readonly outline: readonly (readonly [number, number])[];
  /** Outlines of parts inside that are not this floor. */
  readonly holes?: readonly (readonly (readonly [number, number])[])[];
  /** Ends of the vehicle doorway of a garage, on its outline. */
  readonly vehicle_door?: readonly [readonly [number, number], readonly [number, number]] | null;
}

/** A visible sign, at a place or along a line. */
export interface Distress {
  /** Anything of your own; kept as it is, and not looked at. */
  readonly extra?: { readonly [key: string]: Json } | null;
  /** Name of the sign. */
  readonly id: string;
  /** What was seen or felt. */
  readonly kind: "crack" | "separation" | "door-binding" | "door-out-of-square" | "slope-felt" | "repair-seen" | "other";
  /** The part of the house that shows it. */
  readonly element: "drywall" | "ceiling" | "brick-veneer" | "slab" | "tile" | "trim" | "exterior-grade-beam" | "other";
  /** Where it is. */
  readonly at?: readonly [number, number] | null;
  /** The line that it follows. */
  readonly line?: readonly (readonly [number, number])[] | null;
  /** Width of a crack or gap, level units as written. */
  readonly width?: string | number | null;
  /** Which side of the wall it is on. */
  readonly side?: "inside" | "outside" | null;
  /** How old it looks. */
  readonly age?: "fresh" | "old" | "repaired" | "unknown" | null;
  /** Remark on the sign. */
  readonly note?: string | null;
  /** Id of a photograph of it. */
  readonly photo?: string | null;
}

/** What is underfoot; one unknown height above the common floor plane. */
export interface Finish {
  /** Anything of your own; kept as it is, and not looked at. */
  readonly extra?: { readonly [key: string]: Json } | null;
  /** Name that readings use. */
  readonly id: string;
  /** What it is: tile, carpet, bare concrete, a built step down, …. */
  readonly name: string;
}

/** The fall of the ground outside, read beside a wall and away from it from one setup. */
export interface Grade {
  /** Anything of your own; kept as it is, and not looked at. */
  readonly extra?: { readonly [key: string]: Json } | null;
  /** Name that results use. */
  readonly id: string;
  /** Id of the setup that both ends were read from. */
  readonly setup: string;
  /** Where it was read beside the wall. */
  readonly at: readonly [number, number];
  /** Where it was read away from the wall. */
  readonly out?: readonly [number, number] | null;
  /** How far from the wall, plan units, where the place is not drawn; straight out then. */
  readonly distance?: number | null;
  /** The reading beside the wall as written, level units. */
  readonly near: string | number;
  /** The reading away from the wall as written, level units. */
  readonly far: string | number;
  /** What the ground is: open soil, an impervious surface, or the bed of a swale. */
  readonly surface?: "soil" | "paved" | "swale";
  /** Whether the pair was struck out; it is kept, and takes no part in any computation. */
  readonly struck?: boolean;
  /** Id of the pair that replaces this struck one. */
  readonly instead?: string | null;
  /** Remark on the place. */
  readonly note?: string | null;
}

/** A level instrument. */
export interface Instrument {
  /** Anything of your own; kept as it is, and not looked at. */
  readonly extra?: { readonly [key: string]: Json } | null;
  /** Name that setups use. */
  readonly id: string;
  /** How the instrument works. */
  readonly kind: "hydrostatic" | "water-level" | "laser-and-rod" | "optical-level" | "other";
  /** Whether a higher floor gives a larger reading or, as on a rod, a smaller one. */
  readonly higher_reads: "more" | "less";
  /** Smallest step of a reading, level units; 0 where readings are not rounded. */
  readonly resolution: number;
  /** Standard deviation of one reading before rounding, level units. */
  readonly sd: number;
  /** How far from its base it can read, plan units. */
  readonly reach?: number | null;
  /** Serial number. */
  readonly serial?: string | null;
  /** Checks against a known height step. */
  readonly checks?: readonly InstrumentCheck[];
}

/** A known height step and what the instrument read. */
export interface InstrumentCheck {
  /** Anything of your own; kept as it is, and not looked at. */
  readonly extra?: { readonly [key: string]: Json } | null;
  /** Day of the check, ISO 8601. */
  readonly date: string;
  /** Height of the known step, level units as written. */
  readonly known: string | number;
  /** What the instrument read for the step, level units as written. */
  readonly read: string | number;
}

/** A thing drawn on the plan. */
export interface Mark {
  /** Anything of your own; kept as it is, and not looked at. */
  readonly extra?: { readonly [key: string]: Json } | null;
  /** What it is: front-door, door, water-heater, drain, column, tree, downspout, note, …. */
  readonly kind: string;
  /** Where it is. */
  readonly at: readonly [number, number];
  /** Words beside it. */
  readonly label?: string | null;
}

/** A photograph, kept apart and known by its hash. */
export interface Photo {
  /** Anything of your own; kept as it is, and not looked at. */
  readonly extra?: { readonly [key: string]: Json } | null;
  /** Name that signs of distress use. */
  readonly id: string;
  /** SHA-256 of the file, 64 hexadecimal digits. */
  readonly sha256: string;
  /** Name of the file. */
  readonly name: string;
  /** What it shows, in words or by an id of this document. */
  readonly of?: string | null;
}

/** The house. */
export interface Property {
  /** Anything of your own; kept as it is, and not looked at. */
  readonly extra?: { readonly [key: string]: Json } | null;
  /** Short name of the house, as on the report. */
  readonly label: string;
  /** Postal address. */
  readonly address?: string | null;
  /** What the floor stands on. */
  readonly foundation?: "slab-on-ground" | "pier-and-beam" | "crawl-space" | "basement" | "other" | null;
  /** Whether the slab is post-tensioned, where known. */
  readonly post_tensioned?: boolean | null;
  /** Year the house was built. */
  readonly year_built?: number | null;
  /** Direction of north, degrees clockwise from up the sheet. */
  readonly north?: number | null;
  /** Remarks on the house. */
  readonly notes?: string | null;
}

/** One reading as written; struck readings stay. */
export interface Reading {
  /** Anything of your own; kept as it is, and not looked at. */
  readonly extra?: { readonly [key: string]: Json } | null;
  /** Name that other readings and results use. */
  readonly id: string;
  /** Id of the setup it was read from. */
  readonly setup: string;
  /** Id of the station it was read at. */
  readonly station: string;
  /** Id of the finish underfoot. */
  readonly finish: string;
  /** The reading as written: a decimal, a fraction or a mixed number, level units. */
  readonly value: string | number;
  /** Day and time, or time of the day of the visit, ISO 8601. */
  readonly time?: string | null;
  /** Whether the reading was struck out; it is kept, and takes no part in any computation. */
  readonly struck?: boolean;
  /** Id of the reading that replaces this struck one. */
  readonly instead?: string | null;
  /** Remark on the reading. */
  readonly note?: string | null;
}

/** What levels are referred to. */
export interface Reference {
  /** Anything of your own; kept as it is, and not looked at. */
  readonly extra?: { readonly [key: string]: Json } | null;
  /** Id of the station at level 0. */
  readonly station: string;
  /** Id of the finish at height 0; without it, that of the first reading at the station. */
  readonly finish?: string | null;
}

/** A line to draw a profile along. */
export interface Section {
  /** Anything of your own; kept as it is, and not looked at. */
  readonly extra?: { readonly [key: string]: Json } | null;
  /** Name of the section. */
  readonly id: string;
  /** Its two ends. */
  readonly line: readonly [readonly [number, number], readonly [number, number]];
}

/** One zeroing of an instrument; one unknown constant. */
export interface Setup {
  /** Anything of your own; kept as it is, and not looked at. */
  readonly extra?: { readonly [key: string]: Json } | null;
  /** Name that readings use. */
  readonly id: string;
  /** Id of the instrument. */
  readonly instrument: string;
  /** Where the base of the instrument stood. */
  readonly base?: readonly [number, number] | null;
}

/** A place that was read. */
export interface Station {
  /** Anything of your own; kept as it is, and not looked at. */
  readonly extra?: { readonly [key: string]: Json } | null;
  /** Name that readings use. */
  readonly id: string;
  /** Where it is. */
  readonly at: readonly [number, number];
  /** Id of the area whose floor it stands on. */
  readonly area: string;
  /** Remark on the place. */
  readonly note?: string | null;
  /** Why it is not where it should be: a bed, a cabinet, …. */
  readonly moved?: string | null;
}

/** Level unit (readings, widths) and plan unit (coordinates, lengths). */
export interface Units {
  /** Anything of your own; kept as it is, and not looked at. */
  readonly extra?: { readonly [key: string]: Json } | null;
  /** Unit of readings, resolutions, standard deviations and crack widths. */
  readonly level: "in" | "mm";
  /** Unit of coordinates and lengths on the plan. */
  readonly plan: "ft" | "m";
}

/** One visit. */
export interface Visit {
  /** Anything of your own; kept as it is, and not looked at. */
  readonly extra?: { readonly [key: string]: Json } | null;
  /** Day of the visit, ISO 8601, as 2026-03-02. */
  readonly date: string;
  /** First survey to compare with later, a look at the condition, or a survey again. */
  readonly purpose?: "baseline" | "condition" | "repeat" | null;
  /** Who took the readings. */
  readonly surveyor?: string | null;
  /** Licence or registration of the surveyor. */
  readonly licence?: string | null;
  /** Firm of the surveyor. */
  readonly firm?: string | null;
  /** Weather of the day and, better, of the weeks before. */
  readonly weather?: string | null;
  /** Remarks on the visit. */
  readonly notes?: string | null;
}

/** One visit to one property: everything written down, and nothing computed. */
export interface Book {
  /** Anything of your own; kept as it is, and not looked at. */
  readonly extra?: { readonly [key: string]: Json } | null;
  /** Name and version of this format. */
  readonly format: "levelbook/1";
  /** Units of the document. */
  readonly units: Units;
  readonly property: Property;
  /** The visit. */
  readonly visit: Visit;
  /** Level instruments used. */
  readonly instruments: readonly Instrument[];
  /** Floors, each continuous in itself. */
  readonly areas: readonly Area[];
  /** Walls to draw, each a line through its points. */
  readonly walls?: readonly (readonly (readonly [number, number])[])[];
  /** Things to draw; a water heater and drains also serve the drainage of a garage. */
  readonly marks?: readonly Mark[];
  /** What is underfoot. */
  readonly finishes: readonly Finish[];
  /** Zeroings of the instruments. */
  readonly setups: readonly Setup[];
  /** Places that were read. */
  readonly stations: readonly Station[];
  /** Readings in the order they were written. */
  readonly readings: readonly Reading[];
  /** Lines to draw a profile along. */
  readonly sections?: readonly Section[];
  /** Falls of the ground outside, away from the walls. */
  readonly grades?: readonly Grade[];
  readonly reference: Reference;
  /** Visible signs. */
  readonly distress?: readonly Distress[];
  /** Photographs. */
  readonly photos?: readonly Photo[];
}
