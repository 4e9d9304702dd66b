// Quick entry from the paper sheet, by keyboard: a line of the paper is a line typed, and the
// paper's totals must match before the sheet can be signed.

import * as rules from "./replay.js";
import { $, begun, el, fillList, mine } from "./ui.js";
import { told, undoingLast } from "./words.js";

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
  const before = { clearances: state.clearances.filter(c => c.t <= t).sort((a, b) => a.t - b.t) };
  const choice = bodies[0]?.choice ?? rules.lastChoice(before, code, known.id);
  if (letters.length && choice === "held-back") no(`${code} was held back from ${known.title}; write g before the answers once let go`);
  if (letters.length && !choice && kit.clearances && known.prerequisites.length) no(`${known.title} has skills before it: write g, let go, before the answers`);
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
  if (first === "x") return undoingLast(sheet);
  return aTry([first, ...rest]);
}

async function takeLine(event) {
  event.preventDefault();
  const field = $("line");
  try {
    const bodies = read(field.value);
    if (!bodies.length) no("nothing to undo");
    const kept = sheet.add(...bodies);
    state = rules.replay(sheet.records);
    field.value = "";
    const words = told(sheet, bodies);
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

const choices = choice => state.clearances.filter(c => c.choice === choice).length;

// By the name of the field.
const TOTALS = {
  tries: () => state.tries.length,
  yes: () => marks("yes"), no: () => marks("no"), unseen: () => marks("unseen"),
  go: () => choices("let-go"), back: () => choices("held-back"),
  looks: () => Object.values(state.looks).filter(l => l.waiting !== null).length,
  incidents: () => state.incidents.length,
};

async function check(event) {
  event.preventDefault();
  const wrong = [...$("totals").querySelectorAll("input")].flatMap(({ name, valueAsNumber: paper, labels }) => {
    const typed = TOTALS[name]();
    return typed === paper ? [] : `${labels[0].textContent.trim()} ${paper} on paper, ${typed} typed`;
  });
  if (wrong.length) {
    $("totals-say").textContent = `Not the same: ${wrong.join("; ")}. Find the line, then check again.`;
    return;
  }
  const end = sheet.info.minutes * 60;
  const missed = rules.missedLooks(kit, state, end);
  const note = { kind: "note", t: null, text: "Typed from the paper sheet; its totals match. The paper is filed." };
  if (await sheet.add(...missed, note, { kind: "end", t: end })) location.assign(`/mat/review#${sheet.id}`);
}

async function start() {
  sheet = await mine();
  if (!sheet) return;
  kit = sheet.info.kit;
  state = rules.replay(sheet.records);
  if (state.ended !== null) return location.replace(`/mat/review#${sheet.id}`);
  $("whose").textContent = `${sheet.info.practical}, ${kit.candidate.name}, ${kit.title}, ${sheet.info.minutes} minutes`;
  fillList($("skills"), kit.skills.map(s => s.title));
  fillList($("asked"), kit.questions.map(q => q.question + (q.asked === "failed" ? " (failed tries only)" : "")));
  fillList($("incidents"), kit.incidents.map(i => i.title));
  fillList($("typed"), sheet.records.slice(1).toReversed().map(r => told(sheet, [r.body])));
  $("typing").onsubmit = takeLine;
  $("totals").onsubmit = check;
  begun();
  $("line").focus();
}

start();
