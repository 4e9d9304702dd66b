// The lesson: one thumb, half a second, eyes on the mat.

import { open, take } from "./store.js";
import * as rules from "./replay.js";
import { $, button, buzz, clock, el, fill, hold, lookButtons, refuse, showUnsent, worker } from "./ui.js";
import { inWords, lastTap, titled, undoing } from "./words.js";
import { ratings } from "./rate.js";

const MOST_CLOCK = 6 * 3600 * 1000;
const ANSWERS = [["yes", "\u2713", "Yes"], ["no", "\u2717", "No"], ["unseen", "\u2013", "Not seen"]];

let sheet, kit, state, base, who, lastSkill, dueNow, cells;
let waiting = null;
const skillOf = {};
const left = new Set();
const rows = [];

// Time

// The clock of the lesson runs on the device's monotonic time; the wall clock only says how long
// the page was away, and is not believed when that is absurd.
function anchor() {
  const last = Math.max(0, ...sheet.records.map(r => r.body.t ?? 0)) * 1000;
  const away = Date.now() - sheet.info.began;
  base = performance.now() - (away < last || away > MOST_CLOCK ? last : away);
}

const time = () => Math.max(0, Math.floor((performance.now() - base) / 1000));

// A device that slept stops its monotonic time too.
function awake() {
  if (document.hidden) return;
  const away = Date.now() - sheet.info.began;
  const here = performance.now() - base;
  if (away > here + 2000 && away < MOST_CLOCK) base = performance.now() - away;
  stayAwake();
}

async function stayAwake() {
  const words = await navigator.wakeLock?.request("screen").then(() => "", () => null) ?? "screen may turn off";
  $("unsent").dataset.also = words ? ` \u00b7 ${words}` : "";
}

// Records

function add(...bodies) {
  const kept = sheet.add(...bodies);
  state = rules.replay(sheet.records);
  say(bodies.filter(b => b.kind !== "undo").map(b => inWords(kit, b)).join("; "), "Keeping");
  draw();
  return kept.then(done => {
    if (done) { buzz(15); $("said").dataset.how = "kept"; }
  });
}

function say(words, how = "") {
  $("said").dataset.how = how;
  $("said").textContent = words;
}

const skill = () => skillOf[who] ?? lastSkill;
const skillKnown = id => kit.skills.find(s => s.id === id);

function current() {
  const mine = state.tries.findLast(t => t.student === who && t.skill === skill());
  if (mine && !left.has(mine.try) && rules.unanswered(kit, mine).length) return mine;
  const next = 1 + Math.max(0, ...state.tries.map(t => t.try));
  return state.tries.find(t => !t.student) ?? { try: next, failed: false, answers: {} };
}

const shown = c => {
  const every = rules.everyQuestion(kit, skill());
  const of = { ...c, skill: skill() };
  const done = every.every(q => c.answers[q.id]);
  return of.failed && done ? rules.failedQuestion(kit, skill()) : every;
};

// Whether anybody and anything is chosen; asks when not.
function ready() {
  if (!who) return say("Which student?"), buzz([30, 60, 30]), false;
  if (!skill()) return pickSkill(), false;
  return true;
}

// A student who starts a skill was let go on to it: that is what the criterion says.
function letGoFirst(t) {
  const last = rules.lastChoice(state, who, skill());
  const judged = kit.clearances && skillKnown(skill())?.prerequisites.length;
  const wanted = last === "held-back" || (!last && judged);
  return wanted ? [{ kind: "clearance", t, student: who, skill: skill(), choice: "let-go" }] : [];
}

function mark(questions, answer) {
  if (!ready()) return;
  const t = time();
  const c = current();
  const first = Object.keys(c.answers).length ? [] : letGoFirst(t);
  const old = questions.flatMap(q => sheet.records.filter(r => c.answers[q.id] && r.body.try === c.try
    && r.body.criterion === q.id && c.answers[q.id] !== answer).slice(-1));
  const marks = questions.filter(q => c.answers[q.id] !== answer).map(q =>
    ({ kind: "mark", try: c.try, t, student: who, skill: skill(), criterion: q.id, answer }));
  if (marks.length) add(...undoing(old), ...first, ...marks);
}

function choose(choice) {
  if (!ready()) return;
  if (rules.lastChoice(state, who, skill()) === choice) return say(`${who}: marked already`);
  add({ kind: "clearance", t: time(), student: who, skill: skill(), choice });
}

function undo() {
  const last = lastTap(sheet.records);
  if (!last.length) return say("Nothing to undo");
  const words = `Undone: ${last.map(r => inWords(kit, r.body)).join("; ")}`;
  const kept = add(...undoing(last));
  say(words);
  return kept;
}

function stop(...more) {
  if (state.stopped) return;
  const t = time();
  buzz(60);
  add({ kind: "stop", t, criterion: null, student: null, note: null }, ...more.map(b => ({ ...b, t })));
}

// Looks

function look(idle) {
  if (!dueNow) return;
  if (waiting === null || idle > waiting) return pad();
  add({ kind: "look", look: dueNow, t: time(), waiting, idle });
}

function pad() {
  const number = dueNow;
  if (!number) return;
  const most = Math.min(sheet.info.students, 12);
  const grid = (upTo, chosen) => el("div", { className: "pad" },
    ...Array.from({ length: upTo + 1 }, (_, i) => button(String(i), () => chosen(i))));
  const still = () => dueNow === number || (closeSheet(), say(`Look ${number} was missed`), false);
  const idles = count => {
    if (!still()) return;
    waiting = count;
    show(`Look ${number}: how many of ${count} are idle?`, grid(count, i => still() && (closeSheet(), look(i))));
  };
  show(`Look ${number}: how many wait?`, grid(most, idles), el("p", {}, button("Missed", () => {
    if (still()) closeSheet(), add({ kind: "look", look: number, t: time(), waiting: null, idle: null });
  })));
}

function tick() {
  const t = time();
  if (state.ended !== null) return;
  if ($("clock").textContent !== clock(t)) $("clock").textContent = clock(t);
  const missed = rules.missedLooks(kit, state, t);
  if (missed.length && !sheet.signed) {
    sheet.add(...missed.map(n => ({ kind: "look", look: n, t: missedAt(n), waiting: null, idle: null })));
    state = rules.replay(sheet.records);
  }
  drawLook(t);
  if (sheet.failed && t % 5 === 0) sheet.save();
}

const missedAt = n => n * kit.every + Math.floor(kit.every / 2);

// Drawing: every part is made once and changed in place, so that no button moves or vanishes
// between press and release.

function build() {
  fill($("who"), ...state.begin.students.map(({ student }) =>
    button(student, () => { who = student; draw(); }, { "aria-pressed": "false" })));
  $("who").dataset.rows = state.begin.students.length > 7 ? 2 : 1;
  const most = Math.max(...kit.skills.map(s => Math.max(rules.everyQuestion(kit, s.id).length, rules.failedQuestion(kit, s.id).length)), 0);
  for (let i = 0; i < most; i++) {
    const says = el("span", { className: "question" });
    const made = ANSWERS.map(([answer, sign, words]) => el("button",
      { type: "button", className: answer, onclick: () => mark([shown(current())[i]], answer) },
      el("span", { "aria-hidden": "true" }, sign), ` ${words}`));
    rows.push({ row: el("div", { className: "question-row", role: "group" }, says, ...made), says, made });
  }
  fill($("marks"), ...rows.map(r => r.row));
  const first = button("", pad, { className: "of" });
  cells = [first, ...[0, 1, 2, 3, 4, 5].map(i => button(String(i), () => look(i)))];
  fill($("look"), ...cells);
  $("look").hidden = !kit.every;
}

function draw() {
  for (const one of $("who").children) one.setAttribute("aria-pressed", one.textContent === who);
  $("skill").textContent = skill() ? titled(kit.skills, skill()) : "Which skill?";
  const choice = who && rules.lastChoice(state, who, skill());
  $("let-go").setAttribute("aria-pressed", choice === "let-go");
  $("held-back").setAttribute("aria-pressed", choice === "held-back");
  $("let-go").hidden = $("held-back").hidden = !kit.clearances;
  drawMarks();
  drawLook(time());
  drawStopped();
  drawKept();
}

function drawMarks() {
  const c = current();
  const questions = skill() ? shown(c) : rules.everyQuestion(kit, kit.skills[0].id);
  rows.forEach(({ row, says, made }, i) => {
    const q = questions[i];
    row.classList.toggle("none", !q); // empty, but the others stay where they are
    if (!q) return;
    if (says.textContent !== q.question) says.textContent = q.question;
    row.setAttribute("aria-label", q.question);
    made.forEach((one, j) => one.setAttribute("aria-pressed", c.answers[q.id] === ANSWERS[j][0]));
  });
  $("failed").setAttribute("aria-pressed", c.failed);
}

function drawLook(t) {
  if (!kit.every) return;
  const due = state.stopped || state.ended !== null ? 0 : rules.dueLook(kit, state, t);
  if (due && due !== dueNow) buzz([40, 80, 40]);
  dueNow = due;
  $("look").classList.toggle("due", due > 0);
  const next = (Math.floor(t / kit.every) + 1) * kit.every;
  const words = due ? (waiting === null ? "waiting?" : `idle of ${waiting}`) : `look ${clock(next)}`;
  if (cells[0].textContent !== words) cells[0].textContent = words;
  cells.forEach((one, i) => one.setAttribute("aria-disabled", !due || (i > 0 && waiting !== null && i - 1 > waiting)));
}

function drawKept() {
  document.body.classList.toggle("not-saved", sheet.failed);
  if (sheet.failed) say(`NOT SAVED, use paper: ${sheet.unsaved.length} not kept on this device`);
}

function drawStopped() {
  const panel = $("stopped");
  if (!state.stopped || state.ended !== null) return panel.open && panel.close();
  const at = state.stops.at(-1).t;
  const here = state.incidents.filter(i => i.t === at);
  const over = here.some(i => kit.incidents.find(k => k.id === i.criterion)?.stops);
  $("stopped-at").textContent = clock(at);
  $("stopped-says").textContent = sheet.failed ? "NOT SAVED, write it on paper."
    : over ? "This incident stops the practical: nothing after it is scored." : "Looks are paused. Why? One tap, or none.";
  $("resume").hidden = over;
  fill($("reasons"), ...kit.incidents.map(k => button(k.title + (k.stops ? " (stops)" : ""), () => reason(k.id, at),
    { "aria-pressed": String(here.some(i => i.criterion === k.id)) })));
  if (!panel.open) {
    closeSheet();
    panel.showModal();
    $("stopped-title").focus();
  }
}

// The reason of a stop; the same again takes it back.
function reason(criterion, t) {
  const there = sheet.records.filter(r => r.body.kind === "incident" && r.body.criterion === criterion && r.body.t === t)
    .filter(r => state.incidents.includes(r.body));
  const index = [...$("reasons").children].indexOf(document.activeElement);
  if (there.length) add(...undoing(there.slice(-1)));
  else add({ kind: "incident", t, criterion, student: null, note: null });
  $("reasons").children[index]?.focus();
}

// The sheet that slides over everything but Stop

function rest(inert) {
  for (const one of $("lesson").children) if (!one.classList.contains("top")) one.inert = inert;
  $("more").inert = inert;
}

function show(title, ...inside) {
  $("sheet-title").textContent = title;
  fill($("sheet-inside"), ...inside);
  rest(true);
  if (!$("sheet").open) $("sheet").show();
  $("sheet-inside").scrollTop = 0;
  $("sheet-title").focus();
}

function closeSheet() {
  if (!$("sheet").open) return;
  $("sheet").close();
  rest(false);
}

function pickSkill() {
  const taught = new Set(sheet.info.taught);
  const pick = id => { lastSkill = id; if (who) skillOf[who] = id; closeSheet(); draw(); };
  const list = wanted => kit.skills.filter(wanted).map(s => button(s.title, () => pick(s.id), { "aria-pressed": String(s.id === skill()) }));
  const others = list(s => !taught.has(s.id));
  show(who ? `Skill of ${who}` : "Skill", el("div", { className: "choices" }, ...list(s => taught.has(s.id))),
    others.length > 0 && el("details", { open: !taught.size }, el("summary", {}, "Other skills"), el("div", { className: "choices" }, ...others)));
}

function pickIncident() {
  const t = time();
  const chosen = k => {
    closeSheet();
    const body = { kind: "incident", t, criterion: k.id, student: of.value || null, note: null };
    if (k.stops) stop(body);
    else add(body);
  };
  const of = el("select", {}, el("option", { value: "" }, "no student"),
    ...state.begin.students.map(s => el("option", { selected: s.student === who }, s.student)));
  show(`Incident at ${clock(t)}`, el("label", { className: "field" }, "Student", of),
    el("div", { className: "choices" }, ...kit.incidents.map(k => button(k.title + (k.stops ? " (stops)" : ""), () => chosen(k)))));
}

function writeNote() {
  const t = time();
  const text = el("textarea", { rows: 4, maxLength: 2000, required: true });
  const keep = () => {
    const words = text.value.toWellFormed?.().trim() ?? text.value.trim();
    closeSheet();
    if (words) add({ kind: "note", t, text: words });
  };
  show("Note", el("label", { className: "field" }, "Students by code only, never by name", text), button("Keep the note", keep, { className: "main" }));
}

function more() {
  const c = current();
  const last = state.tries.findLast(t => t.student === who && !t.failed && t !== c);
  const closing = action => () => { closeSheet(); action(); };
  const known = skillKnown(skill());
  const end = button("Hold to end the lesson");
  hold(end, closing(() => add({ kind: "end", t: time() }).then(review)));
  show("More", el("div", { className: "choices" },
    button("Ratings", rate),
    last && button(`Last try of ${who} failed`, closing(() => add({ kind: "failed", try: last.try, t: time() }))),
    Object.keys(c.answers).length > 0 && button(`Leave this try of ${who} open`, closing(() => { left.add(c.try); draw(); })),
    known && button(`Spot: ${known.title}`, () => show(known.title, ...spot(known))),
    ...lookButtons(),
    end));
}

const spot = ({ spot: s, hazards }) => [
  s && el("dl", {}, ...["stands", "controls", "starts", "ends"].flatMap(k => [el("dt", {}, k), el("dd", {}, s[k])])),
  el("h3", {}, "Hazards"), el("ul", {}, ...(hazards ?? []).map(h => el("li", {}, h))),
];

function rate() {
  const made = ratings(kit, () => state, body => { add(body); made.update(); });
  show("Ratings: the highest level whose words were all seen", made.node);
}

function lock(locked) {
  $("locked").hidden = !locked;
  rest(locked);
  if (locked) closeSheet(), rest(true), $("unlock").focus();
  else $("lock").focus();
}

const review = () => location.assign(`/mat/review#${sheet.id}`);

function wire() {
  const on = (id, action) => $(id).addEventListener("click", action);
  on("stop", () => stop());
  on("more", more);
  on("skill", pickSkill);
  on("let-go", () => choose("let-go"));
  on("held-back", () => choose("held-back"));
  on("all-yes", () => mark(shown(current()).filter(q => !current().answers[q.id]), "yes"));
  on("failed", () => ready() && !current().failed && add({ kind: "failed", try: current().try, t: time() }));
  on("alone", () => ready() && add({ kind: "unassisted", t: time(), student: who, skill: skill() }));
  on("undo", undo);
  on("note", writeNote);
  on("incident", pickIncident);
  on("lock", () => lock(true));
  on("close", () => { closeSheet(); draw(); });
  on("over", () => add({ kind: "end", t: time() }).then(review));
  hold($("unlock"), () => lock(false));
  hold($("resume"), () => { add({ kind: "resume", t: time() }); $("skill").focus(); });
  $("stopped").addEventListener("cancel", event => event.preventDefault());
  $("sheet").addEventListener("keydown", event => event.key === "Escape" && closeSheet());
  document.addEventListener("visibilitychange", awake);
}

// Where the assessor was before the page was left.
function where() {
  for (const { body } of sheet.records) {
    if (body.student && body.skill) [who, lastSkill, skillOf[body.student]] = [body.student, body.skill, body.skill];
    if (body.kind === "look" && body.waiting !== null) waiting = body.waiting;
  }
  lastSkill ??= sheet.info.taught?.[0];
}

async function start() {
  await open();
  sheet = await take(location.hash.slice(1));
  if (sheet === null) return refuse("Open in another tab", "This sheet is being scored in another tab of this browser. Go on there, or close it first.");
  if (!sheet) return refuse("Not on this device", "This device has no such sheet. It is scored where it was begun.");
  kit = sheet.info.kit;
  state = rules.replay(sheet.records);
  if (state.ended !== null || sheet.signed) return location.replace(`/mat/review#${sheet.id}`);
  sheet.changed = () => { drawKept(); drawStopped(); };
  anchor();
  where();
  build();
  wire();
  showUnsent($("unsent"));
  $("lesson").hidden = false;
  say(sheet.records.length > 1 ? `${sheet.records.length} kept` : "Nothing kept yet");
  draw();
  tick();
  setInterval(tick, 250);
  stayAwake();
  document.documentElement.dataset.ready = "";
  worker();
}

start();
