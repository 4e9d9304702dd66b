// Findings and certificates as parts of the page. Whatever comes out of a file is set as text.

/** An element with these properties and children; text is text and never markup. */
export function part(tag, properties = {}, ...children) {
  const found = document.createElement(tag);
  for (const [name, value] of Object.entries(properties)) found[name] = value;
  found.append(...children.filter((one) => one !== null && one !== undefined));
  return found;
}

/** A sentence with its days each in one piece. */
export const words = (text) =>
  text.split(/(\d{4}-\d\d-\d\d)/).map((one, at) => (at % 2 ? part("span", { className: "day" }, one) : one));

const ASKED = {
  shape: "Is it a certificate, and nothing beside it?",
  signature: "Is it unchanged since it was signed?",
  key: "Did a key sign it that is the school's?",
  dates: "Is today within its dates?",
  revocation: "Was it left in force, and not withdrawn?",
  suspension: "Is it free of any suspension?",
  holder: "Is it hers whose name you typed?",
  book: "Does it stand in the school's record book?",
  paper: "Does the paper go with the file?",
};
const SIGNS = { yes: "+", no: "×", "not known": "?" };

/** One row for each finding: the question, the answer in a word, and what can be said. */
export function findings(found, helps = {}) {
  const rows = found.map((one) =>
    part(
      "tr",
      { className: one.answer.replace(" ", "-") },
      part("th", { scope: "row" }, ASKED[one.question]),
      part("td", { className: "answer" }, part("span", { ariaHidden: "true" }, SIGNS[one.answer]), ` ${one.answer}`),
      part("td", {}, ...words(one.says), help(one, helps)),
    ),
  );
  const head = part("tr", {}, ...["Question", "Answer", "What can be said"].map((text) => part("th", { scope: "col" }, text)));
  return part("table", { className: "findings" }, part("thead", {}, head), part("tbody", {}, ...rows));
}

function help(one, helps) {
  const text = one.answer === "not known" && helps[one.question];
  return text ? part("span", { className: "help" }, text) : null;
}

/** How many questions have which answer, in a sentence; what speaks against it comes first. */
export function counted(found) {
  const told = ["no", "not known", "yes"]
    .map((answer) => [answer, found.filter((one) => one.answer === answer).length])
    .filter(([, count]) => count)
    .map(([answer, count]) => `${count} ${answer}`);
  return `Of ${found.length} ${found.length === 1 ? "question" : "questions"}: ${told.join(", ")}.`;
}

/** Names and what stands for them; those without a value are left out. */
export function listed(pairs) {
  return part(
    "dl",
    {},
    ...pairs.filter(([, value]) => value).flatMap(([name, value]) => [part("dt", {}, name), part("dd", {}, value)]),
  );
}

/** What a certificate says of itself. */
export function certificate(told) {
  const { credentialSubject: subject, issuer } = told;
  const names = (subject.identifier ?? []).filter((one) => one.identityType === "name");
  const holder = names.map((one) => (one.hashed ? "kept as a hash; type the name to compare" : one.identityHash));
  return part(
    "div",
    {},
    listed([
      ["Certificate", subject.licenseNumber],
      ["For", subject.achievement.name],
      ["Rubric", [subject.achievement.humanCode, subject.achievement.version].filter(Boolean).join(", version ")],
      ["Holder", holder.join("; ")],
      ["School", issuer.name ? `${issuer.name}, ${issuer.id}` : (issuer.id ?? issuer)],
      ["First day", told.validFrom.slice(0, 10)],
      ["Last day", told.validUntil ? `${told.validUntil.slice(0, 10)}, included` : "none"],
      ["In its words", told.description],
    ]),
    results(subject),
  );
}

function results(subject) {
  if (!subject.result) return null;
  const described = new Map((subject.achievement.resultDescription ?? []).map((one) => [one.id, one]));
  const rows = subject.result.map((one) => {
    const meant = described.get(one.resultDescription);
    const level = (meant.rubricCriterionLevel ?? []).find((other) => other.id === one.achievedLevel);
    const percent = meant.resultType === "Percent" ? " %" : "";
    return [meant.name, level ? level.name : one.status ? one.status : `${one.value}${percent}`];
  });
  return part("details", {}, part("summary", {}, "What was found against the rubric"), listed(rows));
}

/** What a code from paper says. */
export function code(claims) {
  return listed([
    ["Certificate", claims.num],
    ["Holder", claims.nam],
    ["Rubric", `${claims.ach}, version ${claims.ver}`],
    ["Last day", `${claims.end}, included`],
  ]);
}

/** 43 letters in groups that can be compared; copied, they are one word. */
export function fingerprint(text) {
  const groups = text.match(/.{1,6}/g).map((group) => part("span", {}, group));
  return part("code", { className: "fingerprint" }, ...groups);
}

/** A moment as a person reads it, with its zone. */
export function moment(now) {
  const at = new Date(now);
  const two = (number) => String(Math.floor(Math.abs(number))).padStart(2, "0");
  const ahead = -at.getTimezoneOffset();
  const day = `${at.getFullYear()}-${two(at.getMonth() + 1)}-${two(at.getDate())}`;
  const zone = `UTC${ahead < 0 ? "−" : "+"}${two(ahead / 60)}:${two(ahead % 60)}`;
  return { day, text: `${day} ${two(at.getHours())}:${two(at.getMinutes())} (${zone})` };
}
