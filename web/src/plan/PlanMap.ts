/** The plan on the screen: OpenLayers in plain plan coordinates, with pan, pinch, drag and keys. */

import Feature from "ol/Feature";
import type MapBrowserEvent from "ol/MapBrowserEvent";
import OlMap from "ol/Map";
import View from "ol/View";
import { containsCoordinate, createEmpty, extend, type Extent, extendCoordinate, isEmpty } from "ol/extent";
import { type Geometry, Point as Dot } from "ol/geom";
import { defaults } from "ol/interaction/defaults";
import PointerInteraction from "ol/interaction/Pointer";
import VectorLayer from "ol/layer/Vector";
import Projection from "ol/proj/Projection";
import VectorSource from "ol/source/Vector";
import "ol/ol.css";

import type { Point } from "../fields";
import { cross, draw, type Ink } from "./drawn";
import type { PlanModel } from "./model";
import { toPlan } from "./placed";
import { stepped, wayOf } from "./pointing";
import { Underlay } from "./underlay";

const PLANE = new Projection({ code: "plan", units: "m", extent: [-1e4, -1e4, 1e4, 1e4] });
const NEAR_PX = 22;

export interface PlanEvents {
  /** Called where the plan is tapped, with the station there if there is one, and how near counts. */
  readonly tap: (at: Point, station: string | null, near: number) => void;
  /** Called when a finger or button goes down; true takes hold of what is there instead of the plan. */
  readonly grab: (at: Point, near: number) => boolean;
  /** Called while what is held is dragged, and once more when it is let go. */
  readonly drag: (by: Point, done: boolean) => void;
  /** Called for an arrow key; true means that it has moved something, and the cross stays. */
  readonly nudge: (way: Point, fine: boolean) => boolean;
  /** Called when the cross has moved. */
  readonly pointed: (at: Point) => void;
}

export class PlanMap {
  private readonly source = new VectorSource();
  private readonly crossing = new VectorSource();
  private readonly underlay = new Underlay();
  private readonly map: OlMap;
  private framed = "";
  private from: Point | null = null;
  private at: Point | null = null;
  private step = 1;
  private ink: Ink | null = null;

  constructor(target: HTMLElement, private events: PlanEvents) {
    const layer = new VectorLayer({ source: this.source, declutter: true, updateWhileInteracting: true });
    this.map = new OlMap({
      target,
      layers: [this.underlay.layer, layer, new VectorLayer({ source: this.crossing, updateWhileInteracting: true })],
      controls: [],
      // Two quick taps are two corners or two stations, never a zoom; keys are our own.
      interactions: defaults({ doubleClickZoom: false, altShiftDragRotate: false, pinchRotate: false, keyboard: false }),
      view: new View({ projection: PLANE, center: [20, 15], resolution: 0.1, enableRotation: false, minResolution: 0.004, maxResolution: 1.5, constrainResolution: false, smoothResolutionConstraint: false }),
    });
    this.map.addInteraction(new PointerInteraction({
      handleDownEvent: (event) => this.grabbed(event),
      handleDragEvent: (event) => this.dragged(event, false),
      handleUpEvent: (event) => this.dragged(event, true),
    }));
    this.map.on("click", (event) => this.tapped(event.coordinate as [number, number]));
    target.addEventListener("keydown", (event) => this.key(event));
    target.addEventListener("blur", () => this.crossing.clear());
  }

  listen(events: PlanEvents): void {
    this.events = events;
  }

  show(model: PlanModel, ink: Ink): void {
    this.ink = ink;
    this.step = model.step;
    this.source.clear(true);
    this.source.addFeatures(draw(model, ink));
    this.map.updateSize();
    this.frame(model);
  }

  /** Lay the picture at this address under the plan. */
  sheet(model: PlanModel, address: string): void {
    this.underlay.show(model.sheet && address ? { ...model.sheet, address } : null);
  }

  close(): void {
    this.map.setTarget(undefined);
  }

  zoom(by: number): void {
    const view = this.map.getView();
    view.setResolution((view.getResolution() ?? 0.1) / by);
  }

  /** Bring the whole plan into sight, once for every change of the outlines. */
  frame(model: PlanModel, again = false): void {
    const typed = model.draft?.typed ? model.draft.points.length : 0;
    const bare = model.areas.length || !model.sheet ? "" : `${model.sheet.sha256} ${model.sheet.per}`;
    const key = JSON.stringify([model.areas.map((area) => area.outline), typed, bare]);
    if ((key === this.framed || model.held.length > 0) && !again) return;
    this.framed = key;
    const extent = this.whole(model);
    if (isEmpty(extent)) return;
    this.map.getView().fit(extent, { padding: [26, 78, 18, 26], minResolution: 0.02 });
  }

  private whole(model: PlanModel): Extent {
    const extent = createEmpty();
    for (const feature of this.source.getFeatures()) {
      if (feature.get("frame")) extend(extent, (feature.getGeometry() as Geometry).getExtent());
    }
    const { sheet } = model;
    if (!isEmpty(extent) || !sheet) return extent;
    const [wide, high] = sheet.size;
    for (const dot of [[0, 0], [wide, 0], [wide, high], [0, high]] as const) extendCoordinate(extent, [...toPlan(sheet, dot)]);
    return extent;
  }

  private get near(): number {
    return NEAR_PX * (this.map.getView().getResolution() ?? 0.1);
  }

  private tapped([x, y]: Point): void {
    let best: { id: string; far: number } | null = null;
    for (const feature of this.source.getFeatures()) {
      if (feature.get("kind") !== "station") continue;
      const [sx, sy] = feature.get("at") as Point;
      const far = Math.hypot(sx - x, sy - y);
      if (far < this.near && (!best || far < best.far)) best = { id: feature.get("id") as string, far };
    }
    this.events.tap([round(x), round(y)], best?.id ?? null, this.near);
  }

  private grabbed(event: MapBrowserEvent): boolean {
    const at = event.coordinate as [number, number];
    this.from = this.events.grab(at, this.near) ? at : null;
    return this.from !== null;
  }

  private dragged(event: MapBrowserEvent, done: boolean): boolean {
    if (!this.from) return false;
    const [x = 0, y = 0] = event.coordinate;
    this.events.drag([round(x - this.from[0]), round(y - this.from[1])], done);
    if (done) this.from = null;
    return false;
  }

  private key(event: KeyboardEvent): void {
    if (event.altKey || event.ctrlKey || event.metaKey) return;
    const way = wayOf(event.key);
    if (way) {
      if (!this.events.nudge(way, event.shiftKey)) this.point(stepped(this.at ?? this.middle(), way, this.step, event.shiftKey));
    } else if (event.key === "Enter" || event.key === " ") this.tapped(this.at ?? this.middle());
    else if (event.key === "+" || event.key === "=") this.zoom(1.4);
    else if (event.key === "-") this.zoom(1 / 1.4);
    else return;
    event.preventDefault();
  }

  private middle(): Point {
    const [x = 0, y = 0] = this.map.getView().getCenter() ?? [];
    return [Math.round(x / this.step) * this.step, Math.round(y / this.step) * this.step];
  }

  /** Put the cross somewhere, and bring that into sight. */
  private point(at: Point): void {
    this.at = at;
    const mark = new Feature(new Dot([...at]));
    if (this.ink) mark.setStyle(cross(this.ink));
    this.crossing.clear(true);
    this.crossing.addFeature(mark);
    const view = this.map.getView();
    if (!containsCoordinate(view.calculateExtent(), [...at])) view.setCenter([...at]);
    this.events.pointed(at);
  }
}

function round(value: number): number {
  return Math.round(value * 100) / 100;
}
