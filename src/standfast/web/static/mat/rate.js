// Ratings by their observable words, for a pause and for the review.

import { el } from "./ui.js";

export function ratings(kit, stateNow, add) {
  const parts = kit.ratings.map(one => part(one, stateNow, add));
  const update = () => parts.forEach(p => p.update());
  update();
  return { node: el("div", { className: "ratings" }, ...parts.map(p => p.node)), update };
}

function part(one, stateNow, add) {
  const given = () => stateNow().ratings[one.id];
  const rate = level => add({ kind: "rating", criterion: one.id, level, note: note.value.trim() || null });
  const says = el("span", { className: "soft" });
  const note = el("textarea", { rows: 2, maxLength: 2000, onchange: () => given() && rate(given().level) });
  const levels = [
    ...one.levels.map(l => [l.level, el("strong", {}, l.title), el("span", {}, l.words)]),
    [null, el("strong", {}, "Not seen")],
  ].map(([level, ...words]) => [level, el("button", { type: "button", className: "level", onclick: () => rate(level) }, ...words)]);
  const update = () => {
    const now = given();
    says.textContent = now ? one.levels.find(l => l.level === now.level)?.title ?? "not seen" : "open";
    for (const [level, made] of levels) made.ariaPressed = now?.level === level;
    if (document.activeElement !== note) note.value = now?.note ?? "";
  };
  const node = el("details", {}, el("summary", {}, el("span", {}, one.title), " ", says),
    ...levels.map(([, made]) => made), el("label", {}, "Note; students by code only", note));
  return { node, update };
}
