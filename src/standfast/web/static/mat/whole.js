// The sheet as a whole: its hash, which is what is signed, and a file of it.

import { hex, instant, plain } from "./store.js";
import { el } from "./ui.js";

// RFC 8785 for what records hold: whole numbers, strings, lists, objects.
function canonical(value) {
  if (Array.isArray(value)) return `[${value.map(canonical)}]`;
  if (!value || typeof value !== "object") return JSON.stringify(value);
  return `{${Object.keys(value).sort().map(key => `${JSON.stringify(key)}:${canonical(value[key])}`)}}`;
}

export async function sha256(records) {
  const text = records.map(r => `${canonical(plain(r))}\n`).join("");
  return hex(new Uint8Array(await crypto.subtle.digest("SHA-256", new TextEncoder().encode(text))));
}

// For whoever's network or device gives up.
export function saveCopy({ id, info, records }) {
  const text = JSON.stringify({ sheet: id, records: records.map(plain) }, null, 1);
  const href = URL.createObjectURL(new Blob([text], { type: "application/json" }));
  el("a", { href, download: `sheet-${info.practical}-${id.slice(-6)}.json` }).click();
  setTimeout(() => URL.revokeObjectURL(href), 60000);
}

// An instant as a field for day and time takes it.
export const local = ms => instant(ms).slice(0, 16);
