// What the pages beside the mat share: elements, holding, the worker, what is not sent.

import { keepSending } from "./store.js";

export const $ = id => document.getElementById(id);

// What is null, undefined or false is not drawn; 0 is.
const there = one => one != null && one !== false;

export function el(tag, props = {}, ...inside) {
  const made = document.createElement(tag);
  for (const [key, value] of Object.entries(props)) {
    if (key in made) made[key] = value;
    else if (value !== null && value !== false) made.setAttribute(key, value === true ? "" : value);
  }
  made.append(...inside.filter(there));
  return made;
}

export const button = (words, click, props = {}) =>
  el("button", { type: "button", onclick: click, ...props }, words);

export function fill(place, ...inside) {
  place.replaceChildren(...inside.filter(there));
}

export const clock = t => {
  const s = String(t % 60).padStart(2, "0");
  const m = Math.floor(t / 60);
  return m < 60 ? `${m}:${s}` : `${Math.floor(m / 60)}:${String(m % 60).padStart(2, "0")}:${s}`;
};

export const buzz = pattern => navigator.vibrate?.(pattern);

const HOLD = 700;

// Held for 0.7 s by finger or key.  A short press does nothing, and what follows a hold, the click
// or the repeats of the key, reaches nothing that lies under it.
export function hold(target, done) {
  let timer;
  let over = true;
  const swallow = event => { event.preventDefault(); event.stopImmediatePropagation(); };
  const begin = () => {
    over = false;
    target.classList.add("holding");
    clearTimeout(timer);
    timer = setTimeout(() => {
      end();
      for (const kind of ["click", "keydown", "keypress"]) addEventListener(kind, swallow, true);
      const free = () => setTimeout(() => {
        for (const kind of ["click", "keydown", "keypress"]) removeEventListener(kind, swallow, true);
        for (const kind of RELEASES) removeEventListener(kind, free, true);
      }, 50);
      for (const kind of RELEASES) addEventListener(kind, free, true);
      done();
    }, HOLD);
  };
  const end = () => { over = true; clearTimeout(timer); target.classList.remove("holding"); };
  target.addEventListener("pointerdown", begin);
  for (const kind of ["pointerup", "pointerleave", "pointercancel", "blur"]) target.addEventListener(kind, end);
  target.addEventListener("contextmenu", event => event.preventDefault());
  target.addEventListener("click", event => event.preventDefault());
  target.addEventListener("keydown", event => {
    if (event.key !== "Enter" && event.key !== " ") return;
    event.preventDefault();
    if (over && !event.repeat) begin();
  });
  target.addEventListener("keyup", event => { event.preventDefault(); end(); });
}

const RELEASES = ["pointerup", "pointercancel", "keyup"];

export function setLook(key, value) {
  document.documentElement.dataset[key] = value;
  localStorage.setItem(`mat-${key}`, value);
}

const OTHER = { day: "dark", dark: "day", right: "left", left: "right" };
const SAYS = { day: "Day colours", dark: "Dark colours", right: "Right hand", left: "Left hand" };

export function lookButtons() {
  return ["theme", "hand"].map(key => {
    const now = () => document.documentElement.dataset[key];
    const made = button(SAYS[OTHER[now()]], () => {
      setLook(key, OTHER[now()]);
      made.textContent = SAYS[OTHER[now()]];
    });
    return made;
  });
}

export const names = value => (value && typeof value === "object" ? value.name ?? value.id : value);

const DAY = 24 * 3600 * 1000;

// Keeps the line "not sent" true, with the way to sign in when that is what is missing.
export function showUnsent(place) {
  keepSending(({ state, unsent, oldest }) => {
    place.classList.toggle("late", unsent > 0 && Date.now() - oldest > DAY);
    if (!unsent) return fill(place, "all sent");
    if (state === "signed-out") {
      const back = encodeURIComponent(location.pathname);
      return fill(place, el("a", { href: `/sign-in?next=${back}`, rel: "opener" }, `Sign in to send ${unsent}`));
    }
    fill(place, `${unsent} not sent${place.classList.contains("late") ? " for a day" : ""}`);
  });
}

// Whether this device keeps the pages without network; null when it does, else why not.
export async function worker() {
  const refused = "This device cannot keep the sheet without network. Use paper, or HTTPS.";
  if (!navigator.serviceWorker || !navigator.locks) return refused;
  try {
    const policy = globalThis.trustedTypes?.createPolicy("sw", { createScriptURL: () => "/sw.js" });
    const address = policy ? policy.createScriptURL("") : "/sw.js";
    await navigator.serviceWorker.register(address, { scope: "/mat", updateViaCache: "none" });
    const soon = new Promise((_, fail) => setTimeout(fail, 8000));
    await Promise.race([navigator.serviceWorker.ready, soon]);
    if (!navigator.serviceWorker.controller) {
      await Promise.race([new Promise(done => { navigator.serviceWorker.oncontrollerchange = done; }), soon]);
    }
    return null;
  } catch {
    return navigator.serviceWorker.controller ? null : refused;
  }
}

// Why not to begin or sign here: the sheet is open in another tab, or is not on this device.
export function refuse(words, more = "") {
  fill(document.querySelector("main"), el("h1", {}, words), el("p", {}, more),
    el("p", {}, el("a", { className: "button", href: "/mat" }, "To my sheets")));
  document.body.className = "page";
}

addEventListener("unhandledrejection", event => {
  const words = event.reason?.message ?? String(event.reason);
  document.body.prepend(el("p", { className: "alarm", role: "alert" }, `NOT WORKING: ${words}. Use paper.`));
});
