/** What this device may be called in the list of where somebody is signed in. */

const KINDS: readonly (readonly [RegExp, string])[] = [
  [/iPhone/, "iPhone"], [/iPad/, "iPad"], [/Android.*Mobile/, "Android phone"], [/Android/, "Android tablet"],
  [/Windows/, "Windows computer"], [/Macintosh/, "Mac"], [/CrOS/, "Chromebook"], [/Linux/, "Linux computer"],
];

export function deviceName(): string {
  return KINDS.find(([mark]) => mark.test(navigator.userAgent))?.[1] ?? "This device";
}
