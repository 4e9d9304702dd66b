// The files that are attached inside a PDF, without reading the rest of it. ISO 32000-1, 7.11.4.

import { Unreadable, letters, unpacked } from "./bytes.js";

const MOST_BYTES = 1 << 20;
const MOST_ATTACHMENTS = 20;

export const isPdf = (bytes) => letters(bytes.slice(0, 4)) === "%PDF";

/** The attached files, each as a function that gives its content, unpacked.
 *
 * An attached file is a stream of its own, which no other stream can hold, so that it is found
 * without the table of contents. One that is no longer used is found too; whoever reads asks each
 * for its own signature.
 */
export function attached(bytes) {
  const whole = letters(bytes);
  if (/\/Encrypt\b/.test(whole)) throw new Unreadable("the PDF is locked: open it, and save what is attached to it");
  const found = [];
  for (const start of whole.matchAll(/\bstream\r?\n/g)) {
    const about = aboutStream(whole, start.index);
    if (about === null || !/\/EmbeddedFile\b/.test(about)) continue;
    if (found.length === MOST_ATTACHMENTS) throw new Unreadable("too many files are attached");
    found.push(() => contentOf(bytes, whole, start.index + start[0].length, about));
  }
  return found;
}

/** What stands before a stream: its dictionary. */
function aboutStream(whole, at) {
  const before = whole.slice(Math.max(0, at - 2048), at);
  const begins = before.lastIndexOf(" obj");
  return begins < 0 ? null : before.slice(begins);
}

async function contentOf(bytes, whole, at, about) {
  const length = lengthOf(whole, at, about);
  if (length > MOST_BYTES) throw new Unreadable(`an attached file has more than ${MOST_BYTES} bytes`);
  const packed = bytes.slice(at, at + length);
  if (!/\/Filter\b/.test(about)) return packed;
  if (!/\/Filter\s*(\[\s*)?\/FlateDecode\s*(\]|\/|>|\s)/.test(about)) {
    throw new Unreadable("a file is attached in a way of packing that is not known here");
  }
  try {
    return await unpacked(packed, "deflate", MOST_BYTES);
  } catch {
    throw new Unreadable("an attached file cannot be unpacked whole");
  }
}

/** How long it says it is, here or in an object of its own; else up to where it ends. */
function lengthOf(whole, at, about) {
  const [, number, other] = /\/Length\s+(\d+)(\s+\d+\s+R)?/.exec(about) ?? [];
  const said = other ? new RegExp(`(?:^|\\s)${number}\\s+\\d+\\s+obj\\s+(\\d+)`).exec(whole)?.[1] : number;
  const length = Number(said);
  if (said !== undefined && /^\s*endstream/.test(whole.slice(at + length, at + length + 20))) return length;
  const ends = whole.indexOf("endstream", at);
  return (ends < 0 ? whole.length : ends) - at;
}
