/** The keypad: large keys for one thumb, and a field for a keyboard or the phone's dictation. */

import { useEffect, useRef, useState } from "preact/hooks";

import { Choice } from "../parts";
import { flip, readingOf, type Way } from "../written";

const KEYS = ["7", "8", "9", "back", "4", "5", "6", "sign", "1", "2", "3", "save", "0", ".", "/"] as const;
const WAYS = [["tenths", "Tenths: 6 is 0.6"], ["decimal", "Decimals: 0.6"], ["fraction", "Fractions: 5/8"]] as const;

interface Props {
  readonly unit: string;
  readonly title: string;
  readonly ready: boolean;
  /** Changes whenever another place is chosen. */
  readonly place: string;
  readonly save: (value: string) => void;
}

export function Keypad({ unit, title, ready, place, save }: Props) {
  const [typed, setTyped] = useState("");
  const [speaking, setSpeaking] = useState(false);
  const [way, setWay] = useState<Way>(unit === "mm" ? "mm" : ((localStorage.getItem("levelbook-way") as Way | null) ?? "tenths"));
  const input = useRef<HTMLInputElement>(null);
  // What is typed stays when the place moves on: the next value may be under way already.
  useEffect(() => input.current?.focus({ preventScroll: true }), [place]);
  const value = readingOf(typed, way);
  const enter = (): void => {
    const current = readingOf(input.current?.value ?? "", way);
    if (current === null || !ready) return;
    setTyped("");
    if (input.current) input.current.value = "";
    save(current);
  };
  const press = (key: string): void => {
    if (key === "save") enter();
    else if (key === "back") setTyped(typed.slice(0, -1));
    else if (key === "sign") setTyped(flip(typed));
    else if (key === "/" && way === "fraction" && typed.includes("/")) setTyped(`${typed} `);
    else if (typed.length < 12) setTyped(typed + key);
  };
  const choose = (to: string): void => {
    localStorage.setItem("levelbook-way", to);
    setWay(to as Way);
  };
  return (
    <div class="keypad">
      <div class="display">
        <label for="reading">{title}</label>
        <input id="reading" ref={input} value={typed} inputMode={speaking ? "text" : "none"} autocomplete="off" enterkeyhint="next" maxLength={60}
          onInput={(event) => setTyped(event.currentTarget.value)}
          onKeyDown={(event) => {
            if (event.key !== "Enter") return;
            event.preventDefault();
            enter();
          }} />
        <output for="reading">{value === null ? (typed && typed !== "-" ? "no reading" : "—") : `${value.replace("-", "−")} ${unit}`}</output>
      </div>
      <div class="keys">
        {KEYS.map((key) => (
          <button key={key} type="button" class={`key k-${key === "." ? "point" : key === "/" ? "over" : key}`}
            aria-label={NAMES[key] ?? key} disabled={key === "save" && (value === null || !ready)} onClick={() => press(key)}>
            {SIGNS[key] ?? key}
          </button>
        ))}
      </div>
      <div class="row ways">
        {unit !== "mm" && <Choice label="Typing" value={way} change={choose} options={WAYS} />}
        <button type="button" aria-pressed={speaking} onClick={() => {
          setSpeaking(!speaking);
          setTimeout(() => input.current?.focus(), 50);
        }}>Phone keyboard</button>
      </div>
    </div>
  );
}

const SIGNS: Record<string, string> = { back: "⌫", sign: "+/−", save: "Save" };
const NAMES: Record<string, string> = { back: "Delete the last digit", sign: "Change the sign", save: "Save and go on", ".": "Point", "/": "Over, for fractions" };
