// Which certificates were taken back: one bit for each. W3C Bitstring Status List 1.0 (2025).

import { Unreadable, fromBase64url, unpacked } from "./bytes.js";

const LEAST_PLACES = 131_072;
const MOST_BYTES = 1 << 24;

/** Whether the bit of that place is set. */
export async function isSet(text, place) {
  const packed = fromBase64url(text.slice(1));
  let bits;
  try {
    bits = await unpacked(packed, "gzip", MOST_BYTES);
  } catch {
    throw new Unreadable("the list cannot be unpacked whole");
  }
  if (bits.length * 8 < LEAST_PLACES) {
    throw new Unreadable("STATUS_LIST_LENGTH_ERROR: fewer places than a list must have");
  }
  if (place >= bits.length * 8) throw new Unreadable("RANGE_ERROR: the place is outside the list");
  return Boolean(bits[Math.floor(place / 8)] & (0x80 >> place % 8));
}
