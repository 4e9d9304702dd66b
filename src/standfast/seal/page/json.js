// JSON that every reader understands alike (RFC 7493), and its one canonical form (RFC 8785).
// The browser's own reader takes the last of two equal names, and rounds large numbers.

import { Unreadable, fromUtf8 } from "./bytes.js";

const MOST_BYTES = 1 << 20;
const DEEPEST = 32;
const SPACE = /[ \t\n\r]*/y;
const NUMBER = /-?(?:0|[1-9][0-9]*)(?:\.[0-9]+)?(?:[eE][+-]?[0-9]+)?/y;
const LETTERS = /[^"\\\u0000-\u001f]*/y;
const ESCAPED = { '"': '"', "\\": "\\", "/": "/", b: "\b", f: "\f", n: "\n", r: "\r", t: "\t" };
const HALF = /\p{Surrogate}/u; // with u, whole pairs are letters and do not match

/** The value; objects have no prototype, so that no name means anything of its own. */
export function readJson(bytes) {
  if (bytes.length > MOST_BYTES) throw new Unreadable(`more than ${MOST_BYTES} bytes`);
  const reader = new Reader(fromUtf8(bytes));
  const found = reader.value(0);
  reader.space();
  if (reader.at < reader.text.length) throw new Unreadable("no JSON: something stands behind it");
  return found;
}

function deeper(depth) {
  if (depth === DEEPEST) throw new Unreadable(`nested deeper than ${DEEPEST} levels`);
  return depth + 1;
}

class Reader {
  constructor(text) {
    this.text = text;
    this.at = 0;
  }

  take(pattern) {
    pattern.lastIndex = this.at;
    const found = pattern.exec(this.text);
    if (found) this.at = pattern.lastIndex;
    return found && found[0];
  }

  space() {
    this.take(SPACE);
  }

  /** Whether that stands here; if so it is passed. */
  is(text) {
    this.space();
    const found = this.text.startsWith(text, this.at);
    if (found) this.at += text.length;
    return found;
  }

  must(text) {
    if (!this.is(text)) throw new Unreadable(`no JSON: ${text} is missing at letter ${this.at}`);
  }

  value(depth) {
    if (this.is("{")) return this.object(deeper(depth));
    if (this.is("[")) return this.list(deeper(depth));
    if (this.is('"')) return this.string();
    for (const [word, value] of [["true", true], ["false", false], ["null", null]]) {
      if (this.is(word)) return value;
    }
    return this.number();
  }

  object(depth) {
    const found = Object.create(null);
    if (this.is("}")) return found;
    do {
      this.must('"');
      const name = this.string();
      if (name in found) throw new Unreadable("a name stands twice in one object");
      this.must(":");
      found[name] = this.value(depth);
    } while (this.is(","));
    this.must("}");
    return found;
  }

  list(depth) {
    const found = [];
    if (this.is("]")) return found;
    do found.push(this.value(depth));
    while (this.is(","));
    this.must("]");
    return found;
  }

  string() {
    let found = "";
    for (;;) {
      found += this.take(LETTERS);
      const next = this.text[this.at++];
      if (next === '"') break;
      if (next !== "\\") throw new Unreadable("no JSON: text without an end");
      const which = this.text[this.at++];
      if (which in ESCAPED) found += ESCAPED[which];
      else if (which === "u") found += this.unit();
      else throw new Unreadable("no JSON: a backslash before nothing");
    }
    if (HALF.test(found)) throw new Unreadable("half a letter (a lone surrogate)");
    return found;
  }

  unit() {
    const four = this.text.slice(this.at, this.at + 4);
    if (!/^[0-9a-fA-F]{4}$/.test(four)) throw new Unreadable("no JSON: \\u without four digits");
    this.at += 4;
    return String.fromCharCode(parseInt(four, 16));
  }

  number() {
    const text = this.take(NUMBER);
    if (!text) throw new Unreadable(`no JSON: no value at letter ${this.at}`);
    if (/[.eE]/.test(text)) {
      throw new Unreadable(`${text.slice(0, 20)}: only whole numbers stand here`);
    }
    const value = Number(text);
    if (!Number.isSafeInteger(value)) throw new Unreadable("a number that is too large");
    return value;
  }
}

/** The text of RFC 8785 for text, whole numbers, true, false, null, lists and objects. */
export function canonical(value) {
  if (Array.isArray(value)) return `[${value.map(canonical).join(",")}]`;
  if (value !== null && typeof value === "object") {
    // Names are sorted by UTF-16 units, as the standard asks and as sort() does.
    const parts = Object.keys(value).sort().map((name) => `${canonical(name)}:${canonical(value[name])}`);
    return `{${parts.join(",")}}`;
  }
  if (typeof value === "number" && !Number.isSafeInteger(value)) throw new Unreadable("no whole number");
  return JSON.stringify(value);
}
