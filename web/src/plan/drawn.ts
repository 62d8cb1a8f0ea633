/** From what a plan shows to features with their styles. */

import Feature from "ol/Feature";
import { Circle, LineString, Point as Dot, Polygon } from "ol/geom";
import { Circle as Disc, Fill, RegularShape, Stroke, Style, Text } from "ol/style";

import type { Point } from "../fields";
import type { PlanModel, PlanStation } from "./model";

/** The colours of the theme in force, read from the page's style sheet. */
export interface Ink {
  readonly ink: string;
  readonly faint: string;
  readonly floor: string;
  readonly garage: string;
  readonly accent: string;
  readonly warn: string;
  readonly ground: string;
  readonly low: string;
  readonly high: string;
}

export function inkOf(element: HTMLElement): Ink {
  const style = getComputedStyle(element);
  const read = (name: string): string => style.getPropertyValue(`--${name}`).trim() || "#000";
  return {
    ink: read("ink"), faint: read("faint"), floor: read("floor"), garage: read("garage"), accent: read("accent"),
    warn: read("warn"), ground: read("ground"), low: read("low"), high: read("high"),
  };
}

const FONT = "system-ui, 'Segoe UI', Roboto, sans-serif";

export function draw(model: PlanModel, ink: Ink): Feature[] {
  return [
    ...model.areas.flatMap((area) => outline(area, model.sheet !== null, ink)),
    ...contours(model, ink),
    ...model.walls.map((line) => lineOf(line, new Style({ zIndex: 3, stroke: new Stroke({ color: ink.ink, width: 2 }) }))),
    ...model.sections.map((s) => named(lineOf(s.line, dashed(ink.accent, 2)), "section", s.id)),
    ...base(model, ink),
    ...draft(model, ink),
    ...model.marks.map((mark) => markOf(mark, ink)),
    ...model.distress.map((d) => named(new Feature(new Dot([...d.at])), "distress", d.id, triangle(ink))),
    ...model.stations.map((s) => station(s, ink)),
    ...target(model.next, ink, "next"),
    ...target(model.here, ink, ""),
    ...held(model.held, ink),
  ];
}

function named(feature: Feature, kind: string, id: string, style?: Style | Style[]): Feature {
  feature.setProperties({ kind, id });
  if (style) feature.setStyle(style);
  return feature;
}

function outline({ id, kind, outline: corners, holes, door }: PlanModel["areas"][number], overSheet: boolean, ink: Ink): Feature[] {
  if (corners.length < 3) return [];
  const floor = new Feature(new Polygon([corners, ...holes].map(closedRing)));
  // Over a sheet the floor lets it through, or there would be nothing to trace.
  const fill = new Fill({ color: `${kind === "garage" ? ink.garage : ink.floor}${overSheet ? "55" : ""}` });
  named(floor, "area", id, new Style({ zIndex: 0, fill, stroke: new Stroke({ color: ink.ink, width: 3, lineJoin: "miter" }) }));
  floor.set("frame", true);
  if (door.length < 2) return [floor];
  return [floor, lineOf(door, new Style({ zIndex: 4, stroke: new Stroke({ color: ink.accent, width: 7, lineCap: "butt" }) }))];
}

function closedRing(corners: readonly Point[]): number[][] {
  return [...corners, corners[0] as Point].map((p) => [...p]);
}

function contours(model: PlanModel, ink: Ink): Feature[] {
  return model.contours.map((line) => {
    const color = line.level < 0 ? ink.low : ink.high;
    const stroke = new Stroke({ color, width: 1.6, ...(model.older ? { lineDash: [5, 5] } : {}) });
    const label = new Text({ text: line.label, placement: "line", font: `11px ${FONT}`, fill: new Fill({ color }), stroke: new Stroke({ color: ink.floor, width: 3 }) });
    return lineOf(line.points, new Style({ zIndex: 1, stroke, text: label }));
  });
}

function lineOf(line: readonly Point[], style: Style): Feature {
  const feature = new Feature(new LineString(line.map((p) => [...p])));
  feature.setStyle(style);
  return feature;
}

function dashed(color: string, width: number): Style {
  return new Style({ zIndex: 2, stroke: new Stroke({ color, width, lineDash: [9, 6] }) });
}

function base(model: PlanModel, ink: Ink): Feature[] {
  if (!model.base) return [];
  const { at, reach } = model.base;
  const post = new Feature(new Dot([...at]));
  post.setStyle(new Style({ zIndex: 5, image: new RegularShape({ points: 4, radius: 9, angle: 0, fill: new Fill({ color: ink.accent }), stroke: new Stroke({ color: ink.ground, width: 2 }) }) }));
  if (!reach) return [post];
  const ring = new Feature(new Circle([...at], reach));
  ring.setStyle(dashed(ink.faint, 1.5));
  return [post, ring];
}

function draft(model: PlanModel, ink: Ink): Feature[] {
  const { draft: found } = model;
  if (!found || !found.points.length) return [];
  const ring = found.closed ? [...found.points, found.points[0] as Point] : found.points;
  const path = lineOf(ring, new Style({ zIndex: 6, stroke: new Stroke({ color: ink.accent, width: 3.5 }) }));
  path.set("frame", found.typed && found.points.length > 1);
  const dot = (radius: number): Style => new Style({ zIndex: 7, image: new Disc({ radius, fill: new Fill({ color: ink.accent }), stroke: new Stroke({ color: ink.ground, width: 2 }) }) });
  const ends = found.points.map((p, k) => {
    const end = new Feature(new Dot([...p]));
    end.setStyle(dot(k === found.points.length - 1 ? 8 : 5));
    return end;
  });
  return [path, ...ends];
}

function markOf(mark: PlanModel["marks"][number], ink: Ink): Feature {
  const image = new RegularShape({ points: 4, radius: 6, angle: Math.PI / 4, fill: new Fill({ color: ink.faint }) });
  const text = new Text({ text: mark.label, font: `11px ${FONT}`, offsetY: -13, fill: new Fill({ color: ink.ink }), stroke: new Stroke({ color: ink.ground, width: 3 }) });
  return named(new Feature(new Dot([...mark.at])), "mark", mark.id, new Style({ zIndex: 5, image, text }));
}

function triangle(ink: Ink): Style {
  return new Style({ zIndex: 6, image: new RegularShape({ points: 3, radius: 10, declutterMode: "none", fill: new Fill({ color: ink.warn }), stroke: new Stroke({ color: ink.ground, width: 2 }) }) });
}

function station(found: PlanStation, ink: Ink): Feature {
  const colors = { level: ink.ink, raw: ink.faint, bare: ink.ground, odd: ink.warn };
  const edge = found.look === "bare" ? ink.ink : ink.ground;
  const image = new Disc({ radius: found.look === "odd" ? 6.5 : 4.5, declutterMode: "none", fill: new Fill({ color: colors[found.look] }), stroke: new Stroke({ color: edge, width: 1.5 }) });
  const text = new Text({
    text: found.look === "raw" ? `(${found.label})` : found.label,
    font: `600 13px ${FONT}`, offsetY: -13,
    fill: new Fill({ color: found.look === "odd" ? ink.warn : ink.ink }),
    stroke: new Stroke({ color: ink.floor, width: 3.5 }),
  });
  const feature = named(new Feature(new Dot([...found.at])), "station", found.id, new Style({ zIndex: 8, image, text }));
  feature.set("at", found.at);
  return feature;
}

function target(at: Point | null, ink: Ink, label: string): Feature[] {
  if (!at) return [];
  const feature = new Feature(new Dot([...at]));
  const stroke = new Stroke({ color: ink.accent, width: 3, ...(label ? { lineDash: [4, 4] } : {}) });
  const image = new Disc({ radius: 13, stroke, declutterMode: "none" });
  feature.setStyle(new Style({ zIndex: 9, image }));
  return [feature];
}

/** What is taken hold of: a line along it with a square at each of its points. */
function held(points: readonly Point[], ink: Ink): Feature[] {
  if (!points.length) return [];
  const image = new RegularShape({ points: 4, radius: 9, angle: Math.PI / 4, declutterMode: "none", fill: new Fill({ color: ink.ground }), stroke: new Stroke({ color: ink.accent, width: 3 }) });
  const dots = points.map((p) => {
    const dot = new Feature(new Dot([...p]));
    dot.setStyle(new Style({ zIndex: 11, image }));
    return dot;
  });
  return [lineOf(points, new Style({ zIndex: 10, stroke: new Stroke({ color: ink.accent, width: 5 }) })), ...dots];
}

/** The cross that keys move. */
export function cross(ink: Ink): Style[] {
  const bar = (color: string, width: number): Style =>
    new Style({ image: new RegularShape({ points: 4, radius: 15, radius2: 0, declutterMode: "none", stroke: new Stroke({ color, width }) }) });
  return [bar(ink.ground, 6), bar(ink.accent, 3)];
}
