// What can be said of a certificate: findings, not one word. Each question has an answer of three:
// yes, no, or not known. The same questions, in the same order, as seal/verify.py.

import { Unreadable, base64url, hex, sha256, utf8 } from "./bytes.js";
import { canonical, readJson } from "./json.js";
import { publicKey } from "./keys.js";
import { BYTES, holds, toCheck } from "./proofs.js";
import { faults, instant } from "./shapes.js";
import { isSet } from "./status.js";
import { find, named } from "./trust.js";

export const finding = (question, answer, says) => ({ question, answer, says });

const ANOTHER = "the list is another one";
const REVOKED = "/status/revocation-";
const SUSPENDED = "/status/suspension-";

/** What can be said of a credential at that time.
 *
 * `trusted` are trust files that are believed, each { file, how }; `lists` the bytes of status
 * lists; `now` milliseconds. Nothing is looked at after a broken shape or signature.
 */
export async function verify(bytes, trusted, lists, now) {
  let document;
  try {
    document = readJson(bytes);
  } catch (error) {
    return [finding("shape", "no", told(error))];
  }
  const wrong = faults(document);
  if (!wrong.length && !document.proof) wrong.push("it is not signed");
  if (wrong.length) return [finding("shape", "no", wrong.slice(0, 5).join("; "))];
  const { signature, key } = await signatureOf(document);
  const found = [finding("shape", "yes", "a certificate, and nothing beside it"), signature];
  if (!key) return found;
  found.push(trustedKey(issuerOf(document), key, trusted), dates(document, now));
  for (const entry of entries(document)) {
    found.push(await status(issuerOf(document), entry, trusted, lists, now));
  }
  return found;
}

/** The name as typed, and as others type it who see the same: blanks, letters with marks (UAX 15). */
function spellings(name) {
  const one = name.trim().replace(/\s+/g, " ");
  return [name, one, one.normalize(), one.normalize("NFD")];
}

/** Whether it is hers who has that name, as she spells it. */
export async function holder(document, name) {
  for (const one of document.credentialSubject.identifier ?? []) {
    for (const spelt of spellings(name)) {
      const salted = `sha256$${hex(await sha256(utf8(spelt + (one.salt ?? ""))))}`;
      if (one.identityType === "name" && one.identityHash === (one.hashed ? salted : spelt)) {
        return finding("holder", "yes", `it is that of ${name}`);
      }
    }
  }
  return finding("holder", "no", `it is not that of '${name}', so spelt`);
}

/** SHA-256 of the whole credential in canonical form, base64url; the code on paper names it. */
export const digest = async (document) => base64url(await sha256(utf8(canonical(document))));

export const issuerOf = (document) => document.issuer.id ?? document.issuer;

/** What an error says of a file; one that is not ours is a fault of the page and goes on. */
export function told(error) {
  if (error instanceof Unreadable) return error.message;
  throw error;
}

/** Whether every proof holds with one and the same key of the issuer that it names.
 *
 * The proof over statements is not checked here; a proof over every byte that was made upon it
 * covers it. What nothing covers that was checked is not known.
 */
async function signatureOf(document) {
  const say = (answer, says, key = null) => ({ signature: finding("signature", answer, says), key });
  if (new Set(document.proof.map((one) => one.verificationMethod)).size !== 1) {
    return say("no", "its proofs name several keys");
  }
  const { issuer, multikey } = named(document.proof[0]);
  if (issuer !== issuerOf(document)) return say("no", "its proof names a key of somebody else");
  const proofs = toCheck(document);
  const overBytes = proofs.filter((one) => one.cryptosuite === BYTES);
  let key;
  try {
    key = publicKey(multikey);
    for (const one of overBytes) {
      if (!(await holds(document, one, key))) return say("no", "it was changed after it was signed");
    }
  } catch (error) {
    return say("no", told(error));
  }
  if (!overBytes.length) return say("not known", "signed over its statements only, which this page does not check");
  if (overBytes.length < proofs.length) {
    return say("not known", "unchanged, but it has another proof, which this page does not check", key);
  }
  return say("yes", "unchanged since it was signed", key);
}

/** Whether the key is one of the issuer's, by the trust files that are believed. */
export function trustedKey(issuer, key, trusted) {
  const files = trusted.filter((one) => one.file.issuer === issuer);
  if (!files.length) return finding("key", "not known", `${issuer} is in no trust file that is believed here`);
  const one = files.find(({ file }) => find(file, key.multikey));
  if (!one) return finding("key", "no", `the key is none of ${files[0].file.name}`);
  const { revoked } = find(one.file, key.multikey);
  if (revoked) return finding("key", "not known", `the key was revoked on ${revoked}: ask the record book`);
  const by = [`a key of ${files[0].file.name}`, one.how].filter(Boolean);
  return finding("key", "yes", by.join(", "));
}

function dates(document, now) {
  const { validFrom: first, validUntil: last } = document;
  if (now < instant(first)) return finding("dates", "no", `begins on ${first.slice(0, 10)}`);
  if (last && now > instant(last)) return finding("dates", "no", `ended; its last day was ${last.slice(0, 10)}`);
  return finding("dates", "yes", last ? `last day ${last.slice(0, 10)}, included` : "without an end");
}

/** The list that the certificate names, and the one that goes with it. */
function entries(document) {
  return document.credentialStatus ? withSuspension(document.credentialStatus) : [];
}

export function withSuspension(entry) {
  const address = entry.statusListCredential;
  if (entry.statusPurpose !== "revocation" || !address.includes(REVOKED)) return [entry];
  const other = address.replaceAll(REVOKED, SUSPENDED);
  return [entry, { ...entry, statusPurpose: "suspension", statusListCredential: other }];
}

/** Whether it was taken back, by the newest good list; without one it is not known. */
export async function status(issuer, entry, trusted, lists, now) {
  const purpose = entry.statusPurpose;
  let why = "no list of the school is at hand";
  let newest = null;
  for (const bytes of lists) {
    try {
      const found = readJson(bytes);
      const fault = await listFault(found, issuer, entry, trusted, now);
      if (!fault && (!newest || instant(found.validFrom) > instant(newest.validFrom))) newest = found;
      if (fault && fault !== ANOTHER) why = fault;
    } catch (error) {
      why = told(error);
    }
  }
  if (!newest) return finding(purpose, "not known", why);
  const by = `by the list good until ${newest.validUntil.slice(0, 10)}`;
  try {
    return (await isSet(newest.credentialSubject.encodedList, Number(entry.statusListIndex)))
      ? finding(purpose, "no", `taken back (${purpose}), ${by}`)
      : finding(purpose, "yes", `not taken back, ${by}`);
  } catch (error) {
    return finding(purpose, "not known", told(error));
  }
}

/** Why a list says nothing of this certificate at this time; empty when it does. */
async function listFault(found, issuer, entry, trusted, now) {
  const wrong = faults(found, "StatusListCredential");
  if (wrong.length || !found.proof) return `the list is none: ${wrong.slice(0, 2).join("; ") || "not signed"}`;
  if (found.id !== entry.statusListCredential || issuerOf(found) !== issuer) return ANOTHER;
  if (found.credentialSubject.statusPurpose !== entry.statusPurpose) return "the list is for another purpose";
  const { signature, key } = await signatureOf(found);
  if (signature.answer !== "yes") return `the list: ${signature.says}`;
  if (trustedKey(issuer, key, trusted).answer !== "yes") return "the list is signed with a key that is not trusted";
  if (now < instant(found.validFrom)) return `the list has not begun: it is good from ${found.validFrom.slice(0, 10)}; is the clock right?`;
  if (dates(found, now).answer !== "yes") return `the list is stale: it was good until ${found.validUntil.slice(0, 10)}`;
  return "";
}
