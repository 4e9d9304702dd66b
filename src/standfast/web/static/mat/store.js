// The log of records on this device, and the outbox.  A record is never changed; only its mark
// "unsent" goes when the server has answered for it.

import { copied, copy, settled } from "./copy.js";

let db;
let opening;

const whole = request => new Promise((done, fail) => {
  request.onsuccess = () => done(request.result);
  request.onerror = () => fail(request.error);
});

export function open() {
  let fresh = false;
  opening ??= whole(Object.assign(indexedDB.open("standfast-mat", 1), {
    onupgradeneeded() {
      fresh = true;
      const records = this.result.createObjectStore("records", { keyPath: "id" });
      records.createIndex("place", ["sheet", "n"], { unique: true });
      records.createIndex("unsent", "unsent");
      this.result.createObjectStore("sheets", { keyPath: "sheet" });
      this.result.createObjectStore("kits", { keyPath: "key" });
    },
  })).then(found => {
    db = found;
    return fresh ? bringBack() : null;
  });
  return opening;
}

// A new database beside copies of sheets: the browser took its own for broken and made it anew.
async function bringBack() {
  for (const [info, ...records] of await copied().catch(() => [])) {
    await put("sheets", info);
    await put("records", ...records.map(r => ({ ...plain(r), unsent: 1 })));
  }
}

// One question, asked and let go in one task: a transaction that waited for this page to hear the
// answer would hold up a tap, and a tap that waits is lost when the page is left.
function ask(name, question) {
  const tx = db.transaction(name);
  const asked = question(tx.objectStore(name));
  tx.commit();
  return whole(asked);
}

export const all = name => ask(name, store => store.getAll());
export const get = (name, key) => ask(name, store => store.get(key));

function writing(name) {
  return db.transaction(name, "readwrite", { durability: "strict" });
}

// Written in the task that asks for it: async functions run at once until they first wait.
export async function put(name, ...values) {
  const tx = writing(name);
  for (const one of values) tx.objectStore(name).put(one);
  tx.commit();
  return new Promise((done, fail) => {
    tx.oncomplete = done;
    tx.onabort = () => fail(tx.error);
  });
}

export const recordsOf = sheet => ask("records", store => store
  .index("place").getAll(IDBKeyRange.bound([sheet, 0], [sheet, Infinity])));

export const hex = bytes => [...bytes].map(x => x.toString(16).padStart(2, "0")).join("");

// UUIDv7 (RFC 9562): 48 bits of milliseconds, then randomness.
export function newId(now = Date.now()) {
  const b = crypto.getRandomValues(new Uint8Array(16));
  for (let i = 5, rest = now; i >= 0; i--, rest = Math.floor(rest / 256)) b[i] = rest % 256;
  b[6] = (b[6] & 15) | 112;
  b[8] = (b[8] & 63) | 128;
  return hex(b).replace(/^(.{8})(.{4})(.{4})(.{4})/, "$1-$2-$3-$4-");
}

// An instant of the device's clock with its offset, ISO 8601.
export function instant(ms) {
  const off = -new Date(ms).getTimezoneOffset();
  const two = x => String(Math.trunc(Math.abs(x))).padStart(2, "0");
  const zone = `${off < 0 ? "-" : "+"}${two(off / 60)}:${two(off % 60)}`;
  return new Date(ms + off * 60000).toISOString().replace("Z", zone);
}

// One assessor's sheet of one lesson.  Numbers are given in memory and everything is written in
// the task of the tap itself: a page that is left at once takes no callback along.
export class Sheet {
  constructor(info, records) {
    this.info = info;
    this.id = info.sheet;
    this.records = records;
    this.unsaved = [];
    this.last = Date.parse(records.at(-1)?.at ?? 0) || 0;
    this.changed = () => {};
  }

  get failed() {
    return this.unsaved.length > 0;
  }

  // The last of the two counts.
  get signed() {
    return this.records.findLast(r => /^(sign|reopened)$/.test(r.body.kind))?.body.kind === "sign";
  }

  // What one tap gives.  In memory at once, so that the next tap sees it; true when kept.
  async add(...bodies) {
    if (this.signed && bodies[0].kind !== "reopened") return false;
    const now = Math.max(Date.now(), this.last + 1);
    const at = instant(now);
    this.last = now;
    for (const body of bodies) {
      const n = (this.records.at(-1)?.n ?? 0) + 1;
      const record = { id: newId(now), sheet: this.id, n, at, body };
      this.records.push(record);
      this.unsaved.push(record);
    }
    return this.save();
  }

  // What a broken try kept after all is put as the same record once more.
  async save() {
    const trying = this.unsaved;
    if (!trying.length) return true;
    this.unsaved = [];
    const copying = copy(this.id, trying);
    const kept = await put("records", ...trying.map(r => ({ ...r, unsent: 1 }))).then(() => true, () => false);
    if (!kept) this.unsaved = [...trying, ...this.unsaved];
    this.changed();
    if (kept) send();
    await copying;
    return kept;
  }
}

export const plain = ({ id, sheet, n, at, body }) => ({ id, sheet, n, at, body });

// The sheet, when no other tab has it; null when one has.
export function take(id) {
  return new Promise(done => {
    navigator.locks.request(`sheet-${id}`, { ifAvailable: true }, async lock => {
      if (!lock) return done(null);
      const [info, records] = await Promise.all([get("sheets", id), recordsOf(id)]);
      if (info) copy(id, [info, ...records], true);
      done(info ? new Sheet(info, records) : undefined);
      return new Promise(() => {});
    });
  });
}

// The outbox

const BATCH = 100;
const LONGEST_WAIT = 60;
let wait = 1;
let timer;

const unsent = most => ask("records", store => store.index("unsent").getAll(1, most));

// Says how the outbox stands, as an event of the window.
async function tell(state) {
  const waiting = await unsent();
  const hours = (Date.now() - Math.min(...waiting.map(r => Date.parse(r.at)))) / 3600000;
  const detail = { state, unsent: waiting.length, hours, late: hours > 24 };
  dispatchEvent(new CustomEvent("outbox", { detail }));
}

// The word that lets a device send which several assessors use; null on one's own.
export const shared = () => localStorage.getItem("mat-device");

// Asks the server; with a body it sends that.
export const api = (path, body) => fetch(`/api/${path}`, {
  method: body ? "POST" : "GET",
  redirect: "error",
  headers: { "content-type": "application/json", ...(shared() && { authorization: `Bearer ${shared()}` }) },
  body: body && JSON.stringify(body),
  signal: AbortSignal.timeout(20000),
});

// What the server answered of a batch; written in one task like a tap.
const acknowledge = (answers, batch) => put("records", ...answers.map(({ id, answer, why }) => ({
  ...plain(batch.find(r => r.id === id)), ...(answer === "held" && { held: why ?? "held" }),
})));

// True when all is sent; else in which state the outbox waits.
async function flush() {
  for (let most = BATCH; ;) {
    const batch = await unsent(most);
    if (!batch.length) return "sent";
    // What the server had before the copy could come back without it, its number given once more.
    await settled("outbox");
    const answer = await api("records", { records: batch.map(plain) });
    if (answer.ok) {
      const { answers } = await answer.json();
      const known = new Set(batch.map(r => r.id));
      const ours = answers.filter(a => known.has(a.id) && ["stored", "seen", "held"].includes(a.answer));
      if (!ours.length) return "waiting";
      await acknowledge(ours, batch);
    } else if ([413, 422].includes(answer.status) && batch.length > 1) {
      most = 1; // one of them is what the server cannot read: it must not stop the others
    } else if (answer.status === 422) {
      await acknowledge([{ id: batch[0].id, answer: "held", why: "the server cannot read it" }], batch);
    } else if ([401, 403].includes(answer.status)) {
      return "signed-out";
    } else {
      wait = Math.max(wait, Number(answer.headers.get("retry-after")) || 1);
      return "waiting";
    }
  }
}

export async function send() {
  await navigator.locks.request("outbox", { ifAvailable: true }, async lock => {
    if (!lock) return again(1);
    clearTimeout(timer);
    const state = await flush().catch(() => "waiting");
    await tell(state);
    if (state === "sent") wait = 1;
    else again();
  });
}

function again(seconds) {
  clearTimeout(timer);
  timer = setTimeout(send, 1000 * (seconds ?? wait * (0.75 + Math.random() / 2)));
  if (!seconds) wait = Math.min(wait * 2, LONGEST_WAIT);
}

export function keepSending() {
  const now = () => { wait = 1; send(); };
  addEventListener("online", now);
  document.addEventListener("visibilitychange", () => document.hidden || now());
  tell("idle").then(send);
}
