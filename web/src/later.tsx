/** A page whose code is fetched when it is first opened. */

import { useEffect, useState } from "preact/hooks";
import type { ComponentType } from "preact";

export function later(load: () => Promise<ComponentType>): ComponentType {
  let known: ComponentType | null = null;
  return function Later() {
    const [Page, setPage] = useState<ComponentType | null>(() => known);
    const [failed, setFailed] = useState(false);
    useEffect(() => {
      if (known) return;
      load().then((found) => {
        known = found;
        setPage(() => found);
      }).catch(() => setFailed(true));
    }, []);
    if (failed) return <p class="note warn" role="alert">This page could not be fetched. Connect, and open it again.</p>;
    return Page ? <Page /> : <p class="working">Opening…</p>;
  };
}
