// The log of records on this device, and the outbox.  A record is never changed; only its mark
// "unsent" goes when the server has answered for it.

let db;
let opening;

const whole = request => new Promise((done, fail) => {
  request.onsuccess = () => done(request.result);
  request.onerror = () => fail(request.error);
});

export function open() {
  opening ??= whole(Object.assign(indexedDB.open("standfast-mat", 1), {
    onupgradeneeded() {
      const records = this.result.createObjectStore("records", { keyPath: "id" });
      records.createIndex("place", ["sheet", "n"], { unique: true });
      records.createIndex("unsent", "unsent");
      this.result.createObjectStore("sheets", { keyPath: "sheet" });
      this.result.createObjectStore("kits", { keyPath: "key" });
    },
  })).then(found => { db = found; });
  return opening;
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

export function put(name, value) {
  const tx = writing(name);
  tx.objectStore(name).put(value);
  return new Promise((done, fail) => {
    tx.oncomplete = done;
    tx.onabort = () => fail(tx.error);
  });
}

export const recordsOf = sheet => ask("records", store => store
  .index("place").getAll(IDBKeyRange.bound([sheet, 0], [sheet, Infinity])));

// UUIDv7 (RFC 9562): 48 bits of milliseconds, then randomness.
export function newId(now = Date.now()) {
  const b = crypto.getRandomValues(new Uint8Array(16));
  for (let i = 5, rest = now; i >= 0; i--, rest = Math.floor(rest / 256)) b[i] = rest % 256;
  b[6] = (b[6] & 15) | 112;
  b[8] = (b[8] & 63) | 128;
  const hex = [...b].map(x => x.toString(16).padStart(2, "0")).join("");
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})/, "$1-$2-$3-$4-");
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

  get signed() {
    return this.records.some(r => r.body.kind === "sign");
  }

  // What one tap gives.  In memory at once, so that the next tap sees it; true when kept.
  add(...bodies) {
    if (this.signed) return Promise.resolve(false);
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

  save() {
    const trying = this.unsaved;
    if (!trying.length) return Promise.resolve(true);
    const back = new Promise(done => {
      try {
        const tx = writing("records");
        // put: what a broken try kept after all is the same record once more.
        for (const record of trying) tx.objectStore("records").put({ ...record, unsent: 1 });
        tx.oncomplete = () => done(true);
        tx.onabort = tx.onerror = () => done(false);
        tx.commit();
      } catch {
        done(false);
      }
    });
    this.unsaved = [];
    return back.then(kept => {
      if (!kept) this.unsaved = [...trying, ...this.unsaved];
      this.changed();
      if (kept) send();
      return kept;
    });
  }

  sha256(count) {
    const text = this.records.filter(r => r.n <= count).map(r => `${canonical(plain(r))}\n`).join("");
    return crypto.subtle.digest("SHA-256", new TextEncoder().encode(text))
      .then(hash => [...new Uint8Array(hash)].map(x => x.toString(16).padStart(2, "0")).join(""));
  }

  // A copy as a file, for whoever's network or device gives up.
  copy() {
    const records = this.records.map(plain);
    const file = new Blob([JSON.stringify({ sheet: this.id, records }, null, 1)], { type: "application/json" });
    const link = document.createElement("a");
    link.href = URL.createObjectURL(file);
    link.download = `sheet-${this.info.practical}-${this.id.slice(-6)}.json`;
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 60000);
  }
}

const plain = ({ id, sheet, n, at, body }) => ({ id, sheet, n, at, body });

// RFC 8785 for what records hold: whole numbers, strings, lists, objects.
export function canonical(value) {
  if (Array.isArray(value)) return `[${value.map(canonical)}]`;
  if (!value || typeof value !== "object") return JSON.stringify(value);
  return `{${Object.keys(value).sort().map(key => `${JSON.stringify(key)}:${canonical(value[key])}`)}}`;
}

// The sheet, when no other tab has it; null when one has.
export function take(id) {
  return new Promise(done => {
    navigator.locks.request(`sheet-${id}`, { ifAvailable: true }, async lock => {
      if (!lock) return done(null);
      const [info, records] = await Promise.all([get("sheets", id), recordsOf(id)]);
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

export const outbox = { state: "idle", unsent: 0, oldest: null, changed: () => {} };

const unsent = most => ask("records", store => store.index("unsent").getAll(1, most));

async function tell(state) {
  const waiting = await unsent();
  const oldest = Math.min(...waiting.map(r => Date.parse(r.at)));
  Object.assign(outbox, { state, unsent: waiting.length, oldest });
  outbox.changed(outbox);
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
async function acknowledge(answers, batch) {
  const tx = writing("records");
  for (const { id, answer, why } of answers) {
    const record = plain(batch.find(r => r.id === id));
    tx.objectStore("records").put(answer === "held" ? { ...record, held: why ?? "held" } : record);
  }
  tx.commit();
  await new Promise((done, fail) => { tx.oncomplete = done; tx.onabort = fail; });
}

// True when all is sent; else in which state the outbox waits.
async function flush() {
  for (let most = BATCH; ;) {
    const batch = await unsent(most);
    if (!batch.length) return "sent";
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

export function keepSending(changed) {
  outbox.changed = changed;
  const now = () => { wait = 1; send(); };
  addEventListener("online", now);
  document.addEventListener("visibilitychange", () => document.hidden || now());
  tell("idle").then(send);
}
