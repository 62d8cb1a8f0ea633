/** The plan as a part of a page; the map itself is fetched when a plan is first shown. */

import { useEffect, useRef, useState } from "preact/hooks";

import type { Point } from "../fields";
import { theme } from "../theme";
import type { PlanEvents, PlanMap } from "./PlanMap";
import type { PlanModel } from "./model";
import { sheetPicture } from "./sheet";

interface Props extends Partial<PlanEvents> {
  readonly model: PlanModel;
  readonly label: string;
}

const NOTHING = (): void => undefined;
const NO = (): boolean => false;
const KEYS = "Arrow keys move a cross, Shift in small steps; Enter taps there; plus and minus zoom.";

export function PlanView({ model, label, tap, grab, drag, nudge }: Props) {
  const place = useRef<HTMLDivElement>(null);
  const [map, setMap] = useState<PlanMap | null>(null);
  const [at, setAt] = useState<Point | null>(null);
  useEffect(() => {
    let made: PlanMap | null = null;
    let gone = false;
    void import("./PlanMap").then(({ PlanMap: Made }) => {
      if (gone || !place.current) return;
      made = new Made(place.current, { tap: NOTHING, grab: NO, drag: NOTHING, nudge: NO, pointed: NOTHING });
      setMap(made);
    });
    return () => {
      gone = true;
      made?.close();
    };
  }, []);
  map?.listen({ tap: tap ?? NOTHING, grab: grab ?? NO, drag: drag ?? NOTHING, nudge: nudge ?? NO, pointed: setAt });
  const look = theme.value;
  useEffect(() => {
    const element = place.current;
    if (map && element) void import("./drawn").then(({ inkOf }) => map.show(model, inkOf(element)));
  }, [map, model, look]);
  const address = usePicture(model.sheet?.sha256 ?? "");
  useEffect(() => map?.sheet(model, address), [map, model.sheet, address]);
  return (
    <div class="plan">
      <div class="plan-map" ref={place} role="application" tabIndex={0} aria-label={label} aria-description={KEYS} />
      {model.doubt && <p class="plan-doubt">{model.doubt}{model.older ? " · older" : ""}</p>}
      <p class="plan-at" role="status">{at && `${at[0]} right, ${at[1]} up`}</p>
      <div class="plan-zoom">
        <button type="button" aria-label="Zoom in" onClick={() => map?.zoom(1.4)}>+</button>
        <button type="button" aria-label="Zoom out" onClick={() => map?.zoom(1 / 1.4)}>−</button>
        <button type="button" aria-label="Show the whole plan" onClick={() => map?.frame(model, true)}>⤢</button>
      </div>
    </div>
  );
}

/** An address of the sheet's picture for as long as it is shown. */
function usePicture(sha256: string): string {
  const [address, setAddress] = useState("");
  useEffect(() => {
    let made = "";
    let gone = false;
    setAddress("");
    if (sha256) {
      void sheetPicture(sha256).then((blob) => {
        if (gone || !blob) return;
        made = URL.createObjectURL(blob);
        setAddress(made);
      });
    }
    return () => {
      gone = true;
      if (made) URL.revokeObjectURL(made);
    };
  }, [sha256]);
  return address;
}
