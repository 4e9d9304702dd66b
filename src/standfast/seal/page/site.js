// What the school's own site says, when the page is opened there: its keys, and its lists.
// From a file or from elsewhere nothing is asked of anybody.

import { Unreadable } from "./bytes.js";
import { readTrust } from "./trust.js";
import { told } from "./verify.js";

const MOST_BYTES = 1 << 20;

/** Where the page lies, without what may be the page's own name: `v/`, `verify.html`. */
const HOME = new URL(/\/v\/(index\.html)?$/.test(location.pathname) ? "../" : "./", location.href);
export const onSite = location.protocol === "https:";

/** The bytes of a file of this site. */
async function got(address) {
  const url = new URL(address, HOME);
  if (!onSite || url.origin !== HOME.origin) throw new Unreadable("not of this site");
  let answer;
  try {
    answer = await fetch(url, { cache: "no-cache", credentials: "omit", redirect: "error" });
  } catch {
    throw new Unreadable("cannot be reached");
  }
  if (!answer.ok) throw new Unreadable(`answered with ${answer.status}`);
  const bytes = new Uint8Array(await answer.arrayBuffer());
  if (bytes.length > MOST_BYTES) throw new Unreadable("is too long");
  return bytes;
}

/** The trust file of the school whose site this is, believed because this site gives it.
 *
 * Raises Unreadable: there is none, or it is that of another address than this.
 */
export async function trustOfSite() {
  try {
    const found = await readTrust(await got("trust.json"));
    const issuer = found.file.issuer;
    if (issuer.slice(0, issuer.lastIndexOf("/") + 1) !== HOME.href) {
      throw new Unreadable(`is that of ${issuer}, which is elsewhere`);
    }
    return { ...found, how: "as this site says" };
  } catch (error) {
    throw new Unreadable(`${new URL("trust.json", HOME).href} ${told(error)}`);
  }
}

const kept = new Map();

/** The lists at those addresses, of which this site has some; each is fetched once. */
export async function listsOfSite(addresses) {
  for (const one of addresses) {
    if (!onSite || !one.startsWith(HOME.href) || kept.has(one)) continue;
    try {
      kept.set(one, await got(one));
    } catch (error) {
      told(error); // it is not known then
    }
  }
  return [...kept.values()];
}
