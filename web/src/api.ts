/** What the server tells, and asking for it. */

export interface Problem {
  readonly code: string;
  readonly place: string;
  readonly problem: string;
  readonly remedy: string;
}

export class ServerError extends Error {
  constructor(
    readonly status: number,
    readonly told: Problem | null,
    readonly faults: readonly Problem[] = [],
  ) {
    super(told ? `${told.problem}; ${told.remedy}` : "the server gave no answer that can be read");
  }
}

let token = "";

/** Send this with whatever changes something: the session's token, told by the server. */
export function setToken(to: string): void {
  token = to;
}

let refused = (_code: string): void => undefined;

/** Call `then` when the server says that nobody is signed in, or that the token or role is not enough. */
export function onRefusal(then: (code: string) => void): void {
  refused = then;
}

const WHO = new Set(["signed-out", "csrf", "not-allowed"]);

let prove = (): Promise<boolean> => Promise.resolve(false);

/** Call `then` when the server asks for password or passkey again; it tells whether they were given. */
export function onProof(then: () => Promise<boolean>): void {
  prove = then;
}

/** Fetch from our own server, with the session's token where something is changed. */
export async function call(path: string, options: RequestInit = {}): Promise<Response> {
  const answer = await unhurried(path, options);
  if (answer.status !== 401 && answer.status !== 403) return answer;
  const told = (await answer.clone().json().catch(() => null)) as { error?: Problem } | null;
  if (told?.error?.code === "prove" && (await prove())) return await unhurried(path, options);
  if (told?.error && WHO.has(told.error.code)) refused(told.error.code);
  return answer;
}

const [TRIES, SOON_S] = [4, 5];

/** How many seconds the server says to wait, 0 if it does not. */
export function waitOf(answer: Response): number {
  return answer.status === 429 ? Math.max(1, Number(answer.headers.get("retry-after")) || 0) : 0;
}

/** Fetch, and again after a moment where the server asks for one, as it does of many requests. */
async function unhurried(path: string, options: RequestInit): Promise<Response> {
  const headers = new Headers(options.headers);
  if (token && (options.method ?? "GET") !== "GET") headers.set("x-levelbook-csrf", token);
  for (let left = TRIES; ; left -= 1) {
    const answer = await fetch(path, { ...options, headers });
    const wait = waitOf(answer);
    if (wait === 0 || wait > SOON_S || left === 1) return answer;
    await new Promise((done) => setTimeout(done, wait * 1000));
  }
}

/** Send a JSON object. */
export function send<T>(path: string, body: object = {}, method = "POST"): Promise<T> {
  return ask<T>(path, { method, headers: { "content-type": "application/json" }, body: JSON.stringify(body) });
}

let lived = (_life: string): void => undefined;

/** Call `then` with the life of the server's archive wherever an answer tells it. */
export function onLife(then: (life: string) => void): void {
  lived = then;
}

export async function ask<T>(path: string, options: RequestInit = {}): Promise<T> {
  const answer = await call(path, options);
  const told = (await answer.json().catch(() => null)) as { error?: Problem; faults?: Problem[]; life?: string } | null;
  if (!answer.ok || told === null) throw new ServerError(answer.status, told?.error ?? null, told?.faults);
  if (told.life) lived(told.life);
  return told as T;
}

export interface VisitInfo {
  readonly id: string;
  readonly label: string;
  readonly address: string;
  readonly date: string;
  readonly purpose: string;
  readonly stations: number;
  readonly readings: number;
  readonly updated: string;
}

export interface LiveArea {
  readonly too_few?: number;
  readonly needs?: number;
  readonly range?: { readonly value: number; readonly sd: number };
  readonly high?: string;
  readonly low?: string;
  readonly tilt?: { readonly slope: number; readonly sd: number; readonly direction: number };
  readonly deflection?: { readonly deflection: number; readonly sd: number; readonly shape: string } | null;
  readonly bend?: string;
  readonly largest_gap?: number;
  readonly interval?: number;
  readonly contours?: readonly { readonly level: number; readonly points: readonly (readonly [number, number])[] }[];
  readonly next?: readonly (readonly [number, number])[];
  readonly missed_corners?: readonly (readonly [number, number])[];
}

export interface Suspect {
  readonly reading: string;
  readonly station: string;
  readonly value: string;
  readonly expected: number;
  readonly expected_sd: number;
  readonly kind: string;
  readonly suggestion: string | number | null;
  readonly why: string;
}

export interface Live {
  readonly seq: number;
  readonly faults: readonly Problem[];
  readonly notices: readonly { readonly code: string; readonly place: string; readonly sentence: string; readonly remedy: string }[];
  readonly stations: { readonly [id: string]: { readonly level: number; readonly sd: number; readonly group: string } };
  readonly closures?: readonly { readonly station: string; readonly setup: string; readonly misclosure: number; readonly allowed: number }[];
  readonly areas: { readonly [id: string]: LiveArea };
  readonly suspects: readonly Suspect[];
}
