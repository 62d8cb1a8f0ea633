/** The app kept on the device: the service worker, its updates, and why there may be none. */

import { signal } from "@preact/signals";
import { registerSW } from "virtual:pwa-register";

export const installed = signal<"" | "ready" | "newer">("");

/** Why this page cannot work offline, in words, or nothing. */
export const offlineWhy = window.isSecureContext
  ? ""
  : "This address is not secure (http), so the page cannot be kept for use offline: it works while the network does. " +
    "Entries already written stay on this device. Ask for the https address to work offline.";

/** An app that is left open looks for a newer version once an hour. */
const LOOK_AGAIN_MS = 3_600_000;

const renew =
  "serviceWorker" in navigator
    ? registerSW({
        onOfflineReady: () => {
          installed.value = "ready";
        },
        onNeedRefresh: () => {
          installed.value = "newer";
        },
        onRegisteredSW: (_, registration) => {
          if (registration) setInterval(() => void registration.update().catch(() => undefined), LOOK_AGAIN_MS);
        },
      })
    : null;

/** Change to the newer version. Entries are in the device's store and outlive the change. */
export function renewApp(): void {
  void renew?.(true);
}

if (navigator.storage && "persist" in navigator.storage) void navigator.storage.persist();
