// One record as a person would say it.

import { clock, el } from "./ui.js";

const ANSWERS = { yes: ["\u2713", "Yes"], no: ["\u2717", "No"], unseen: ["\u2013", "Not seen"] };

// Buttons for the answers to a question; what is chosen goes to `chosen`.
export const answers = chosen => Object.entries(ANSWERS).map(([answer, [sign, words]]) => el("button",
  { type: "button", className: answer, onclick: () => chosen(answer) }, el("span", { "aria-hidden": "true" }, sign), ` ${words}`));

export const titled = (list, id) => list.find(one => one.id === id)?.title ?? id;

const SAYS = {
  mark: (kit, b) => `${b.student} ${ANSWERS[b.answer][1].toLowerCase()}: ${titled(kit.questions, b.criterion)}, ${titled(kit.skills, b.skill)}`,
  failed: () => "this try failed",
  unassisted: (kit, b) => `${b.student} alone: ${titled(kit.skills, b.skill)}`,
  clearance: (kit, b) => `${b.student} ${b.choice === "let-go" ? "let go" : "held back"}: ${titled(kit.skills, b.skill)}`,
  look: (_, b) => `look ${b.look}: ${b.waiting === null ? "missed" : `${b.idle} idle of ${b.waiting} waiting`}`,
  rating: (kit, b) => {
    const one = kit.ratings.find(r => r.id === b.criterion);
    return `${one?.title ?? b.criterion}: ${one?.levels.find(l => l.level === b.level)?.title ?? "not seen"}`;
  },
  incident: (kit, b) => `incident at ${clock(b.t)}: ${titled(kit.incidents, b.criterion)}${b.student ? ` (${b.student})` : ""}`,
  note: (_, b) => `note: ${b.text}`,
  stop: (_, b) => `stopped at ${clock(b.t)}`,
  resume: (_, b) => `went on at ${clock(b.t)}`,
  end: (_, b) => `ended at ${clock(b.t)}`,
  reason: (_, b) => `left open because: ${b.text}`,
  mended: (_, b) => `lesson ${b.practical}`,
};

export const inWords = (kit, body) => SAYS[body.kind]?.(kit, body) ?? body.kind;

// What a tap did: what it gave, or what it took back.
export function told({ info: { kit }, records }, bodies) {
  const gone = bodies.map(b => records.find(r => r.id === b.of)?.body).filter(Boolean);
  return (gone.length ? "Undone: " : "") + (gone.length ? gone : bodies).map(b => inWords(kit, b)).join("; ");
}

const TAKEN_BACK = new Set(["mark", "failed", "unassisted", "clearance", "look", "rating", "incident", "note", "end", "reason", "mended"]);

export function standing(records) {
  const undone = new Set(records.filter(r => r.body.kind === "undo").map(r => r.body.of));
  return records.filter(r => TAKEN_BACK.has(r.body.kind) && !undone.has(r.id));
}

// What the last tap gave: records of one instant.  A missed look is no tap.
function lastTap(records) {
  const taps = standing(records).filter(r => r.body.waiting !== null);
  return taps.filter(r => r.at === taps.at(-1).at);
}

export const undoing = records => records.toReversed().map(r => ({ kind: "undo", of: r.id }));
export const undoingLast = sheet => undoing(lastTap(sheet.records));
