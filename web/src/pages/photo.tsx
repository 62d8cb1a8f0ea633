/** A kept photograph: from this device, or from the server. */

import { useEffect, useState } from "preact/hooks";

import { keptPhoto } from "../photos";
import { database } from "../visit";

export function Photo({ sha256, alt, whole = false }: { readonly sha256: string; readonly alt: string; readonly whole?: boolean }) {
  const [source, setSource] = useState("");
  useEffect(() => {
    let made = "";
    let gone = false;
    void database().then((db) => keptPhoto(db, sha256)).then((blob) => {
      if (gone) return;
      if (blob) made = URL.createObjectURL(blob);
      setSource(made || `/api/photos/${sha256}`);
    });
    return () => {
      gone = true;
      if (made) URL.revokeObjectURL(made);
    };
  }, [sha256]);
  if (whole) return source ? <img class="logo" src={source} alt={alt} /> : <span class="logo" />;
  return source ? <img class="thumb" src={source} alt={alt} width={64} height={64} /> : <span class="thumb" />;
}
