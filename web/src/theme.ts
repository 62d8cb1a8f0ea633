/** Light, dark and sunlight; kept on the device. */

import { signal } from "@preact/signals";

export type Theme = "light" | "dark" | "sun";

const dark = matchMedia("(prefers-color-scheme: dark)");
const kept = localStorage.getItem("levelbook-theme");
const usual: Theme = dark.matches ? "dark" : "light";

export const theme = signal<Theme>(kept === "light" || kept === "dark" || kept === "sun" ? kept : usual);

export function setTheme(to: Theme): void {
  localStorage.setItem("levelbook-theme", to);
  document.documentElement.dataset["theme"] = to;
  theme.value = to;
}

document.documentElement.dataset["theme"] = theme.value;
