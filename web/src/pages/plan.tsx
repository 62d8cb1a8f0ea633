/** The plan page: what is drawn, and the ways to draw it. */

import { useMemo, useState } from "preact/hooks";

import { fresh, live } from "../background";
import { all, points, single, text, type Point } from "../fields";
import type { PlanUnit } from "../lengths";
import { Chips, Note } from "../parts";
import { planModel } from "../plan/model";
import { PlanView } from "../plan/PlanView";
import { state, write } from "../visit";
import { RunsTool } from "./runs_tool";
import { DrawTool } from "./draw_tool";
import { DoorTool } from "./door_tool";
import { JoinTool } from "./join_tool";
import { MarkTool } from "./mark_tool";
import { MoveTool, useHolding } from "./move_tool";
import { RectangleTool } from "./rectangle_tool";
import { SheetTool } from "./sheet_tool";

export interface Draft {
  readonly points: readonly Point[];
  readonly closed: boolean;
  /** Typed outlines are brought into sight; while tapping, the plan stays where it is. */
  readonly typed: boolean;
}

const TOOLS = [
  ["outline", "Type walls"], ["draw", "Draw a floor"], ["box", "Rectangle"], ["sheet", "Trace a picture"], ["join", "Join"],
  ["move", "Move"], ["door", "Garage door"], ["mark", "Mark or base"], ["wall", "Inner wall"], ["section", "Section"], ["look", "Look"],
] as const;

export function PlanPage() {
  const now = state.value;
  const empty = all(now, "area").size === 0;
  const [chosen, setTool] = useState<string | null>(null);
  const tool = chosen ?? (empty ? "outline" : "look");
  const [draft, setDraft] = useState<Draft | null>(null);
  const [tapped, setTapped] = useState<Point | null>(null);
  const units = single(now, "units");
  const [floor, isFresh] = [live.value, fresh.value];
  const unit: PlanUnit = text(units, "plan") === "m" ? "m" : "ft";
  const holding = useHolding(tool === "move", unit);
  const { state: seen, points: held } = holding.seen();
  const model = useMemo(
    () => ({ ...planModel(seen, floor, isFresh, text(units, "level")), draft, held, here: tool === "mark" || tool === "outline" ? tapped : null }),
    [seen, floor, isFresh, draft, tapped, tool, JSON.stringify(held)],
  );
  const show = (to: Draft | null): void => {
    if (to && to.points.length > 1) setTool(tool);
    setDraft(to);
  };
  const choose = (to: string): void => {
    setTool(to);
    setDraft(null);
    setTapped(null);
  };
  return (
    <div class="split">
      <h1 class="sr">Plan</h1>
      <div class="stage"><PlanView model={model} label="Plan of the house" {...(tool === "move" ? holding.events : { tap: setTapped })} /></div>
      <section class="sheet" aria-label="Tools of the plan">
        <Chips label="What to do" scroll value={tool} options={TOOLS} change={choose} />
        {tool === "outline" && <RunsTool unit={unit} start={tapped} show={show} />}
        {(tool === "draw" || tool === "wall" || tool === "section") && <DrawTool key={tool} what={tool} unit={unit} tapped={tapped} show={show} />}
        {tool === "box" && <RectangleTool unit={unit} tapped={tapped} show={show} />}
        {tool === "sheet" && <SheetTool unit={unit} tapped={tapped} show={show} />}
        {tool === "join" && <JoinTool unit={unit} />}
        {tool === "door" && <DoorTool unit={unit} />}
        {tool === "mark" && <MarkTool at={tapped} done={() => setTapped(null)} />}
        {tool === "move" && <MoveTool holding={holding} unit={unit} />}
        {tool === "look" && <AreaList />}
      </section>
    </div>
  );
}

function AreaList() {
  const areas = [...all(state.value, "area")];
  if (!areas.length) return <Note>No floor is drawn yet. Choose “Type walls” or “Draw a floor”.</Note>;
  const read = new Set([...all(state.value, "station").values()].map((station) => text(station, "area")));
  return (
    <>
      <ul class="list">
        {areas.map(([id, fields]) => (
          <li key={id}>
            <span><strong>{id}</strong> · {text(fields, "kind")} · {points(fields, "outline").length} corners</span>
            <button type="button" onClick={() => void write({ kind: "area", of: id, fields: { gone: true } })}
              disabled={read.has(id)}
              aria-label={`Remove ${id}`}>Remove</button>
          </li>
        ))}
      </ul>
      {areas.some(([id]) => read.has(id)) && <p class="small">A floor on which something was read cannot be removed.</p>}
    </>
  );
}
