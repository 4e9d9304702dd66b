// Whose keys are believed here: what a person compared by hand, and what the school's site says.

import { Unreadable, fromUtf8, utf8 } from "./bytes.js";
import { fingerprint, listed, moment, part } from "./show.js";
import { find, goesBack, readTrust } from "./trust.js";

const KEPT = "standfast-trust";
const COMPARE =
  "Compare this fingerprint, letter by letter, with the one that the school printed or told you. A file that came along with the certificate proves nothing by itself.";
const OTHER = "It is signed with a key that the file which is believed does not list.";
const NONE =
  "None yet. Add the school's trust.json above: a key that comes only with a certificate proves nothing about who made it.";

const compared = (day) => `fingerprint compared on ${day}`;

export class Believed {
  /** `changed` is called when a person decided something. */
  constructor(changed) {
    this.changed = changed;
    this.site = null;
    this.kept = [];
    this.offered = [];
  }

  /** All that is believed; what the school's site says stands for what was compared before. */
  get trusted() {
    return this.site ? [this.site, ...this.kept.filter((one) => one.file.issuer !== this.site.file.issuer)] : this.kept;
  }

  known(issuer) {
    return this.kept.find((one) => one.file.issuer === issuer);
  }

  /** What the school's site says of its keys, unless more is known. */
  bySite(found) {
    const known = this.known(found.file.issuer);
    const why = known && goesBack(known, found);
    if (why) throw new Unreadable(`the site's trust.json is ${why}`);
    this.site = found;
  }

  /** A trust file: believed when it follows one that is, else shown for a person to compare. */
  async offer(bytes, name) {
    const found = { ...(await readTrust(bytes)), bytes, name };
    const known = this.known(found.file.issuer);
    const why = known && goesBack(known, found);
    if (why) throw new Unreadable(why);
    if (known && find(known.file, found.by.multikey)) this.believe({ ...found, day: known.day }, known.how);
    else this.offered = [...this.offered.filter((one) => one.fingerprint !== found.fingerprint), found];
  }

  believe(found, how) {
    this.leave(this.known(found.file.issuer));
    this.kept.push({ ...found, how });
    this.offered = this.offered.filter((one) => one.fingerprint !== found.fingerprint);
    this.keep();
  }

  leave(one) {
    this.kept = this.kept.filter((other) => other !== one);
    this.offered = this.offered.filter((other) => other !== one);
    this.keep();
  }

  /** Keeps what was compared by hand, where the browser allows it. */
  keep() {
    const kept = this.kept.map((one) => ({ content: fromUtf8(one.bytes), day: one.day }));
    try {
      localStorage.setItem(KEPT, JSON.stringify(kept));
    } catch {
      // not allowed here: it is asked again next time
    }
  }

  async remembered() {
    let kept = [];
    try {
      kept = JSON.parse(localStorage.getItem(KEPT)) ?? [];
    } catch {
      // not allowed here, or changed
    }
    for (const one of Array.isArray(kept) ? kept : []) {
      try {
        const bytes = utf8(String(one.content));
        const how = `${compared(one.day)}, as this browser remembers`;
        this.kept.push({ ...(await readTrust(bytes)), bytes, day: one.day, how });
      } catch {
        // changed since, so no longer believed
      }
    }
  }

  /** The parts of the page that say so, and ask. */
  shown() {
    const all = [...this.trusted.map((one) => this.card(one)), ...this.offered.map((one) => this.question(one))];
    return all.length ? all : [part("p", {}, NONE)];
  }

  card(one) {
    const about = [
      ["School", one.file.name],
      ["Known as", one.file.issuer],
      ["Believed", one.how],
      ["Fingerprint", fingerprint(one.fingerprint)],
    ];
    const leave = one.bytes ? this.button("Do not believe this school any more", () => this.leave(one)) : null;
    return part("div", { className: "card" }, listed(about), leave);
  }

  question(one) {
    const { name, issuer } = one.file;
    const other = this.known(issuer) ? part("p", {}, OTHER) : null;
    const { day } = moment(Date.now());
    return part(
      "div",
      { className: "card told" },
      part("p", {}, part("strong", {}, name), `, ${issuer}: does this trust file come from the school? (${one.name})`),
      other,
      fingerprint(one.fingerprint),
      part("p", {}, COMPARE),
      this.button("It is the same: believe this school", () => this.believe({ ...one, day }, compared(day))),
      this.button("It is another: leave it", () => this.leave(one)),
    );
  }

  button(text, does) {
    const found = part("button", { type: "button" }, text);
    found.addEventListener("click", () => {
      does();
      this.changed();
    });
    return found;
  }
}
