/** The next step of a house's review: each with its own reason, and told what comes of it. */

import { useState } from "preact/hooks";

import { ServerError, send } from "../api";
import { useWork, type Work } from "./asking";
import { Prose, Told } from "./parts";
import type { Reviewed } from "./review";

/** Refusals after which the house stands elsewhere, or the person's role is another. */
const LOOK = new Set([403, 404, 409]);

interface StepsProps {
  readonly visit: string;
  readonly found: Reviewed;
  /** Whether everything written here is on the server. */
  readonly sent: boolean;
  readonly again: () => void;
}

export function Steps({ visit, found, sent, again }: StepsProps) {
  const [asked, setAsked] = useState<"" | "release" | "draft">("");
  const doing = useWork();
  const { state, digest, next_issue: issue } = found;
  const may = new Set(found.may);
  if (may.size === 0) return null;
  /** Do it and look again, also after a refusal: somebody may have been quicker, or have written. */
  const take = (path: string, body: object): void => doing.work(async () => {
    try {
      await send(`/api/visits/${visit}/${path}`, body);
      setAsked("");
      again();
    } catch (error) {
      if (error instanceof ServerError && LOOK.has(error.status)) again();
      throw error;
    }
  });
  const open = { doing, sent, leave: () => setAsked("") };
  const why = found.events.findLast((each) => each.state === "for review")?.reason ?? "";
  return (
    <section class="card" aria-label="Next step">
      {!sent && <p class="note">Waiting until everything written here is on the server.</p>}
      <Told>{doing.told}</Told>
      {!digest && <p class="note">The book cannot be worked out yet, so it cannot be released. <a href={`#/${visit}/report`}>See what is missing</a></p>}
      {may.has("for review") && (
        <Step key={state} {...open} first={state === "draft"} label={state === "draft" ? "Note for the reviewer (may be empty)" : "Why a new issue is needed"}
          yes={state === "draft" ? "Ask for review" : "Ask for review of a new issue"} empty={state === "draft" ? "" : "Say in a sentence why it is reviewed again."}
          then={(reason) => take("state", { state: "for review", reason })} />
      )}
      {!asked && (may.has("released") || may.has("draft")) && (
        <div class="row">
          {may.has("released") && <button type="button" class="main" disabled={doing.busy || !sent || !digest} onClick={() => setAsked("release")}>Release…</button>}
          {may.has("draft") && <button type="button" disabled={doing.busy || !sent} onClick={() => setAsked("draft")}>Back to draft…</button>}
        </div>
      )}
      {!may.has("released") && may.has("draft") && <p class="small">A reviewer or an owner of your firm releases it.</p>}
      {asked === "draft" && (
        <div class="note sure" role="group" aria-label="Back to draft">
          <Step {...open} label="What is to be done before it is released" yes="Put it back to draft" empty="Say in a sentence what is to be done before it is released."
            then={(reason) => take("state", { state: "draft", reason })} />
        </div>
      )}
      {asked === "release" && (
        <div class="note sure" role="group" aria-label="Release">
          <p><strong>Issue {issue} is frozen when you release it:</strong> the record is sealed, and report, plan and tables are kept as they are. None of it can be changed or taken back; a later change needs a new issue with its reason.</p>
          {issue > 1 && <p>Clients with an address keep seeing their issue, and are told of this one with your reason.</p>}
          <Step {...open} label={issue > 1 ? "Reason, which clients read" : "Note, kept within the firm (may be empty)"} given={issue > 1 ? why : ""} yes={`Release issue ${issue}`}
            empty={issue > 1 ? "Say in a sentence why a new issue is needed. Clients read it." : ""} then={(reason) => take("release", { reason, digest })} />
          {doing.busy && <p role="status">Sealing the record and making the files…</p>}
        </div>
      )}
    </section>
  );
}

interface StepProps {
  readonly doing: Work;
  readonly sent: boolean;
  readonly leave: () => void;
  /** It stands there by itself, and cannot be left. */
  readonly first?: boolean;
  readonly label: string;
  readonly given?: string;
  readonly yes: string;
  /** What is told where there is no reason; empty where none is needed. */
  readonly empty: string;
  readonly then: (reason: string) => void;
}

/** A reason and the button that goes on with it. */
function Step({ doing, sent, leave, first = false, label, given = "", yes, empty, then }: StepProps) {
  const [reason, setReason] = useState(given);
  const [told, setTold] = useState("");
  const go = (): void => {
    setTold(reason.trim() ? "" : empty);
    if (reason.trim() || !empty) then(reason.trim());
  };
  return (
    <>
      <Told>{told}</Told>
      <Prose label={label} value={reason} change={setReason} />
      <div class="row">
        <button type="button" class="main" disabled={doing.busy || !sent} onClick={go}>{yes}</button>
        {!first && <button type="button" disabled={doing.busy} onClick={leave}>Not yet</button>}
      </div>
    </>
  );
}
