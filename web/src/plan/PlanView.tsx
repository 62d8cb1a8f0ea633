/** The plan as a part of a page; the map itself is fetched when a plan is first shown. */

import { useEffect, useRef, useState } from "preact/hooks";

import type { PlanEvents, PlanMap } from "./PlanMap";
import type { PlanModel } from "./model";
import { theme } from "../theme";

interface Props extends Partial<PlanEvents> {
  readonly model: PlanModel;
  readonly moving?: boolean;
  readonly label: string;
}

const NOTHING = (): void => undefined;

export function PlanView({ model, moving = false, label, tap, moved }: Props) {
  const place = useRef<HTMLDivElement>(null);
  const [map, setMap] = useState<PlanMap | null>(null);
  useEffect(() => {
    let made: PlanMap | null = null;
    let gone = false;
    void import("./PlanMap").then(({ PlanMap: Made }) => {
      if (gone || !place.current) return;
      made = new Made(place.current, { tap: NOTHING, moved: NOTHING });
      setMap(made);
    });
    return () => {
      gone = true;
      made?.close();
    };
  }, []);
  map?.listen({ tap: tap ?? NOTHING, moved: moved ?? NOTHING });
  useEffect(() => map?.moving(moving), [map, moving]);
  const look = theme.value;
  useEffect(() => {
    const element = place.current;
    if (map && element) void import("./drawn").then(({ inkOf }) => map.show(model, inkOf(element)));
  }, [map, model, look]);
  return (
    <div class="plan">
      <div class="plan-map" ref={place} role="application" tabIndex={0} aria-label={label} />
      {model.doubt && <p class="plan-doubt">{model.doubt}{model.older ? " · older" : ""}</p>}
      <div class="plan-zoom">
        <button type="button" aria-label="Zoom in" onClick={() => map?.zoom(1.4)}>+</button>
        <button type="button" aria-label="Zoom out" onClick={() => map?.zoom(1 / 1.4)}>−</button>
        <button type="button" aria-label="Show the whole plan" onClick={() => map?.frame(model, true)}>⤢</button>
      </div>
    </div>
  );
}
