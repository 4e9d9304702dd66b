// What may stand in a file: the closed shapes of seal/shapes.py, and what no shape can see.

import { SHAPES } from "./made.js";

const INSTANT = /^(\d{4})-(\d\d)-(\d\d)T(\d\d):(\d\d):(\d\d)(?:Z|([+-])(\d\d):(\d\d))$/;
const HASHED = /^sha256\$[0-9a-f]{64}$/;
const PATTERNS = new Map();

/** Milliseconds since 1970 of a time with its zone; null for a day that is in no calendar. */
export function instant(text) {
  const found = INSTANT.exec(text);
  if (!found) return null;
  const [year, month, day, hour, minute, second] = found.slice(1, 7).map(Number);
  const [offsetHours, offsetMinutes] = [Number(found[8] ?? 0), Number(found[9] ?? 0)];
  if (year < 1 || hour > 23 || minute > 59 || second > 59) return null;
  if (offsetHours > 23 || offsetMinutes > 59) return null;
  const at = new Date(0);
  at.setUTCFullYear(year, month - 1, day);
  if (at.getUTCFullYear() !== year || at.getUTCMonth() !== month - 1 || at.getUTCDate() !== day) {
    return null;
  }
  at.setUTCHours(hour, minute, second);
  const offset = (offsetHours * 60 + offsetMinutes) * 60_000;
  return at.getTime() - (found[7] === "-" ? -offset : offset);
}

/** Why the value has not that shape; empty when it has. */
export function misfits(value, shape, place = "") {
  if (typeof shape === "string") {
    if (shape[0] !== "?") return misfits(value, SHAPES[shape], place);
    return value === null ? [] : misfits(value, shape.slice(1), place);
  }
  if (shape.maybe) return value === null ? [] : misfits(value, shape.maybe, place);
  if (shape.any) {
    const found = shape.any.map((one) => misfits(value, one, place));
    return found.some((faults) => faults.length === 0) ? [] : found[0];
  }
  const say = (what) => [`${place || "the file"}: ${what}`];
  if (shape.is) return shape.is.includes(value) ? [] : say(`must be ${shape.is.join(" or ")}`);
  if (shape.yesno) return typeof value === "boolean" ? [] : say("must be true or false");
  if ("whole" in shape) {
    return Number.isSafeInteger(value) && value >= shape.whole ? [] : say("must be a number");
  }
  if (shape.text) return say("is not what should stand here").slice(0, fitsText(value, shape) ? 0 : 1);
  if (shape.has) return misfitsInObject(value, shape, place, say);
  return misfitsInList(value, shape, place, say);
}

function fitsText(value, shape) {
  if (typeof value !== "string") return false;
  const [least, most, pattern] = shape.text;
  const length = [...value].length;
  if (length < least || (most !== null && length > most)) return false;
  if (pattern && !PATTERNS.has(pattern)) PATTERNS.set(pattern, new RegExp(pattern, "u"));
  if (pattern && !PATTERNS.get(pattern).test(value)) return false;
  return !shape.instant || instant(value) !== null;
}

function misfitsInObject(value, shape, place, say) {
  if (value === null || typeof value !== "object" || Array.isArray(value)) return say("no object");
  const at = (name) => (place ? `${place}.${name}` : name);
  const missing = Object.keys(shape.has)
    .filter((name) => !name.endsWith("?") && !(name in value))
    .map((name) => `${at(name)}: is missing`);
  const found = Object.keys(value).flatMap((name) => {
    const as = [name, `${name}?`].find((one) => Object.hasOwn(shape.has, one));
    return as === undefined || name.endsWith("?") ? [`${at(name)}: must not stand here`] : misfits(value[name], shape.has[as], at(name));
  });
  return [...missing, ...found];
}

function misfitsInList(value, shape, place, say) {
  if (!Array.isArray(value)) return say("no list");
  const [least, most] = shape.row ? [shape.row.length, shape.row.length] : shape.count;
  if (value.length < least || (most !== null && value.length > most)) return say("too few or too many");
  return value.flatMap((part, at) => misfits(part, shape.row ? shape.row[at] : shape.each, `${place}.${at}`));
}

/** Why the document is no credential of that kind; empty when it is one. */
export function faults(document, kind = "BadgeCredential") {
  if (document === null || typeof document !== "object" || Array.isArray(document)) return ["no object"];
  const found = [...nulls(document, ""), ...misfits(document, kind)];
  if (found.length) return found;
  const contexts = SHAPES.contexts[kind];
  if (document["@context"].join("\n") !== contexts.join("\n")) {
    found.push(`@context: must be ${contexts.join(", ")}, in this order`);
  }
  if (twice((document.proof ?? []).flatMap((one) => one.id ?? []))) found.push("proof: two of one name");
  if (document.validUntil && instant(document.validUntil) < instant(document.validFrom)) {
    found.push("validUntil: lies before validFrom");
  }
  return kind === "BadgeCredential" ? [...found, ...ofBadge(document)] : found;
}

const twice = (names) => new Set(names).size < names.length;

function nulls(value, place) {
  if (value === null) return [`${place}: null says nothing`];
  if (typeof value !== "object") return [];
  return Object.keys(value).flatMap((name) => nulls(value[name], place ? `${place}.${name}` : name));
}

function ofBadge(document) {
  const { credentialSubject: subject, credentialStatus: status } = document;
  const found = [];
  if (!subject.id && !subject.identifier) found.push("credentialSubject: neither id nor identifier: nobody's");
  if ((subject.identifier ?? []).some((one) => HASHED.test(one.identityHash) !== one.hashed)) {
    found.push("credentialSubject.identifier: hashed says otherwise than identityHash");
  }
  const { criteria } = subject.achievement;
  if (!criteria.id && !criteria.narrative) found.push("credentialSubject.achievement.criteria: says nothing");
  found.push(...ofResults(subject));
  if (status && status.id !== `${status.statusListCredential}#${status.statusListIndex}`) {
    found.push("credentialStatus.id: is not the list with # and the index");
  }
  return found;
}

function ofResults(subject) {
  const told = subject.achievement.resultDescription ?? [];
  const described = new Map(told.map((one) => [one.id, one]));
  const levels = (one) => (one.rubricCriterionLevel ?? []).map((level) => level.id);
  const found = [...described.values()]
    .filter((one) => one.requiredLevel && !levels(one).includes(one.requiredLevel))
    .map((one) => `${one.id}: requiredLevel is none of its levels`);
  if (described.size < told.length) found.push("resultDescription: two with one id");
  for (const result of subject.result ?? []) {
    const meant = described.get(result.resultDescription);
    if (!meant) {
      found.push(`result: ${result.resultDescription} is not described in this achievement`);
      continue;
    }
    if (result.achievedLevel && !levels(meant).includes(result.achievedLevel)) {
      found.push(`${meant.id}: achievedLevel is none of its levels`);
    }
    if (["achievedLevel", "value", "status"].filter((name) => name in result).length !== 1) {
      found.push(`${meant.id}: a result says one thing: a level, a value or a status`);
    }
  }
  return found;
}
