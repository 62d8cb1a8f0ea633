/** Who works here: nobody in particular on one's own machine, a person of a firm on its server. */

import { signal } from "@preact/signals";

import { ask, onRefusal, ServerError, setToken } from "../api";
import { link, sync } from "../background";
import { comeAlong } from "../restored";
import { author, database, useStore } from "../visit";

export type Role = "surveyor" | "reviewer" | "owner";

export interface Me {
  readonly mode: "own" | "firm";
  readonly person: { readonly id: string; readonly name: string; readonly email: string; readonly role: Role };
  readonly firm: { readonly id: string; readonly name: string };
  readonly csrf: string;
}

/** `ended`: the session ended while somebody works; `out`: nobody is signed in. */
export type Standing = "asking" | "own" | "in" | "ended" | "out";

const KEPT = "levelbook-me";
const AGAIN_MS = 3_000;
let asked = 0;

/** The person who is signed in, or was until the session ended. */
export const me = signal<Me | null>(null);
export const standing = signal<Standing>("asking");

/** Begin with whom this device remembers, so that it works offline, and ask the server. */
export function begin(): void {
  const known = remembered();
  if (known?.mode === "own") standing.value = "own";
  else if (known?.person) void take(known as Me);
  else if (known) standing.value = "out";
  onRefusal((code) => {
    if (code === "signed-out" && standing.value === "in") standing.value = "ended";
    else if (code !== "signed-out") void renew();
  });
  addEventListener("storage", (event) => {
    if (event.key === KEPT && remembered()?.person?.id !== me.value?.person.id) location.reload();
  });
  addEventListener("online", () => void renew());
  addEventListener("hashchange", look);
  addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible") look();
  });
  void find("out");
}

/** Ask now and then as somebody works, so that a new role, or none, shows on a page long open. */
function look(): void {
  if (standing.value === "in" && Date.now() - asked > AGAIN_MS) void renew();
}

/** Ask the server who is here, after signing in or when it refuses the page's token. */
export function renew(): Promise<void> {
  return find(standing.value === "in" ? "ended" : standing.value);
}

async function find(without: Standing): Promise<void> {
  asked = Date.now();
  try {
    const told = await ask<Me>("/api/me");
    if (told.mode === "firm") return await take(told);
    keep({ mode: "own" });
    standing.value = "own";
  } catch (error) {
    if (error instanceof ServerError && error.status === 401) {
      if (!remembered()?.person) keep({ mode: "firm" });
      if (standing.value !== "ended" || without === "out") standing.value = without;
    } else if (standing.value === "asking") {
      if (error instanceof ServerError) setTimeout(() => void find(without), AGAIN_MS);
      else standing.value = "own";
    }
  }
}

async function take(told: Me): Promise<void> {
  const other = me.value !== null && me.value.person.id !== told.person.id;
  const same = standing.value === "in" && me.value !== null && !other;
  if (other) setToken(""); // what is under way for who was here must not go out as somebody else's
  await useStore(storeOf(told));
  setToken(told.csrf ?? "");
  const before = remembered();
  if (before && isAgain(before, told)) await comeAlong(storeOf(before), await database());
  me.value = told;
  author.value = told.person.name || told.person.email;
  keep({ mode: told.mode, person: told.person, firm: told.firm });
  if (!same) link.value = "sending";
  standing.value = "in";
  if (other) location.hash = "#/";
  sync();
}

/** Whether this is the one who was here before under another id: invited again. */
function isAgain(before: Partial<Me>, told: Me): before is Me {
  const same = before.firm?.id === told.firm.id && before.person?.email === told.person.email;
  return same && before.person?.id !== told.person.id;
}

/** The name of a person's own store on this device: nobody else's page opens it. */
function storeOf({ firm, person }: Pick<Me, "firm" | "person">): string {
  return `levelbook ${firm.id} ${person.id}`;
}

/** Forget the person who signed out; with `clear`, remove their store from this device, too. */
export async function forget(clear: boolean): Promise<void> {
  const name = me.value && storeOf(me.value);
  keep({ mode: "firm" });
  setToken("");
  author.value = "";
  standing.value = "out";
  location.hash = "#/";
  await useStore("levelbook");
  if (clear && name) indexedDB.deleteDatabase(name);
  me.value = null;
}

function keep(known: Partial<Me>): void {
  localStorage.setItem(KEPT, JSON.stringify(known));
}

function remembered(): Partial<Me> | null {
  try {
    return JSON.parse(localStorage.getItem(KEPT) ?? "null") as Partial<Me> | null;
  } catch {
    return null;
  }
}
