// Proofs over every byte of a document: eddsa-jcs-2022. W3C Data Integrity EdDSA Cryptosuites 1.0
// (2025); chains of proofs by W3C Verifiable Credential Data Integrity 1.0 (2025), 2.1.2.

import { Unreadable, fromBase58btc, joined, sha256, utf8 } from "./bytes.js";
import { canonical } from "./json.js";
import { verifies } from "./keys.js";

export const BYTES = "eddsa-jcs-2022";

/** Whether the proof, one of the document's over every byte, was made for all of it with that key. */
export async function holds(document, one, key) {
  const { proofValue, ...options } = one;
  const signature = fromBase58btc(proofValue);
  if (signature.length !== 64) throw new Unreadable("a signature has 64 bytes");
  const signed = covered(document, options);
  const begins = options["@context"];
  if (begins !== undefined) {
    const whole = signed["@context"];
    if (!Array.isArray(whole) || canonical(whole.slice(0, begins.length)) !== canonical(begins)) {
      throw new Unreadable("the proof was made under other contexts");
    }
    if (begins.length) signed["@context"] = begins;
  }
  const parts = [options, signed].map((part) => sha256(utf8(canonical(part))));
  return verifies(key, signature, joined(...(await Promise.all(parts))));
}

/** What a proof signs: the document with the proofs upon which it is made, and no other. */
function covered(document, options) {
  const { proof, ...bare } = document;
  const upon = options.previousProof;
  if (upon === undefined) return bare;
  const before = proof.filter((one) => one.id === upon);
  if (before.length !== 1) throw new Unreadable("made upon a proof that is not there, or there twice");
  return { ...bare, proof: before };
}

/** The document's proofs, last to first, without those that a later one over bytes covers. */
export function toCheck(document) {
  const names = new Set();
  const found = [];
  for (const one of [...document.proof].reverse()) {
    if (one.id !== undefined && names.has(one.id)) continue;
    found.push(one);
    if (one.cryptosuite === BYTES && one.previousProof !== undefined) names.add(one.previousProof);
  }
  return found;
}
