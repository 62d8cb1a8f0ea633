/** How many dots a picture claims to have, told from its first bytes: asked before it is opened,
 * since a small file may unpack to more than a device can hold. */

const START = 262_144;

/** Width times height of a PNG or JPEG; null for what tells neither. */
export async function dotsOf(file: Blob): Promise<number | null> {
  const bytes = new DataView(await file.slice(0, START).arrayBuffer());
  if (bytes.byteLength < 24) return null;
  if (bytes.getUint32(0) === 0x89504e47) return bytes.getUint32(16) * bytes.getUint32(20);
  return bytes.getUint16(0) === 0xffd8 ? jpeg(bytes) : null;
}

/** Walk the segments to the frame header (ISO/IEC 10918-1, B.2.2). */
function jpeg(bytes: DataView): number | null {
  let at = 2;
  while (at + 9 < bytes.byteLength && bytes.getUint8(at) === 0xff) {
    const marker = bytes.getUint8(at + 1);
    const frame = marker >= 0xc0 && marker <= 0xcf && marker !== 0xc4 && marker !== 0xc8 && marker !== 0xcc;
    if (frame) return bytes.getUint16(at + 5) * bytes.getUint16(at + 7);
    at += 2 + bytes.getUint16(at + 2);
  }
  return null;
}
