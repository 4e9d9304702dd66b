// Quick entry from the paper sheet, by keyboard: a line of the paper is a line typed, and the
// paper's totals must match before the sheet can be signed.

import { open, take } from "./store.js";
import * as rules from "./replay.js";
import { $, clock, el, fill, names, refuse, showUnsent, worker } from "./ui.js";
import { inWords, lastTap, undoing } from "./words.js";

let sheet, kit, state;

const ANSWERS = { y: "yes", "/": "yes", n: "no", x: "no", "-": "unseen" };

class NotUnderstood extends Error {}
const no = words => { throw new NotUnderstood(words); };

function seconds(text) {
  const found = /^(?:(\d):)?(\d{1,3}):([0-5]\d)$/.exec(text ?? "") ?? no(`"${text ?? ""}" is no time; write minutes:seconds, 12:30`);
  const t = Number(found[1] ?? 0) * 3600 + Number(found[2]) * 60 + Number(found[3]);
  return t <= sheet.info.minutes * 60 ? t : no(`${text} is after the lesson's end at ${sheet.info.minutes}:00`);
}

function student(text) {
  const code = `S${(text ?? "").replace(/^s/i, "")}`;
  return state.begin.students.some(s => s.student === code) ? code : no(`no student ${code} in this lesson`);
}

const skill = text => kit.skills[Number(text) - 1] ?? no(`no skill ${text ?? ""}; they are numbered 1 to ${kit.skills.length}`);

// "12:30 2 9 g yyn-y": when, who, which skill, let go, then the answers in the paper's order; the
// answers to what is asked of a failed try follow, and say that it failed.
function aTry([at, who, which, ...rest]) {
  const [t, code, known] = [seconds(at), student(who), skill(which)];
  const base = { t, student: code, skill: known.id };
  const bodies = [];
  if (["g", "h"].includes(rest[0])) {
    if (!kit.clearances) no("this rubric asks for no choices");
    bodies.push({ kind: "clearance", ...base, choice: rest.shift() === "g" ? "let-go" : "held-back" });
  }
  const letters = [...rest.join("")];
  if (!letters.length) return bodies.length ? bodies : no("say g, h or the answers");
  const every = rules.everyQuestion(kit, known.id);
  const all = [...every, ...rules.failedQuestion(kit, known.id)];
  const failed = letters.length === all.length && all.length > every.length;
  if (!failed && letters.length !== every.length) no(`${letters.length} answers; ${every.length} are asked of ${known.title}, ${all.length} of a failed try`);
  const number = 1 + Math.max(0, ...state.tries.map(x => x.try));
  const questions = kit.questions.filter(q => (failed ? all : every).includes(q));
  const marks = questions.map((q, i) => ({ kind: "mark", try: number, ...base, criterion: q.id, answer: ANSWERS[letters[i]] ?? no(`"${letters[i]}" is no answer; y, n or -`) }));
  return [...bodies, ...marks, ...(failed ? [{ kind: "failed", try: number, t }] : [])];
}

function aLook([which, waits, idles]) {
  const look = Number(which);
  if (!kit.every) no("this rubric asks for no looks");
  if (!(look >= 1 && look * kit.every < sheet.info.minutes * 60)) no(`no look ${which ?? ""} in this lesson`);
  if (state.looks[look]) no(`look ${look} is typed already; x undoes the last line`);
  const base = { kind: "look", look, t: look * kit.every };
  if (waits === "-") return [{ ...base, waiting: null, idle: null }];
  if (!/^\d+$/.test(waits ?? "") || !/^\d+$/.test(idles ?? "")) no("say how many wait and how many are idle: w 5 4 1; or w 5 -");
  const [waiting, idle] = [Number(waits), Number(idles)];
  if (idle > waiting || waiting > sheet.info.students) no(`${idle} idle of ${waiting} waiting, ${sheet.info.students} students: that cannot be`);
  return [{ ...base, waiting, idle }];
}

function incident([number, at, who]) {
  const known = kit.incidents[Number(number) - 1] ?? no(`no incident ${number ?? ""}; they are numbered 1 to ${kit.incidents.length}`);
  return [{ kind: "incident", t: seconds(at), criterion: known.id, student: who ? student(who) : null, note: null }];
}

function read(line) {
  const [first, ...rest] = line.trim().split(/\s+/);
  if (first === "w") return aLook(rest);
  if (first === "i") return incident(rest);
  if (first === "u") return [{ kind: "unassisted", t: seconds(rest[0]), student: student(rest[1]), skill: skill(rest[2]).id }];
  if (first === "+") return [{ kind: "note", t: null, text: rest.join(" ") || no("write the note behind the +") }];
  if (first === "x") return undoing(lastTap(sheet.records));
  return aTry([first, ...rest]);
}

async function take_line(event) {
  event.preventDefault();
  const field = $("line");
  try {
    const bodies = read(field.value);
    if (!bodies.length) no("nothing to undo");
    const kept = sheet.add(...bodies);
    state = rules.replay(sheet.records);
    field.value = "";
    const words = bodies.map(b => inWords(kit, b)).join("; ");
    $("typed").prepend(el("li", {}, words));
    $("said").textContent = await kept ? `Kept: ${words}` : "NOT SAVED, keep the paper";
  } catch (error) {
    if (!(error instanceof NotUnderstood)) throw error;
    $("said").textContent = `Not kept: ${error.message}`;
  }
  field.focus();
}

// The totals

const marks = answer => state.tries.flatMap(t => Object.values(t.answers)).filter(a => a === answer).length;

const TOTALS = [
  ["tries", () => state.tries.length], ["answers yes", () => marks("yes")], ["answers no", () => marks("no")],
  ["answers not seen", () => marks("unseen")],
  ["let go", () => state.clearances.filter(c => c.choice === "let-go").length],
  ["held back", () => state.clearances.filter(c => c.choice === "held-back").length],
  ["looks answered", () => Object.values(state.looks).filter(l => l.waiting !== null).length],
  ["incidents", () => state.incidents.length],
];

async function check(event) {
  event.preventDefault();
  const wrong = TOTALS.map(([words, counted], i) => [words, Number($(`total-${i}`).value), counted()]).filter(([, paper, typed]) => paper !== typed);
  if (wrong.length) {
    $("totals-say").textContent = `Not the same: ${wrong.map(([w, paper, typed]) => `${w} ${paper} on paper, ${typed} typed`).join("; ")}. Find the line, then check again.`;
    return;
  }
  const end = sheet.info.minutes * 60;
  const missed = rules.missedLooks(kit, state, end).map(look => ({ kind: "look", look, t: look * kit.every, waiting: null, idle: null }));
  const note = { kind: "note", t: null, text: "Typed from the paper sheet; its totals match. The paper is filed." };
  if (await sheet.add(...missed, note, { kind: "end", t: end })) location.assign(`/mat/review#${sheet.id}`);
}

async function start() {
  await open();
  sheet = await take(location.hash.slice(1));
  if (sheet === null) return refuse("Open in another tab", "This sheet is open in another tab of this browser. Close it there.");
  if (!sheet) return refuse("Not on this device", "Begin on the page of your sheets: tick that the lesson was scored on paper.");
  kit = sheet.info.kit;
  state = rules.replay(sheet.records);
  if (state.ended !== null) return location.replace(`/mat/review#${sheet.id}`);
  const letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ";
  $("whose").textContent = `${sheet.info.practical}, ${names(kit.candidate)}, ${kit.title}, ${sheet.info.minutes} minutes`;
  fill($("skills"), ...kit.skills.map(s => el("li", {}, s.title)));
  fill($("asked"), ...kit.questions.map((q, i) => el("li", {}, `${letters[i]}  ${q.question}${q.asked === "failed" ? " (failed tries only)" : ""}`)));
  fill($("incidents"), ...kit.incidents.map(i => el("li", {}, i.title)));
  fill($("totals-fields"), ...TOTALS.map(([words], i) => el("label", {}, words, el("input", { id: `total-${i}`, type: "number", min: 0, required: true, inputMode: "numeric" }))));
  fill($("typed"), ...sheet.records.slice(1).toReversed().map(r => el("li", {}, inWords(kit, r.body))));
  $("typing").onsubmit = take_line;
  $("totals").onsubmit = check;
  showUnsent($("unsent"));
  $("quick").hidden = false;
  $("line").focus();
  document.documentElement.dataset.ready = "";
  worker();
}

start();
