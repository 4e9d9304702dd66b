// The code on paper: header, claims and Ed25519 signature, each in base64url (JWS, RFC 7515, with
// the algorithm of RFC 9864). See seal/token.py.

import { Unreadable, fromBase64url, utf8 } from "./bytes.js";
import { readJson } from "./json.js";
import { publicKey, thumbprint, verifies } from "./keys.js";
import { misfits } from "./shapes.js";
import { digest, finding, status, told, trustedKey, withSuspension } from "./verify.js";

const DAY = 86_400_000;
const HOUR = DAY / 24;
const FIRST_ZONE = 14 * HOUR;
const LAST_ZONE = -12 * HOUR;

/** The code in a text: what stands after # when it is a whole address. */
export const codeIn = (text) => text.slice(text.lastIndexOf("#") + 1).trim();

/** The key that a code says has signed, by its thumbprint. */
function keyNamedIn(text) {
  const parts = text.split(".");
  if (parts.length !== 3) throw new Unreadable("a code has three parts");
  const header = readJson(fromBase64url(parts[0]));
  if (misfits(header, "Header").length) throw new Unreadable("signed in another way than Ed25519");
  return header.kid;
}

/** The claims, which were signed with that key. */
async function readToken(text, key) {
  const [head, claims, last] = text.split(".");
  const signature = fromBase64url(last);
  if (signature.length !== 64 || !(await verifies(key, signature, utf8(`${head}.${claims}`)))) {
    throw new Unreadable("it was changed after it was signed");
  }
  const found = readJson(fromBase64url(claims));
  if (misfits(found, "Claims").length) throw new Unreadable("other claims than a certificate has");
  if (endOf(found) === null) throw new Unreadable("no last day");
  return found;
}

/** What a code says, whoever wrote it; null when it says nothing. */
export function claimsIn(text) {
  try {
    const found = readJson(fromBase64url(text.split(".")[1] ?? ""));
    return misfits(found, "Claims").length ? null : found;
  } catch {
    return null;
  }
}

/** Midnight, in UTC, that begins the last day; null for a day that is in no calendar. */
function endOf({ end }) {
  const at = /^(?!0000)\d{4}-\d\d-\d\d$/.test(end) ? Date.parse(`${end}T00:00:00Z`) : NaN;
  return Number.isNaN(at) || new Date(at).toISOString().slice(0, 10) !== end ? null : at;
}

/** What can be said of a code at that time; `documents` are credentials that were given with it.
 *
 * A code names its key by the thumbprint only, so without the school's trust file nothing can be
 * said of its signature.
 */
export async function verifyToken(text, trusted, lists, now, documents = []) {
  let kid;
  try {
    kid = keyNamedIn(text);
  } catch (error) {
    return [finding("shape", "no", told(error))];
  }
  const found = [finding("shape", "yes", "the code of a certificate")];
  const signer = await signerOf(kid, trusted);
  if (!signer) return [...found, finding("signature", "not known", `its key ${kid} is in no trust file that is believed here`)];
  let claims;
  try {
    claims = await readToken(text, signer.key);
  } catch (error) {
    return [...found, finding("signature", "no", told(error))];
  }
  found.push(finding("signature", "yes", "unchanged since it was signed"));
  found.push(trustedKey(signer.issuer, signer.key, trusted), dates(claims, now));
  for (const entry of withSuspension(entryOf(signer.issuer, claims))) {
    found.push(await status(signer.issuer, entry, trusted, lists, now));
  }
  if (documents.length) found.push(await printed(claims, documents));
  return found;
}

/** The believed school and key of that thumbprint: { issuer, key }; what is no key has signed nothing. */
async function signerOf(kid, trusted) {
  for (const { file } of trusted) {
    for (const listed of file.keys) {
      try {
        const key = publicKey(listed.key);
        if ((await thumbprint(key)) === kid) return { issuer: file.issuer, key };
      } catch (error) {
        told(error);
      }
    }
  }
  return null;
}

/** The place in a list that a code names, which is signed with a key that is believed; or none. */
export async function placesOf(text, trusted) {
  try {
    const { issuer, key } = await signerOf(keyNamedIn(text), trusted);
    return [entryOf(issuer, await readToken(text, key))];
  } catch {
    return [];
  }
}

/** The place of a code in a list of the school's. */
function entryOf(issuer, claims) {
  const base = issuer.startsWith("https://") ? issuer.slice(0, issuer.lastIndexOf("/")) : issuer;
  return {
    statusPurpose: "revocation",
    statusListIndex: String(claims.idx),
    statusListCredential: `${base}/status/${claims.lst}`,
  };
}

/** A code names its last day and no zone: while that day is over in one zone and not in another,
 * only the certificate's own file can tell.
 */
function dates(claims, now) {
  const end = endOf(claims) + DAY;
  if (now + FIRST_ZONE < end) return finding("dates", "yes", `last day ${claims.end}, included`);
  if (now + LAST_ZONE >= end) return finding("dates", "no", `ended; its last day was ${claims.end}`);
  return finding("dates", "not known", `its last day, ${claims.end}, is ending: the certificate's file says where`);
}

/** Whether a credential is the one from which the paper was printed. */
async function printed(claims, documents) {
  const digests = await Promise.all(documents.map(digest));
  return digests.includes(claims.dig)
    ? finding("paper", "yes", "the code was made for the file that was given")
    : finding("paper", "no", "the code was made for another file than was given");
}
