/** The plan on the screen: OpenLayers in plain plan coordinates, with pan, pinch and drag. */

import type Feature from "ol/Feature";
import type MapBrowserEvent from "ol/MapBrowserEvent";
import OlMap from "ol/Map";
import View from "ol/View";
import { createEmpty, extend, type Extent, isEmpty } from "ol/extent";
import type { Geometry } from "ol/geom";
import { defaults } from "ol/interaction/defaults";
import Translate from "ol/interaction/Translate";
import VectorLayer from "ol/layer/Vector";
import Projection from "ol/proj/Projection";
import VectorSource from "ol/source/Vector";
import "ol/ol.css";

import type { Point } from "../fields";
import { draw, type Ink } from "./drawn";
import type { PlanModel } from "./model";

const PLANE = new Projection({ code: "plan", units: "m", extent: [-1e4, -1e4, 1e4, 1e4] });
const NEAR_PX = 22;

export interface PlanEvents {
  /** Called where the plan is tapped, with the station there if there is one. */
  readonly tap: (at: Point, station: string | null) => void;
  /** Called when a thing has been dragged: its kind, id, and by how much. */
  readonly moved: (kind: string, id: string, by: Point) => void;
}

export class PlanMap {
  private readonly source = new VectorSource();
  private readonly map: OlMap;
  private readonly drag: Translate;
  private framed = "";

  constructor(target: HTMLElement, private events: PlanEvents) {
    const layer = new VectorLayer({ source: this.source, declutter: true, updateWhileInteracting: true });
    this.map = new OlMap({
      target,
      layers: [layer],
      controls: [],
      // Two quick taps are two corners or two stations, never a zoom.
      interactions: defaults({ doubleClickZoom: false, altShiftDragRotate: false, pinchRotate: false }),
      view: new View({ projection: PLANE, center: [20, 15], resolution: 0.1, enableRotation: false, minResolution: 0.004, maxResolution: 1.5, constrainResolution: false, smoothResolutionConstraint: false }),
    });
    this.drag = new Translate({ filter: (feature) => Boolean(feature.get("id")), hitTolerance: NEAR_PX / 2 });
    this.drag.setActive(false);
    this.map.addInteraction(this.drag);
    this.map.on("click", (event) => this.tapped(event));
    this.listenToDrags();
  }

  listen(events: PlanEvents): void {
    this.events = events;
  }

  moving(on: boolean): void {
    this.drag.setActive(on);
  }

  show(model: PlanModel, ink: Ink): void {
    this.source.clear(true);
    this.source.addFeatures(draw(model, ink));
    this.map.updateSize();
    this.frame(model);
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
    const key = JSON.stringify([model.areas.map((area) => area.outline), model.draft?.typed ? model.draft.points.length : 0]);
    if (key === this.framed && !again) return;
    this.framed = key;
    const extent = this.whole();
    if (isEmpty(extent)) return;
    this.map.getView().fit(extent, { padding: [26, 62, 18, 26], minResolution: 0.02 });
  }

  private whole(): Extent {
    const extent = createEmpty();
    for (const feature of this.source.getFeatures()) {
      if (feature.get("frame")) extend(extent, (feature.getGeometry() as Geometry).getExtent());
    }
    return extent;
  }

  private tapped(event: MapBrowserEvent): void {
    const [x, y] = event.coordinate as [number, number];
    const near = NEAR_PX * (this.map.getView().getResolution() ?? 0.1);
    let best: { id: string; far: number } | null = null;
    for (const feature of this.source.getFeatures()) {
      if (feature.get("kind") !== "station") continue;
      const [sx, sy] = feature.get("at") as Point;
      const far = Math.hypot(sx - x, sy - y);
      if (far < near && (!best || far < best.far)) best = { id: feature.get("id") as string, far };
    }
    this.events.tap([round(x), round(y)], best?.id ?? null);
  }

  private listenToDrags(): void {
    let from: readonly number[] = [0, 0];
    this.drag.on("translatestart", (event) => {
      from = event.coordinate;
    });
    this.drag.on("translateend", (event) => {
      const feature = event.features.item(0) as Feature;
      const by: Point = [round((event.coordinate[0] ?? 0) - (from[0] ?? 0)), round((event.coordinate[1] ?? 0) - (from[1] ?? 0))];
      if (by[0] || by[1]) this.events.moved(feature.get("kind") as string, feature.get("id") as string, by);
    });
  }
}

function round(value: number): number {
  return Math.round(value * 20) / 20;
}
