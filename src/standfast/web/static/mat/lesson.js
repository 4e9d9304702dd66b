// The lesson: one thumb, half a second, eyes on the mat.

import * as rules from "./replay.js";
import { $, begun, button, buzz, clock, el, fill, hold, lookButtons, mine } from "./ui.js";
import { answers, titled, told, undoing, undoingLast } from "./words.js";
import { ratings } from "./rate.js";

const MOST_CLOCK = 6 * 3600 * 1000;

let sheet, kit, state, base, who, lastSkill, dueNow, cells;
let waiting = null;
const skillOf = {};
const left = new Set();
const rows = [];

// Time

// The clock of the lesson runs on the device's monotonic time; the wall clock only says how long
// the page was away, and is not believed when that is absurd.
function anchor(last) {
  const away = Date.now() - sheet.info.began;
  base = performance.now() - (away < last || away > MOST_CLOCK ? last : away);
}

const time = () => Math.max(0, Math.floor((performance.now() - base) / 1000));

// A device that slept stops its monotonic time too.
function awake() {
  if (document.hidden) return;
  anchor(performance.now() - base);
  stayAwake();
}

async function stayAwake() {
  const lit = await navigator.wakeLock?.request("screen").catch(() => null);
  $("unsent").dataset.also = lit ? "" : " \u00b7 may sleep";
}

// Records

function add(...bodies) {
  const kept = sheet.add(...bodies);
  state = rules.replay(sheet.records);
  say(told(sheet, bodies), "Keeping");
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
const skillKnown = () => kit.skills.find(s => s.id === skill());

function current() {
  const mine = state.tries.findLast(t => t.student === who && t.skill === skill());
  if (mine && !left.has(mine.try) && rules.unanswered(kit, mine).length) return mine;
  const next = 1 + Math.max(0, ...state.tries.map(t => t.try));
  return state.tries.find(t => !t.student) ?? { try: next, failed: false, answers: {} };
}

const shown = c => {
  const every = rules.everyQuestion(kit, skill());
  return c.failed && every.every(q => c.answers[q.id]) ? rules.failedQuestion(kit, skill()) : every;
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
  const judged = kit.clearances && skillKnown()?.prerequisites.length;
  const wanted = last === "held-back" || (!last && judged);
  return wanted ? [{ kind: "clearance", t, student: who, skill: skill(), choice: "let-go" }] : [];
}

function mark(questions, answer) {
  if (!ready()) return;
  const t = time();
  const c = current();
  const first = Object.keys(c.answers).length ? [] : letGoFirst(t);
  const marks = questions.filter(q => c.answers[q.id] !== answer).map(q =>
    ({ kind: "mark", try: c.try, t, student: who, skill: skill(), criterion: q.id, answer }));
  if (marks.length) add(...first, ...marks);
}

function choose(choice) {
  if (!ready()) return;
  if (rules.lastChoice(state, who, skill()) === choice) return say(`${who}: marked already`);
  add({ kind: "clearance", t: time(), student: who, skill: skill(), choice });
}

function undo() {
  const last = undoingLast(sheet);
  if (last.length) add(...last);
  else say("Nothing to undo");
}

const incident = (t, criterion, student = null) => ({ kind: "incident", t, criterion, student, note: null });

function stop(...why) {
  if (state.stopped) return;
  const t = time();
  buzz(60);
  add({ ...incident(t, null), kind: "stop" }, ...(why.length ? [incident(t, ...why)] : []));
}

// Looks

function look(number, idle) {
  if (!number) return;
  if (waiting === null || idle > waiting) return pad(number);
  add({ kind: "look", look: number, t: time(), waiting, idle });
}

// Asks how many wait, then how many of them are idle; while it asks, the look may have been missed.
function pad(number) {
  const most = Math.min(sheet.info.students, 12);
  const key = (words, action) => button(words, () => {
    if (dueNow === number) return action();
    closeSheet();
    say(`Look ${number} was missed`);
  });
  const keys = (upTo, chosen) => el("div", { className: "pad" },
    ...Array.from({ length: upTo + 1 }, (_, i) => key(i, () => chosen(i))));
  const answer = (waits, idle) => {
    closeSheet();
    add({ kind: "look", look: number, t: time(), waiting: waits, idle });
  };
  const idles = count => {
    waiting = count;
    show(`Look ${number}: how many of ${count} are idle?`, keys(count, idle => answer(count, idle)));
  };
  show(`Look ${number}: how many wait?`, keys(most, idles), el("p", {}, key("Missed", () => answer(null, null))));
}

function tick() {
  const t = time();
  if (state.ended !== null) return;
  write($("clock"), clock(t));
  const missed = rules.missedLooks(kit, state, t);
  if (missed.length && !sheet.signed) {
    sheet.add(...missed);
    state = rules.replay(sheet.records);
  }
  drawLook(t);
  if (sheet.failed && t % 5 === 0) sheet.save();
}

// Drawing: every part is made once and changed in place, so that no button moves or vanishes
// between press and release.

function write(place, words) {
  if (place.textContent !== words) place.textContent = words;
}

function build() {
  fill($("who"), ...state.begin.students.map(({ student }) =>
    button(student, () => { who = student; draw(); })));
  const most = Math.max(...kit.skills.flatMap(s => [rules.everyQuestion, rules.failedQuestion].map(of => of(kit, s.id).length)));
  for (let i = 0; i < most; i++) {
    const says = el("span", { className: "question" });
    const made = answers(answer => mark([shown(current())[i]], answer));
    rows.push({ row: el("div", { className: "question-row", role: "group" }, says, ...made), says, made });
  }
  fill($("marks"), ...rows.map(r => r.row));
  cells = [button("", () => dueNow && pad(dueNow), { className: "of" }), ...[0, 1, 2, 3, 4, 5].map(i => button(i, () => look(dueNow, i)))];
  fill($("look"), ...cells);
  $("look").hidden = !kit.every;
  fill($("reasons"), ...incidents(k => reason(k.id)));
  $("let-go").hidden = $("held-back").hidden = !kit.clearances;
  $("help").textContent = [sheet.info.firstAid && `First aid: ${sheet.info.firstAid}`, sheet.info.phone && `Phone: ${sheet.info.phone}`].filter(Boolean).join(". ");
}

function draw() {
  for (const one of $("who").children) one.ariaPressed = one.textContent === who;
  $("skill").textContent = skill() ? titled(kit.skills, skill()) : "Which skill?";
  const choice = who && rules.lastChoice(state, who, skill());
  for (const id of ["let-go", "held-back"]) $(id).ariaPressed = choice === id;
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
    write(says, q.question);
    row.ariaLabel = q.question;
    for (const one of made) one.ariaPressed = one.className === c.answers[q.id];
  });
  $("failed").ariaPressed = c.failed;
}

function drawLook(t) {
  if (!kit.every) return;
  const due = state.stopped || state.ended !== null ? 0 : rules.dueLook(kit, state, t);
  if (due && due !== dueNow) buzz([40, 80, 40]);
  dueNow = due;
  $("look").classList.toggle("due", due > 0);
  const next = (Math.floor(t / kit.every) + 1) * kit.every;
  const words = due ? (waiting === null ? "waiting?" : `idle of ${waiting}`) : `look ${clock(next)}`;
  write(cells[0], words);
  cells.forEach((one, i) => { one.ariaDisabled = !due || (i > 0 && waiting !== null && i - 1 > waiting); });
}

function drawKept() {
  document.body.classList.toggle("not-saved", sheet.failed);
  if (sheet.failed) say(`NOT SAVED, use paper: ${sheet.unsaved.length} not kept on this device`);
}

function drawStopped() {
  const panel = $("stopped");
  if (!state.stopped || state.ended !== null) return panel.open && panel.close();
  const over = kit.incidents.some(k => k.stops && reasonOf(k.id));
  $("stopped-at").textContent = clock(state.stops.at(-1).t);
  $("stopped-says").textContent = sheet.failed ? "NOT SAVED, write it on paper."
    : over ? "This incident stops the practical: nothing after it is scored." : "Looks are paused. Why? One tap, or none.";
  $("resume").hidden = over;
  kit.incidents.forEach((k, i) => { $("reasons").children[i].ariaPressed = Boolean(reasonOf(k.id)); });
  if (!panel.open) {
    closeSheet();
    panel.showModal();
    $("stopped-title").focus();
  }
}

// The incident that is a reason of the last stop: one of the same second.
const reasonOf = id => state.incidents.findLast(i => i.criterion === id && i.t === state.stops.at(-1).t);

// A tap on a reason gives it; the same again takes it back.
function reason(id) {
  const there = sheet.records.filter(r => r.body === reasonOf(id));
  add(...(there.length ? undoing(there) : [incident(state.stops.at(-1).t, id)]));
}

// The sheet that slides over everything but Stop

function rest(inert) {
  for (const one of document.querySelectorAll("#lesson > :not(.top), #more")) one.inert = inert;
}

const choices = (...inside) => el("div", { className: "choices" }, ...inside);
const incidents = chosen => kit.incidents.map(k => button(k.title + (k.stops ? " (stops)" : ""), () => chosen(k)));

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
  const list = wanted => kit.skills.filter(wanted).map(s => button(s.title, () => pick(s.id), { ariaPressed: s.id === skill() }));
  const others = list(s => !taught.has(s.id));
  show(who ? `Skill of ${who}` : "Skill", choices(...list(s => taught.has(s.id))),
    others.length > 0 && el("details", {}, el("summary", {}, "Other skills"),
      kit.clearances && el("p", {}, "A count that was not asked before the lesson counts as never done."), choices(...others)));
}

function pickIncident() {
  const t = time();
  const chosen = k => {
    closeSheet();
    if (k.stops) stop(k.id, of.value || null);
    else add(incident(t, k.id, of.value || null));
  };
  const of = el("select", {}, el("option", { value: "" }, "no student"),
    ...state.begin.students.map(s => el("option", { selected: s.student === who }, s.student)));
  show(`Incident at ${clock(t)}`, el("label", { className: "field" }, "Student", of),
    choices(...incidents(chosen)));
}

function writeNote() {
  const t = time();
  const text = el("textarea", { rows: 4, maxLength: 2000 });
  const keep = () => {
    const words = (text.value.toWellFormed?.() ?? text.value).trim();
    closeSheet();
    if (words) add({ kind: "note", t, text: words });
  };
  show("Note", el("label", { className: "field" }, "Students by code only, never by name", text), button("Keep the note", keep, { className: "main" }));
}

function more() {
  const c = current();
  const last = state.tries.findLast(t => t.student === who && !t.failed && t !== c);
  const closing = action => () => { closeSheet(); action(); };
  const known = skillKnown();
  const over = button("Hold to end the lesson");
  hold(over, closing(end));
  show("More", choices(
    button("Ratings", rate),
    last && button(`Last try of ${who} failed`, closing(() => add({ kind: "failed", try: last.try, t: time() }))),
    Object.keys(c.answers).length > 0 && button(`Leave this try of ${who} open`, closing(() => { left.add(c.try); draw(); })),
    known && button(`Spot: ${known.title}`, () => show(known.title, ...spot(known))),
    ...lookButtons(),
    over));
}

const spot = ({ spot: s, hazards }) => [
  el("dl", {}, ...["stands", "controls", "starts", "ends"].flatMap(k => [el("dt", {}, k), el("dd", {}, s[k])])),
  el("h3", {}, "Hazards"), el("ul", {}, ...hazards.map(h => el("li", {}, h))),
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

const end = () => add({ kind: "end", t: time() }).then(() => location.assign(`/mat/review#${sheet.id}`));

// What a tap on each button of the page does, by the button's id.
const TAPS = {
  stop: () => stop(), more, undo, note: writeNote, incident: pickIncident, skill: pickSkill, over: end,
  "let-go": () => choose("let-go"),
  "held-back": () => choose("held-back"),
  "all-yes": () => mark(shown(current()).filter(q => !current().answers[q.id]), "yes"),
  failed: () => ready() && !current().failed && add({ kind: "failed", try: current().try, t: time() }),
  alone: () => ready() && add({ kind: "unassisted", t: time(), student: who, skill: skill() }),
  lock: () => lock(true),
  close: () => { closeSheet(); draw(); },
};

function wire() {
  for (const [id, action] of Object.entries(TAPS)) $(id).onclick = action;
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
  sheet = await mine();
  if (!sheet) return;
  kit = sheet.info.kit;
  state = rules.replay(sheet.records);
  if (state.ended !== null || sheet.signed) return location.replace(`/mat/review#${sheet.id}`);
  sheet.changed = () => { drawKept(); drawStopped(); };
  anchor(1000 * Math.max(0, ...sheet.records.map(r => r.body.t ?? 0)));
  where();
  build();
  wire();
  say(sheet.records.length > 1 ? `${sheet.records.length} kept` : "Nothing kept yet");
  draw();
  tick();
  setInterval(tick, 250);
  stayAwake();
  begun();
}

start();
