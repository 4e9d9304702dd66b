// That a certificate stands in the school's record book, by the tree of RFC 9162, 2.1.3.2.

import { fromHex, hex, joined, sha256, utf8 } from "./bytes.js";
import { canonical, readJson } from "./json.js";
import { publicKey } from "./keys.js";
import { BYTES, holds } from "./proofs.js";
import { misfits } from "./shapes.js";
import { named } from "./trust.js";
import { finding, issuerOf, told, trustedKey } from "./verify.js";

/** Whether a receipt shows that this credential stands in a book under a head that is believed.
 *
 * With a yes comes what the entry tells of the `paper`, if it does.
 */
export async function checkReceipt(bytes, document, trusted) {
  let found;
  let key;
  try {
    found = readJson(bytes);
    const [fault] = misfits(found, "Receipt");
    if (fault) return finding("book", "no", `the receipt: ${fault}`);
    const [proof] = found.head.proof;
    const { issuer, multikey } = named(proof);
    if (issuer !== found.head.issuer) return finding("book", "no", "the receipt's head names a key of somebody else");
    key = publicKey(multikey);
    if (proof.cryptosuite !== BYTES || !(await holds(found.head, proof, key))) {
      return finding("book", "no", "the receipt's head was changed after it was signed");
    }
  } catch (error) {
    return finding("book", "no", `the receipt: ${told(error)}`);
  }
  const known = found.head.issuer === issuerOf(document) && trustedKey(found.head.issuer, key, trusted);
  if (!known || known.answer !== "yes") {
    return finding("book", "not known", "the receipt's head is signed with a key not believed");
  }
  if (!(await included(found))) return finding("book", "no", "the receipt's entry does not lead to its head");
  const { digest, paper } = issuedIn(found.entry);
  if (digest !== hex(await sha256(utf8(canonical(document))))) {
    return finding("book", "no", "the receipt is of another certificate");
  }
  const says = `stood in the record book under the head of ${found.head.at.slice(0, 10)}`;
  return { ...finding("book", "yes", says), paper };
}

/** What the entry tells of the certificate that was given out: the hashes of it and of its paper. */
function issuedIn(entry) {
  try {
    return readJson(utf8(entry))?.body?.issued ?? {};
  } catch {
    return {};
  }
}

const node = (left, right) => sha256(joined([1], left, right));

/** Whether the entry's way leads to the head. */
async function included({ entry, index, path, head }) {
  if (index >= head.size) return false;
  let hash = await sha256(joined([0], utf8(entry)));
  let at = index;
  let last = head.size - 1;
  for (const step of path.map(fromHex)) {
    if (last === 0) return false;
    if (at % 2 || at === last) {
      hash = await node(step, hash);
      while (at && at % 2 === 0) [at, last] = [at / 2, Math.floor(last / 2)];
    } else {
      hash = await node(hash, step);
    }
    [at, last] = [Math.floor(at / 2), Math.floor(last / 2)];
  }
  return last === 0 && hex(hash) === head.root;
}
