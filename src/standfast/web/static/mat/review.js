// After the lesson: what is open first, then counts, then the signature.  Never a score.

import { api, recordsOf } from "./store.js";
import * as rules from "./replay.js";
import { $, begun, button, clock, el, fill, fillList, mine } from "./ui.js";
import { answers, inWords, titled, told, undoingLast } from "./words.js";
import { saveCopy, sha256 } from "./whole.js";
import { ratings } from "./rate.js";

let sheet, kit, state, rated;

async function add(...bodies) {
  const kept = sheet.add(...bodies);
  draw();
  const done = await kept;
  $("said").textContent = done ? `Kept: ${told(sheet, bodies)}` : "NOT SAVED, use paper";
  return done;
}

function undo() {
  const last = undoingLast(sheet);
  if (last.length) add(...last);
  else $("said").textContent = "Nothing to undo";
}

const named = t => `${t.student ?? "?"}, ${titled(kit.skills, t.skill)}, ${clock(t.t)}`;

// Without an answer to these a sheet is not taken: not seen is an answer too.
const mustPoints = () => state.tries.flatMap(t => t.student ? rules.unanswered(kit, t).map(q => [t, q]) : []);
const mayPoints = () => kit.ratings.filter(r => !state.ratings[r.id]);

function openPoint([t, q]) {
  const answer = value => add({ kind: "mark", try: t.try, t: t.t, student: t.student, skill: t.skill, criterion: q.id, answer: value });
  return el("li", {}, `${named(t)}: ${q.question}`,
    el("div", { className: "row" }, ...answers(answer)));
}

function drawOpen() {
  const must = mustPoints();
  const may = mayPoints();
  const ended = state.ended !== null;
  const last = Math.max(0, ...sheet.records.map(r => r.body.t ?? 0));
  fill($("open"),
    !ended && el("p", {}, "The lesson has not ended. ",
      el("a", { className: "button", href: `/mat/${sheet.info.paper ? "quick" : "lesson"}#${sheet.id}` }, "Back to it"), " ",
      !sheet.info.paper && button(`It ended at ${clock(last)}`, () => add({ kind: "end", t: last }))),
    must.length > 0 && el("p", {}, `${must.length} questions to answer:`),
    must.length > 0 && el("ol", {}, ...must.map(openPoint)),
    may.length > 0 && el("p", {}, `${may.length} ratings are open: ${may.map(r => r.title).join("; ")}.`),
    ended && !must.length && !may.length && el("p", {}, "Nothing is open."));
  $("because").hidden = !may.length;
  $("reason").required = may.length > 0;
  $("do-sign").disabled = !ended || must.length > 0;
  $("sign-says").textContent = !ended ? "The lesson has not ended yet." : must.length ? "Answer what is open first." : "";
}

function drawCounts() {
  const rows = kit.questions.map(q => {
    const given = state.tries.filter(t => rules.asked(kit, t).includes(q)).map(t => t.answers[q.id]).filter(Boolean);
    const unseen = given.filter(a => a === "unseen").length;
    return el("tr", {}, el("th", { scope: "row" }, q.title),
      el("td", { className: "number" }, `${given.filter(a => a === "yes").length}/${given.length - unseen}`), el("td", { className: "number" }, String(unseen)));
  });
  fill($("questions"), ...rows);
  const looks = Object.values(state.looks);
  const missed = looks.filter(l => l.waiting === null).map(l => l.look);
  const choices = state.clearances;
  const go = choices.filter(c => c.choice === "let-go").length;
  const given = Object.values(state.ratings);
  fillList($("counts"), [
    `Tries: ${state.tries.length}, failed ${state.tries.filter(t => t.failed).length}`,
    kit.clearances && `Let go: ${go}, held back: ${choices.length - go}`,
    `Alone: ${state.unassisted.length}`,
    kit.every && `Looks: ${looks.length - missed.length} answered, ${missed.length} missed${missed.length ? ` (${missed.join(", ")})` : ""}`,
    `Ratings: ${given.length} of ${kit.ratings.length}, not seen ${given.filter(r => r.level === null).length}`,
    `Undone: ${state.undone}`,
  ]);
  const events = [
    ...state.stops.map(s => `Stop at ${clock(s.t)}${s.until === null ? "" : `, went on at ${clock(s.until)}`}`),
    ...state.incidents.map(i => inWords(kit, { ...i, kind: "incident" })),
    ...state.notes.map(n => el("span", {}, inWords(kit, n), " ", !state.signed && button("Take back", () => add({ kind: "undo", of: n.id })))),
  ];
  fillList($("events"), events.length ? events : ["No stop, no incident, no note."]);
}

function draw() {
  state = rules.replay(sheet.records);
  drawOpen();
  drawCounts();
  rated.update();
  const signed = state.signed;
  $("signing").hidden = $("rate").hidden = $("open-part").hidden = Boolean(signed);
  $("dock").hidden = Boolean(signed);
  $("signed").hidden = !signed;
  if (signed) drawSigned();
}

async function drawSigned() {
  fill($("sign-of"), `Signed: ${state.signed.count} records, SHA-256 `, el("code", {}, state.signed.sha256));
  const kept = await recordsOf(sheet.id);
  const unsent = kept.filter(r => r.unsent).length;
  const held = kept.filter(r => r.held);
  let words = unsent ? `To be confirmed: ${unsent} records not sent yet.` : "Sent.";
  if (!unsent) words = await api(`sheets/${sheet.id}`).then(a => a.json()).then(said).catch(() => words);
  fill($("server-says"), words, held.length > 0 && el("ul", {}, ...held.map(r => el("li", {}, `Record ${r.n} is held for the office: ${r.held}`))));
}

const STATES = {
  signed: "The office has the sheet.", "to confirm": "Signed, to be confirmed with your PIN.", incomplete: "The server waits for records that are missing.",
  open: "To be confirmed: the server has no signature yet.", refused: "The record book did not take the sheet.",
};
function said({ state: how, entry, problems }) {
  $("confirm").hidden = how !== "to confirm";
  $("reopen").hidden = how !== "refused";
  return [STATES[how] ?? how, entry != null && `Entry ${entry}.`, ...(problems ?? [])].filter(Boolean).join(" ");
}

// On a device that several use, whoever signed shows the server who she is.
async function confirmed(event) {
  event.preventDefault();
  const pin = $("pin").value;
  $("pin").value = "";
  const answer = await api(`sheets/${sheet.id}/confirm`, { pin }).catch(() => null);
  const told = await answer?.json();
  $("confirm-says").textContent = answer?.ok ? "Confirmed." : told?.error ?? "No network: confirm later.";
  if (answer?.ok) drawSigned();
}

async function sign(event) {
  event.preventDefault();
  if (mustPoints().length || state.ended === null) return;
  $("do-sign").disabled = true;
  const reason = $("reason").value.trim();
  if (mayPoints().length && !await add({ kind: "reason", text: reason })) return;
  const count = sheet.records.length;
  await add({ kind: "sign", count, sha256: await sha256(sheet.records.slice(0, count)) });
  $("signed-title").focus();
}

async function start() {
  sheet = await mine();
  if (!sheet) return;
  kit = sheet.info.kit;
  state = rules.replay(sheet.records);
  $("whose").textContent = `${sheet.info.practical}, ${kit.candidate.name}, ${kit.title}; scored by ${kit.assessor.name}`;
  rated = ratings(kit, () => state, add);
  fill($("rate-inside"), rated.node);
  $("undo").onclick = undo;
  $("copy").onclick = () => saveCopy(sheet);
  $("sign").onsubmit = sign;
  $("confirm").onsubmit = confirmed;
  $("reopen").onclick = () => add({ kind: "reopened" });
  addEventListener("outbox", () => state.signed && drawSigned());
  draw();
  begun();
}

start();
