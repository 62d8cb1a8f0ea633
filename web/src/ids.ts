/** Ids made on the device. On plain http there is no `crypto.randomUUID`; the bytes are there. */

export function newId(): string {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = ((bytes[6] as number) & 0x0f) | 0x40;
  bytes[8] = ((bytes[8] as number) & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}

/** This device's own name in clocks, made once and kept. */
export function deviceId(): string {
  const known = localStorage.getItem("levelbook-device");
  if (known && /^[a-z0-9]{8,32}$/.test(known)) return known;
  const made = newId().replaceAll("-", "").slice(0, 16);
  localStorage.setItem("levelbook-device", made);
  return made;
}
