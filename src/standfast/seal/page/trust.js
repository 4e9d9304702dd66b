// Whose keys are believed: a small signed file that is taken once by hand.

import { Unreadable } from "./bytes.js";
import { readJson } from "./json.js";
import { publicKey, thumbprint } from "./keys.js";
import { BYTES, holds } from "./proofs.js";
import { instant, misfits } from "./shapes.js";

/** A trust file whose signature holds with one of its own keys: { file, by, fingerprint }.
 *
 * Whether to believe it is another question.
 */
export async function readTrust(bytes) {
  const file = readJson(bytes);
  const [fault] = misfits(file, "TrustFile");
  if (fault) throw new Unreadable(`no trust file: ${fault}`);
  if (file.kind !== "standfast-trust" || !file.proof) throw new Unreadable("no trust file: it is not signed");
  const [one] = file.proof;
  const { issuer, multikey } = named(one);
  const listed = find(file, multikey);
  if (issuer !== file.issuer || !listed || listed.revoked) {
    throw new Unreadable("signed with a key that it does not list, or that it lists as revoked");
  }
  const by = publicKey(multikey);
  if (one.cryptosuite !== BYTES || !(await holds(file, one, by))) {
    throw new Unreadable("its signature does not hold: it was changed");
  }
  return { file, by, fingerprint: await thumbprint(by) };
}

/** The key of that text in a trust file. */
export const find = (file, multikey) => file.keys.find((one) => one.key === multikey);

/** The issuer and the key that a proof names. */
export function named(proof) {
  const [issuer, ...rest] = proof.verificationMethod.split("#");
  return { issuer, multikey: rest.join("#") };
}

/** Why a file of a school's must not take the place of the known one, whatever its fingerprint:
 * that of a stolen key stands on papers for years. Empty when it may.
 */
export function goesBack(known, offered) {
  const revoked = find(known.file, offered.by.multikey)?.revoked;
  if (revoked) return `signed with a key that the school revoked on ${revoked.slice(0, 10)}`;
  if (instant(offered.file.made) < instant(known.file.made)) {
    return `older than what is known, which was made on ${known.file.made}`;
  }
  return "";
}
