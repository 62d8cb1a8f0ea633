/** The firm's logo as it will stand on the report. */

import { useState } from "preact/hooks";

import { firmName, logoIn, logoOf, setLogo } from "../mark";
import { Note } from "../parts";
import { state } from "../visit";
import { Photo } from "./photo";

export function FirmLogo() {
  const [told, setTold] = useState("");
  const sha256 = logoIn(state.value);
  const take = async (file: File | undefined): Promise<void> => {
    if (!file) return;
    setTold("");
    try {
      await setLogo(await logoOf(file));
    } catch (error) {
      setTold((error as Error).message);
    }
  };
  return (
    <div class="mark-row">
      <span class="small">Logo on the report, PNG, JPEG or SVG; kept for the next house on this device</span>
      {told && <div role="alert"><Note kind="warn">{told}</Note></div>}
      <div class="row">
        {sha256 && <Photo sha256={sha256} alt={`Logo of ${firmName(state.value) || "the firm"}`} whole />}
        <label class="button">{sha256 ? "Another logo" : "Choose a logo"}
          <input type="file" class="hidden" accept="image/png,image/jpeg,image/svg+xml" onChange={(event) => void take(event.currentTarget.files?.[0])} />
        </label>
        {sha256 && <button type="button" aria-label="Remove the logo" onClick={() => void setLogo(null)}>Remove</button>}
      </div>
    </div>
  );
}
