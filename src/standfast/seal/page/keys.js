// Ed25519 public keys, and what they signed. RFC 8032; texts of keys by W3C Controlled Identifiers 1.0.

import { Unreadable, base64url, fromBase58btc, sha256, utf8 } from "./bytes.js";
import { canonical } from "./json.js";

const LENGTH = 32;
const P = 2n ** 255n - 19n;
const mod = (number) => ((number % P) + P) % P;

function power(base, exponent) {
  let found = 1n;
  for (let square = mod(base); exponent > 0n; exponent >>= 1n) {
    if (exponent & 1n) found = (found * square) % P;
    square = (square * square) % P;
  }
  return found;
}

const inverse = (number) => power(number, P - 2n);
const D = mod(-121665n * inverse(121666n));
const ROOT_OF_MINUS_ONE = power(2n, (P - 1n) / 4n);

/** The key of a text that begins with z6Mk: { multikey, raw }. */
export function publicKey(multikey) {
  const content = fromBase58btc(multikey);
  if (content.length !== LENGTH + 2 || content[0] !== 0xed || content[1] !== 0x01) {
    throw new Unreadable("no Ed25519 key of this kind");
  }
  const raw = content.slice(2);
  const fault = faultInPoint(raw);
  if (fault) throw new Unreadable(fault);
  return { multikey, raw };
}

/** 43 letters to compare over the phone or on paper; RFC 7638 with RFC 8037. */
export async function thumbprint(key) {
  const jwk = { crv: "Ed25519", kty: "OKP", x: base64url(key.raw) };
  return base64url(await sha256(utf8(canonical(jwk))));
}

/** Whether the other half signed the message. */
export async function verifies(key, signature, message) {
  const imported = await crypto.subtle.importKey("raw", key.raw, "Ed25519", false, ["verify"]);
  return crypto.subtle.verify("Ed25519", imported, signature, message);
}

/** Whether this browser knows Ed25519 at all; without it nothing can be said of a signature. */
export async function canVerify() {
  const base = new Uint8Array(LENGTH).fill(0x66); // the curve's base point, RFC 8032, 5.1
  base[0] = 0x58;
  try {
    await crypto.subtle.importKey("raw", base, "Ed25519", false, ["verify"]);
    return true;
  } catch {
    return false;
  }
}

/** Why these bytes must not stand for a point of the curve; empty when they may.
 *
 * Under a point of small order one signature is good for many messages; and a point is written in
 * one way. RFC 8032, 5.1.3; Chalkias, Garillot & Nikolaenko (2020).
 */
export function faultInPoint(raw) {
  let number = 0n;
  for (const byte of [...raw].reverse()) number = (number << 8n) | BigInt(byte);
  const sign = number >> 255n;
  let y = number & ((1n << 255n) - 1n);
  if (y >= P) return "a point in a form of its own";
  let x = xOf(y);
  if (x === null) return "no point of the curve";
  if (x === 0n && sign) return "a point in a form of its own";
  for (let times = 0; times < 3; times++) [x, y] = doubled(x, y);
  return x === 0n && y === 1n ? "a point of small order" : "";
}

/** One of the two x of that y. */
function xOf(y) {
  const square = mod((y * y - 1n) * inverse(D * y * y + 1n));
  let x = power(square, (P + 3n) / 8n);
  if (mod(x * x - square)) x = mod(x * ROOT_OF_MINUS_ONE);
  return mod(x * x - square) ? null : x;
}

/** Twice a point, by the law of addition of the twisted Edwards curve; a = -1. */
function doubled(x, y) {
  const product = mod(D * mod(x * x) * mod(y * y));
  return [
    mod(2n * x * y * inverse(1n + product)),
    mod((y * y + x * x) * inverse(1n - product)),
  ];
}
