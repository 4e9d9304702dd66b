// After the lesson: what is open first, then counts, then the signature.  Never a score.

import { all, api, instant, recordsOf } from "./store.js";
import * as rules from "./replay.js";
import { $, begun, button, clock, el, fill, fillList, mine } from "./ui.js";
import { answers, inWords, standing, titled, told, undoingLast } from "./words.js";
import { namedIn } from "./naming.js";
import { local, saveCopy, sha256 } from "./whole.js";
import { ratings } from "./rate.js";

let sheet, kit, state, rated, people, head;

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

const takeBack = id => button("Take back", () => add({ kind: "undo", of: id }));

// What was written and names somebody whom this device knows: the record book would not take it.
function naming() {
  const rated = Object.values(state.ratings).filter(r => r.note);
  return [
    ...state.notes.map(n => [`The note \u201c${n.text}\u201d`, n.text, takeBack(n.id)]),
    ...rated.map(r => [`The note beside ${titled(kit.ratings, r.criterion)}`, r.note]),
  ].flatMap(([where, text, mend]) => namedIn(text, people).map(name => el("li", {}, `${where} names ${name}. `, mend)));
}

const NAMES = "What is signed stays, also when a name is erased one day: write \u201cthe candidate\u201d, \u201cthe other assessor\u201d or a student\u2019s code instead.";

function drawOpen() {
  const must = mustPoints();
  const may = mayPoints();
  const names = naming();
  const ended = state.ended !== null;
  const last = Math.max(0, ...sheet.records.map(r => r.body.t ?? 0));
  fill($("open"),
    !ended && el("p", {}, "The lesson has not ended. ",
      el("a", { className: "button", href: `/mat/${sheet.info.paper ? "quick" : "lesson"}#${sheet.id}` }, "Back to it"), " ",
      !sheet.info.paper && button(`It ended at ${clock(last)}`, () => add({ kind: "end", t: last }))),
    must.length > 0 && el("p", {}, `${must.length} questions to answer:`),
    must.length > 0 && el("ol", {}, ...must.map(openPoint)),
    names.length > 0 && el("ul", {}, ...names),
    names.length > 0 && el("p", {}, NAMES),
    may.length > 0 && el("p", {}, `${may.length} ratings are open: ${may.map(r => r.title).join("; ")}.`),
    ended && !must.length && !may.length && !names.length && el("p", {}, "Nothing is open."));
  $("because").hidden = !may.length;
  $("reason").required = may.length > 0;
  $("do-sign").disabled = !ended || must.length > 0 || names.length > 0;
  $("sign-says").textContent = !ended ? "The lesson has not ended yet." : must.length ? "Answer what is open first."
    : names.length ? "Mend what names somebody first." : "";
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
    ...state.notes.map(n => el("span", {}, inWords(kit, n), " ", !state.signed && takeBack(n.id))),
    state.reason && inWords(kit, { kind: "reason", text: state.reason }),
  ].filter(Boolean);
  fillList($("events"), events.length ? events : ["No stop, no incident, no note."]);
}

// Name, start and place, and after a refusal everything that was tapped: whatever the record book
// did not take can be mended here, and is signed anew.
function drawMending() {
  const reopened = !state.signed && sheet.records.some(r => r.body.kind === "reopened");
  const { practical, began, site } = state.head;
  const other = head !== state.head;
  head = state.head;
  $("whose").textContent = `${practical}, ${kit.candidate.name}, ${kit.title}; scored by ${kit.assessor.name}`;
  $("mending").hidden = Boolean(state.signed) || state.ended === null;
  if (other) {
    [$("practical").value, $("began").value, $("site").value] = [practical, local(Date.parse(began)), site ?? ""];
  }
  $("began").max = local(Date.now());
  $("each-part").hidden = !reopened;
  fill($("each"), ...(reopened ? standing(sheet.records) : []).map(({ id, body }) =>
    el("li", {}, el("span", {}, body.t == null ? "" : `${clock(body.t)} `, inWords(kit, body)), takeBack(id))));
}

async function mend(event) {
  event.preventDefault();
  const practical = $("practical").value.trim();
  if (practical.includes(kit.candidate.id)) {
    $("practical").setCustomValidity("Name the lesson by place and day, not by the candidate.");
    return $("practical").reportValidity();
  }
  const same = local(Date.parse(state.head.began)) === $("began").value;
  const began = same ? state.head.began : instant(new Date($("began").value).getTime());
  await add({ kind: "mended", practical, began, site: $("site").value.trim() || null });
  $("mend-says").textContent = $("said").textContent;
}

async function write(event) {
  event.preventDefault();
  const text = ($("text").value.toWellFormed?.() ?? $("text").value).trim();
  if (text && await add({ kind: "note", t: null, text })) $("text").value = "";
}

function draw() {
  state = rules.replay(sheet.records);
  drawOpen();
  drawCounts();
  drawMending();
  rated.update();
  const signed = state.signed;
  $("signing").hidden = $("rate").hidden = $("open-part").hidden = $("writing").hidden = Boolean(signed);
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
  fill($("server-says"), ...[words].flat(), held.length > 0 && el("ul", {}, ...held.map(r => el("li", {}, `Record ${r.n} is held for the office: ${r.held}`))));
}

const STATES = {
  signed: "The office has the sheet.", "to confirm": "Signed, to be confirmed with your PIN.", incomplete: "The server waits for records that are missing.",
  open: "To be confirmed: the server has no signature yet.", refused: "The record book did not take the sheet. What is wrong:",
};
function said({ state: how, entry, problems }) {
  $("confirm").hidden = how !== "to confirm";
  $("reopen").hidden = how !== "refused";
  const words = [STATES[how] ?? how, entry != null && `Entry ${entry}.`].filter(Boolean).join(" ");
  return [el("p", {}, words), problems?.length > 0 && el("ul", {}, ...problems.map(p => el("li", {}, p))),
    how === "refused" && el("p", {}, "Open it again and mend it here: the lesson\u2019s name, start and place, or anything that was tapped; then sign it anew. What only the office can mend, an approval or who is in the record book, it mends there: then come back to this page, and the sheet goes in as it was signed.")];
}

// On a device that several use, whoever signed shows the server who she is.
async function confirmed(event) {
  event.preventDefault();
  const pin = $("pin").value;
  $("pin").value = "";
  const answer = await api(`sheets/${sheet.id}/confirm`, { pin, sha256: state.signed.sha256 }).catch(() => null);
  const told = await answer?.json();
  $("confirm-says").textContent = answer?.ok ? "Confirmed." : told?.error ?? "No network: confirm later.";
  if (answer?.ok) drawSigned();
}

async function sign(event) {
  event.preventDefault();
  if (mustPoints().length || naming().length || state.ended === null) return;
  const reason = $("reason").value.trim();
  const names = namedIn(reason, people);
  if (names.length) return $("sign-says").textContent = `The reason names ${names.join(", ")}. ${NAMES}`;
  $("do-sign").disabled = true;
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
  people = [...await all("kits"), { kit }].flatMap(one => [one.kit.candidate, one.kit.assessor])
    .filter((one, i, every) => every.findIndex(other => other.id === one.id) === i);
  rated = ratings(kit, () => state, add);
  fill($("rate-inside"), rated.node);
  $("undo").onclick = undo;
  $("copy").onclick = () => saveCopy(sheet);
  $("sign").onsubmit = sign;
  $("mend").onsubmit = mend;
  $("practical").oninput = () => $("practical").setCustomValidity("");
  $("write").onsubmit = write;
  $("confirm").onsubmit = confirmed;
  $("reopen").onclick = async () => {
    await add({ kind: "reopened" });
    $("mending").querySelector("details").open = true;
    $("mending").scrollIntoView();
  };
  addEventListener("outbox", () => state.signed && drawSigned());
  draw();
  begun();
}

start();
