// Bytes as text, each in one form only; hashes.

/** Something that is not what it should be; the message says why. */
export class Unreadable extends Error {}

const BASE58 = "123456789ABCDEFGHJKLMNPQRSTUVWXYZabcdefghijkmnopqrstuvwxyz";
const BASE64URL = /^[A-Za-z0-9_-]*$/;

/** The bytes of a multibase text with the prefix z. W3C Controlled Identifiers 1.0, 2.4. */
export function fromBase58btc(text) {
  if (!text.startsWith("z")) throw new Unreadable("no base58btc: it begins with z");
  const letters = text.slice(1);
  let number = 0n;
  for (const letter of letters) {
    const value = BASE58.indexOf(letter);
    if (value < 0) throw new Unreadable("a letter that base58 does not have");
    number = number * 58n + BigInt(value);
  }
  const found = [];
  for (; number > 0n; number >>= 8n) found.unshift(Number(number & 255n));
  const zeros = letters.length - letters.replace(/^1+/, "").length;
  return Uint8Array.from([...Array(zeros).fill(0), ...found]);
}

/** Without padding; RFC 4648, section 5. */
export function base64url(bytes) {
  let text = "";
  for (const byte of bytes) text += String.fromCharCode(byte);
  return btoa(text).replaceAll("+", "-").replaceAll("/", "_").replace(/=+$/, "");
}

/** What `base64url` was given, in the one form that it gives. */
export function fromBase64url(text) {
  if (!BASE64URL.test(text) || text.length % 4 === 1) throw new Unreadable("no base64url");
  const plain = atob(text.replaceAll("-", "+").replaceAll("_", "/"));
  const bytes = Uint8Array.from(plain, (letter) => letter.charCodeAt(0));
  if (base64url(bytes) !== text) throw new Unreadable("base64url in a form of its own");
  return bytes;
}

export const utf8 = (text) => new TextEncoder().encode(text);

/** The text of bytes that are UTF-8; a mark at the beginning is a letter like others. */
export function fromUtf8(bytes) {
  try {
    return new TextDecoder("utf-8", { fatal: true, ignoreBOM: true }).decode(bytes);
  } catch {
    throw new Unreadable("no text: it is not UTF-8");
  }
}

/** Bytes as letters, one for each, so that places stay the same. */
export const letters = (bytes) => new TextDecoder("latin1").decode(bytes);

export const hex = (bytes) => Array.from(bytes, (one) => one.toString(16).padStart(2, "0")).join("");

export const fromHex = (text) =>
  Uint8Array.from(text.match(/../g) ?? [], (two) => parseInt(two, 16));

export function joined(...parts) {
  const whole = new Uint8Array(parts.reduce((sum, part) => sum + part.length, 0));
  let at = 0;
  for (const part of parts) {
    whole.set(part, at);
    at += part.length;
  }
  return whole;
}

export const sha256 = async (bytes) => new Uint8Array(await crypto.subtle.digest("SHA-256", bytes));

/** Unpacks, and stops after so many bytes: a few can claim to be gigabytes. */
export async function unpacked(packed, format, most) {
  const reader = new Blob([packed]).stream().pipeThrough(new DecompressionStream(format)).getReader();
  const parts = [];
  for (let size = 0; ; ) {
    const { done, value } = await reader.read();
    if (done) return joined(...parts);
    size += value.length;
    if (size > most) {
      await reader.cancel();
      throw new Unreadable("more than it may unpack to");
    }
    parts.push(value);
  }
}
