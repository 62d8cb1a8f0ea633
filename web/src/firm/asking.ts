/** Asking the server for what a page shows, and doing what a person asks for. */

import { useEffect, useState } from "preact/hooks";

import { ask, ServerError } from "../api";

/** What went wrong, in words. */
export function wordsOf(error: unknown): string {
  if (error instanceof ServerError) return error.message.charAt(0).toUpperCase() + error.message.slice(1) + ".";
  if (error instanceof TypeError) return "The server cannot be reached. Try again when you are connected.";
  return error instanceof Error ? error.message : String(error);
}

export interface Work {
  readonly busy: boolean;
  readonly told: string;
  readonly work: (job: () => Promise<unknown>) => void;
}

/** Do one thing at a time, and keep what went wrong for the page to tell. */
export function useWork(): Work {
  const [busy, setBusy] = useState(false);
  const [told, setTold] = useState("");
  const work = (job: () => Promise<unknown>): void => {
    setBusy(true);
    setTold("");
    job().catch((error: unknown) => setTold(wordsOf(error))).finally(() => setBusy(false));
  };
  return { busy, told, work };
}

export interface Asked<T> {
  readonly found: T | null;
  readonly told: string;
  readonly again: () => void;
}

/** Ask for something now, and `again` after it was changed; nothing is asked of an empty path. */
export function useAsked<T>(path: string): Asked<T> {
  const [found, setFound] = useState<T | null>(null);
  const [told, setTold] = useState("");
  const [turn, setTurn] = useState(0);
  useEffect(() => {
    if (!path) return;
    let current = true;
    setTold("");
    ask<T>(path)
      .then((answer) => { if (current) setFound(answer); })
      .catch((error: unknown) => { if (current) setTold(wordsOf(error)); });
    return () => { current = false; };
  }, [path, turn]);
  return { found, told, again: () => setTurn((before) => before + 1) };
}

/** A day as people say it, or a month. */
export function day(at: string | null | undefined): string {
  const given = at ?? "";
  const time = new Date(given.length === 10 ? `${given}T12:00` : given.length === 7 ? `${given}-15T12:00` : given);
  if (Number.isNaN(time.getTime()) || given.length < 7) return given;
  return time.toLocaleDateString("en-US", { month: "long", year: "numeric", ...(given.length === 7 ? {} : { day: "numeric" as const }) });
}

/** A day and time as people say them. */
export function moment(at: string): string {
  const time = new Date(at);
  return Number.isNaN(time.getTime()) ? at : time.toLocaleString("en-US", { day: "numeric", month: "short", year: "numeric", hour: "2-digit", minute: "2-digit" });
}
