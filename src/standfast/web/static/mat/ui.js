// What the pages beside the mat share: elements, holding, what is not sent.

import { keepSending, open, take } from "./store.js";

export const $ = id => document.getElementById(id);

// What is null, undefined or false is not drawn; 0 is.
const there = one => one != null && one !== false;

export function el(tag, props = {}, ...inside) {
  const made = document.createElement(tag);
  for (const [key, value] of Object.entries(props)) {
    if (key in made) made[key] = value;
    else made.setAttribute(key, value);
  }
  made.append(...inside.filter(there));
  return made;
}

export const button = (words, click, props = {}) =>
  el("button", { type: "button", onclick: click, ...props }, words);

export const fill = (place, ...inside) => place.replaceChildren(...inside.filter(there));

export const fillList = (place, lines) => fill(place, ...lines.filter(there).map(words => el("li", {}, words)));

export const clock = t => {
  const two = x => String(x).padStart(2, "0");
  const m = Math.floor(t / 60);
  return `${m < 60 ? m : `${Math.floor(m / 60)}:${two(m % 60)}`}:${two(t % 60)}`;
};

export const buzz = pattern => navigator.vibrate?.(pattern);

const HOLD = 700;
let deaf = false;

// What the press of a hold still brings after it, a click or the repeats of the key, reaches
// nothing that lies under it.
for (const kind of ["click", "keydown", "keypress"]) {
  addEventListener(kind, event => {
    if (deaf) event.preventDefault(), event.stopImmediatePropagation();
  }, true);
}
for (const kind of ["pointerup", "pointercancel", "keyup"]) {
  addEventListener(kind, () => setTimeout(() => { deaf = false; }, 50), true);
}

// Held for 0.7 s by finger or key; a short press does nothing.
export function hold(target, done) {
  let timer;
  const on = (kinds, action) => kinds.split(" ").forEach(kind => target.addEventListener(kind, action));
  const end = () => { clearTimeout(timer); target.classList.remove("holding"); };
  const begin = () => {
    end();
    target.classList.add("holding");
    timer = setTimeout(() => { end(); deaf = true; done(); }, HOLD);
  };
  on("pointerdown", begin);
  on("pointerup pointerleave pointercancel blur keyup", end);
  on("contextmenu", event => event.preventDefault());
  on("keydown", event => {
    if (event.key !== "Enter" && event.key !== " ") return;
    event.preventDefault();
    if (!event.repeat) begin();
  });
}

// For each thing that is chosen by hand: what is worn, and what the button to the other one says.
const LOOKS = {
  theme: { day: "Dark colours", dark: "Day colours" },
  hand: { right: "Left hand", left: "Right hand" },
};

export const lookButtons = () => Object.entries(LOOKS).map(([key, says]) => {
  const worn = document.documentElement.dataset;
  const made = button(says[worn[key]], () => {
    worn[key] = localStorage[`mat-${key}`] = Object.keys(says).find(one => one !== worn[key]);
    made.textContent = says[worn[key]];
  });
  return made;
});

// Keeps the line "not sent" true, with the way to sign in when that is what is missing.
function drawUnsent({ detail: { state, unsent, late } }) {
  const place = $("unsent");
  const back = encodeURIComponent(location.pathname);
  place.classList.toggle("late", late);
  fill(place, !unsent ? "all sent"
    : state !== "signed-out" ? `${unsent} not sent${late ? " for a day" : ""}`
    : el("a", { href: `/sign-in?next=${back}`, rel: "opener" }, `Sign in to send ${unsent}`));
}

// The page is drawn.
export function begun() {
  addEventListener("outbox", drawUnsent);
  keepSending();
  document.querySelector("main").hidden = false;
  document.documentElement.dataset.ready = "";
}

// The sheet that the address names, when this tab alone has it; else nothing, and the page says why.
export async function mine() {
  await open();
  const sheet = await take(location.hash.slice(1));
  if (sheet) return sheet;
  document.body.className = "page";
  fill(document.body, $(sheet === null ? "elsewhere" : "unknown").content);
}

addEventListener("unhandledrejection", event => {
  const words = event.reason?.message ?? event.reason;
  document.body.prepend(el("p", { className: "alarm", role: "alert" }, `NOT WORKING: ${words}. Use paper.`));
});
