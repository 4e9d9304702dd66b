// Before the lesson: my sheets on this device, what is needed to score without network, who is
// there, who may stop.

import { Sheet, all, api, instant, newId, open, put, recordsOf, shared } from "./store.js";
import { replay } from "./replay.js";
import { titled } from "./words.js";
import { local, saveCopy } from "./whole.js";
import { worker } from "./worker.js";
import { $, begun, button, el, fill, fillList, lookButtons } from "./ui.js";

let kit;

const asked = async path => {
  const answer = await api(path);
  if (!answer.ok) throw new Error(answer.status === 401 ? "sign in first" : `the server says ${answer.status}`);
  return answer.json();
};

const key = found => [found.assessor, found.candidate].map(one => one.id).concat(found.rubric).join(" ");

// My sheets

async function mySheets() {
  const infos = (await all("sheets")).sort((a, b) => b.began - a.began);
  const made = await Promise.all(infos.map(async info => card(info, await recordsOf(info.sheet))));
  fill($("sheets"), ...made);
  $("no-sheets").hidden = made.length > 0;
}

function card(info, records) {
  const state = replay(records);
  const unsent = records.filter(r => r.unsent).length;
  const held = records.filter(r => r.held).length;
  const how = state.signed ? "signed" : state.ended !== null ? "to be signed" : "open";
  const where = state.signed || state.ended !== null ? "review" : info.paper ? "quick" : "lesson";
  const words = { review: state.signed ? "Look at it" : "Review and sign", quick: "Go on typing", lesson: "Go on" };
  return el("li", { className: "card" },
    el("strong", {}, state.head?.practical ?? info.practical), `, ${info.kit.candidate.name}, ${info.kit.title}`,
    el("p", {}, `${new Date(info.began).toLocaleString()}, ${how}, ${records.length} records`,
      unsent > 0 && `, ${unsent} not sent`, held > 0 && `, ${held} held for the office`),
    el("div", { className: "row" },
      el("a", { className: state.signed ? "button" : "button main", href: `/mat/${where}#${info.sheet}` }, words[where]),
      button("Save a copy", () => saveCopy(new Sheet(info, records)))));
}

// Kits: what a lesson needs, fetched while there is network

async function offers() {
  const kept = await all("kits");
  const says = $("kits-say");
  try {
    const { rubrics, candidates } = await asked("kits");
    offer($("rubric"), rubrics.map(r => [r.id, r.title]));
    offer($("candidate"), candidates.map(c => [c.id, c.name, c.trained ? "In training" : "No trainer on record"]));
    $("fetch").hidden = !rubrics.length || !candidates.length;
    says.textContent = $("fetch").hidden ? "Today there is no rubric or no candidate that you may score." : "";
  } catch (error) {
    $("fetch").hidden = true;
    const door = error.message === "sign in first" && el("a", { href: "/sign-in?next=/mat" }, "Sign in");
    fill(says, door || `No new ones now (${error.message}). `, kept.length > 0 && " What was fetched before can be used.");
  }
  fill($("kits"), ...kept.map(k => el("li", {}, button(`${k.kit.candidate.name}: ${k.kit.title}${shared() ? `, scored by ${k.kit.assessor.name}` : ""}`, () => use(k.kit)))));
}

// What was chosen stays chosen while it is offered.
function offer(list, found) {
  const chosen = list.value;
  const groups = [...new Set(found.map(([,, group]) => group))].map(group => [group,
    found.filter(one => one[2] === group).map(([value, words]) => el("option", { value, selected: value === chosen }, words))]);
  fill(list, ...groups.flatMap(([label, options]) => label ? el("optgroup", { label }, ...options) : options));
}

async function fetchKit(event) {
  event.preventDefault();
  const [rubric, candidate] = [$("rubric").value, $("candidate").value];
  try {
    const found = await asked(`lesson-kit?${new URLSearchParams({ rubric, candidate })}`);
    await put("kits", { key: key(found), kit: found });
    await offers();
    use(found);
  } catch (error) {
    $("kits-say").textContent = `Not fetched: ${error.message}.`;
  }
}

// The lesson to come

function use(found) {
  kit = found;
  $("begin").hidden = false;
  $("begin-title").textContent = `${kit.candidate.name}: ${kit.title}`;
  $("assessor").textContent = `Scored by ${kit.assessor.name}`;
  $("may-stop").textContent = kit.who_may_stop;
  fillList($("held"), kit.held_back.length ? kit.held_back : ["Nothing in the record holds the candidate back."]);
  fill($("taught"), ...kit.skills.map(s => el("label", { className: "check" },
    el("input", { type: "checkbox", value: s.id, onchange: logs }), s.title)));
  logs();
  $("began").max = local(Date.now());
  $("begin-title").focus();
}

const taught = () => [...$("taught").querySelectorAll(":checked")].map(one => one.value);
const codes = () => Array.from({ length: count() }, (_, i) => `S${i + 1}`);
const count = () => Math.min(14, Math.max(1, Number($("students").value) || 1));

// One field for each student and each skill that must come before what is taught.
function logs() {
  const kept = given();
  const wanted = taught();
  $("taught").querySelector("input")?.setCustomValidity(wanted.length ? "" : "Tick what is taught: whom the record lets go on depends on it.");
  const needed = new Set(kit.skills.filter(s => wanted.includes(s.id)).flatMap(s => s.prerequisites.map(p => p.skill)));
  const before = kit.skills.filter(s => needed.has(s.id));
  const parts = (kit.clearances && before.length ? codes() : []).map(code => {
    const fields = before.map(s => el("label", {}, s.title, el("input", {
      type: "number", min: 0, max: 999, inputMode: "numeric", value: kept[code]?.[s.id] ?? "", oninput: judge,
      "data-student": code, "data-skill": s.id })));
    return el("details", { className: "card", open: count() < 3 || Boolean(kept[code]) }, el("summary", {}, code, " ", el("span", { className: "soft", id: `log-${code}` })),
      el("div", { className: "logs" }, ...fields));
  });
  fill($("logs"), ...parts);
  judge();
}

function given() {
  const found = {};
  for (const { value, dataset: { student, skill } } of $("logs").querySelectorAll("input")) {
    if (value !== "") (found[student] ??= {})[skill] = Number(value);
  }
  return found;
}

const students = () => {
  const known = given();
  return codes().map(student => ({ student, log: known[student] ?? {} }));
};

// What that log lacks for a skill, in words; empty when nothing.
function lacking(skill, log) {
  const title = id => titled(kit.skills, id);
  const few = kit.skills.find(s => s.id === skill).prerequisites
    .filter(p => (log[p.skill] ?? 0) < p.times)
    .map(p => `${title(p.skill)} ${log[p.skill] ?? 0} of ${p.times}`);
  return few.length ? `not yet ${title(skill)} (${few.join(", ")})` : "";
}

// Whom the record holds back from what is taught, and why.
function judge() {
  let empty = 0;
  for (const { student, log } of students()) {
    const place = $(`log-${student}`);
    if (!place) continue;
    const open = $("logs").querySelectorAll(`[data-student="${student}"]`).length - Object.keys(log).length;
    const not = taught().map(skill => lacking(skill, log)).filter(Boolean).join("; ");
    place.textContent = open ? `${open} counts missing` : not || "may do all that is taught";
    empty += open;
  }
  $("zeros").hidden = !empty;
  $("zero").required = empty > 0;
  $("zero-says").textContent = `${empty} counts are missing: each counts as never done`;
}

async function begin(event) {
  event.preventDefault();
  const practical = $("practical").value.trim();
  if (practical.includes(kit.candidate.id)) {
    $("practical").setCustomValidity("Name the lesson by place and day, not by the candidate.");
    return $("practical").reportValidity();
  }
  const paper = $("paper").checked;
  const began = paper ? new Date($("began").value).getTime() : Date.now();
  const info = {
    sheet: newId(), kit, practical, began, taught: taught(), students: count(), paper,
    minutes: paper ? Number($("minutes").value) : null, firstAid: $("first-aid").value, phone: $("phone").value,
  };
  const sheet = new Sheet(info, []);
  await put("sheets", info);
  const kept = await sheet.add({
    kind: "begin", practical, rubric: kit.rubric, rubric_version: kit.rubric_version,
    candidate: kit.candidate.id, assessor: kit.assessor.id, began: instant(began),
    students: students(), site: $("site").value.trim() || null, covers: kit.covers,
  });
  if (!kept) throw new Error("this device keeps nothing");
  location.assign(`/mat/${paper ? "quick" : "lesson"}#${info.sheet}`);
}

function device() {
  const token = $("token").value.trim();
  if (token) localStorage.setItem("mat-device", token);
  else localStorage.removeItem("mat-device");
  $("device-says").textContent = token ? "Kept. Whether this device may send is seen when it sends." : "Removed.";
}

async function start() {
  worker().then(why => {
    $("worker").textContent = why ?? "";
    $("worker").hidden = !why;
    document.documentElement.dataset.worker = why ? "refused" : "ready";
  });
  await open();
  navigator.storage?.persist?.();
  addEventListener("outbox", event => late(event.detail));
  fill($("looks"), ...lookButtons());
  $("choose").onsubmit = fetchKit;
  $("begin").onsubmit = begin;
  $("students").onchange = logs;
  $("practical").oninput = () => $("practical").setCustomValidity("");
  $("paper").onchange = () => {
    $("on-paper").hidden = !$("paper").checked;
    $("began").required = $("minutes").required = $("paper").checked;
    $("go").textContent = $("paper").checked ? "Type it in" : "Begin the lesson";
  };
  $("keep-token").onclick = device;
  await Promise.all([mySheets(), offers()]);
  begun();
}

function late({ unsent, hours, late: said }) {
  $("late").hidden = !said;
  $("late").textContent = `${unsent} records have not been sent for ${Math.floor(hours)} hours. Find network and sign in, or save a copy of the sheet as a file and bring it to the office.`;
}

start();
