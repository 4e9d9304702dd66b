// The page itself: what was given, whose keys are believed, and what follows from both.

import { Believed } from "./believed.js";
import { Unreadable } from "./bytes.js";
import { readJson } from "./json.js";
import { canVerify } from "./keys.js";
import { checkPaper } from "./papers.js";
import { attached, isPdf } from "./pdf.js";
import { checkReceipt } from "./receipt.js";
import { faults } from "./shapes.js";
import { certificate, code, counted, findings, moment, part, words } from "./show.js";
import { listsOfSite, onSite, trustOfSite } from "./site.js";
import { claimsIn, codeIn, placesOf, verifyToken } from "./token.js";
import { finding, holder, issuerOf, told, verify, withSuspension } from "./verify.js";

const NO_ED25519 =
  "this browser does not check Ed25519 signatures here: open the page over https or from a disk, take a newer browser, or ask 'standfast verify'";
const NO_CERTIFICATE = "No certificate and no code was given yet; what came of each file is said above.";
const MOST_BYTES = 8_000_000;
const at = (id) => document.getElementById(id);

const given = { certificates: [], lists: [], receipts: [], notes: [] };
const believed = new Believed(() => {
  show();
  at("said").focus(); // the button that was pressed is gone
});
let round = 0;

// --- what is given ------------------------------------------------------------------------------

/** What a file is, by what stands in it, and where it goes. */
const KINDS = {
  "trust file": (bytes, name) => believed.offer(bytes, name),
  receipt: (bytes) => given.receipts.push(bytes),
  "list of what was taken back": (bytes) => given.lists.push(bytes),
  certificate: (bytes, name, paper) => given.certificates.push({ bytes, name, paper }),
};

const OF_THE_BOOK = new Map([
  ["standfast-head", "the signed head of a record book"],
  ["standfast-extension", "shows how a record book grew"],
]);
const UNKNOWN = "nothing that is known here";

function kindOf(bytes) {
  let value = null;
  try {
    value = readJson(bytes);
  } catch {
    // as a certificate it will be said why it is none
  }
  const ofBook = OF_THE_BOOK.get(value?.kind);
  if (ofBook) throw new Unreadable(`${ofBook}: ask 'standfast verify'`);
  if (value?.kind === "standfast-trust") return "trust file";
  if (value?.kind === "standfast-receipt") return "receipt";
  const types = [value?.type].flat();
  if (types.includes("BitstringStatusListCredential")) return "list of what was taken back";
  return types.includes("OpenBadgeCredential") ? "certificate" : UNKNOWN;
}

/** Takes a file by what stands in it, whatever its name, or notes why not. */
export async function take(file) {
  await noted(file.name, async () => {
    if (file.size > MOST_BYTES) throw new Unreadable(`more than ${MOST_BYTES} bytes: too large for a certificate`);
    const bytes = new Uint8Array(await file.arrayBuffer());
    if (isPdf(bytes)) await takePdf(bytes, file.name);
    else await takeJson(bytes, file.name);
  });
}

async function noted(name, taking) {
  try {
    await taking();
  } catch (error) {
    const whose = error instanceof Unreadable ? "" : "this page cannot read it: ";
    given.notes.push(`${name}: ${whose}${error.message}`);
  }
}

async function takePdf(bytes, name) {
  const files = attached(bytes);
  if (!files.length) throw new Unreadable("a PDF with no file attached inside: ask for the certificate's .json");
  const [inside, named] = [[], `${name}, inside`];
  for (const content of files) await noted(named, async () => inside.push(await content()));
  for (const one of inside) await noted(named, () => takeJson(one, named, { bytes, inside }));
}

async function takeJson(bytes, name, paper = null) {
  const kind = kindOf(bytes);
  await (KINDS[kind] ?? KINDS.certificate)(bytes, name, paper);
  given.notes.push(`${name}: ${kind}`);
}

// --- what follows -------------------------------------------------------------------------------

/** What can be said of everything that was given. */
async function answers(now) {
  const text = codeIn(at("code").value);
  const whole = given.certificates.map((one) => ({ ...one, document: documentIn(one.bytes) }));
  const documents = whole.flatMap((one) => one.document ?? []);
  const places = text ? await placesOf(text, believed.trusted) : [];
  const entries = [...documents.flatMap((one) => one.credentialStatus ?? []), ...places];
  const addresses = entries.flatMap(withSuspension).map((one) => one.statusListCredential);
  const lists = [...(await listsOfSite(addresses)), ...given.lists];
  const found = [];
  for (const one of whole) found.push(await ofCertificate(one, lists, now));
  if (text) {
    const said = await safely(() => verifyToken(text, believed.trusted, lists, now, documents));
    const claims = claimsIn(text);
    found.push({ title: "The code on the paper", said, tells: claims && code(claims), places });
  }
  return found;
}

async function ofCertificate({ bytes, name, paper, document }, lists, now) {
  const said = await safely(() => verify(bytes, believed.trusted, lists, now));
  if (!document || said.length < 3) return { title: name, said, tells: document && certificate(document) };
  const whose = at("name").value.trim();
  if (whose) said.push(await holder(document, whose));
  if (paper) said.push(await checkPaper(paper.bytes, paper.inside, document, believed.trusted));
  if (given.receipts.length) said.push(await inTheBook(document));
  const places = document.credentialStatus ? [document.credentialStatus] : [];
  return { title: name, said, tells: certificate(document), issuer: issuerOf(document), places };
}

/** By the receipt that is of this certificate, if there is one. */
async function inTheBook(document) {
  const asked = given.receipts.map((one) => safely(() => checkReceipt(one, document, believed.trusted)));
  const found = (await Promise.all(asked)).flat();
  return found.find((one) => one.answer === "yes") ?? found[0];
}

/** The certificate, when it has the shape of one. */
function documentIn(bytes) {
  try {
    const found = readJson(bytes);
    return !faults(found).length && found.proof ? found : null;
  } catch {
    return null;
  }
}

/** Findings; a fault of the page is never taken for an answer. */
async function safely(asked) {
  if (!(await canVerify())) return [finding("signature", "not known", NO_ED25519)];
  try {
    return await asked();
  } catch (error) {
    return [finding("signature", "not known", `the page could not finish: ${error.message}; ask 'standfast verify'`)];
  }
}

/** What to do about what is not known. */
function helpsFor({ issuer, places = [] }) {
  const base = issuer?.startsWith("https://") ? issuer.slice(0, issuer.lastIndexOf("/")) : "";
  const where = base && `; it lies at ${base}/trust.json`;
  const key = `Add the school's trust.json above${where}.`;
  const lists = places.flatMap(withSuspension).map((one) => [
    one.statusPurpose,
    `Add the school's newest list above; it is that of ${one.statusListCredential}.`,
  ]);
  return { key, ...(issuer ? {} : { signature: key }), ...Object.fromEntries(lists) };
}

/** Shows everything anew; an answer that was overtaken is dropped. */
export async function show() {
  const mine = ++round;
  const now = Date.now();
  at("schools").replaceChildren(...believed.shown());
  at("given").replaceChildren(...given.notes.map((text) => part("li", {}, text)));
  const found = await answers(now);
  if (mine !== round) return;
  const told = found.map((one) =>
    part(
      "article",
      {},
      part("h3", {}, one.title),
      part("p", { className: "counted" }, ...words(`${counted(one.said)} Judged on ${moment(now).text}.`)),
      findings(one.said, helpsFor(one)),
      one.tells ? part("h4", {}, vouched(one.said) ? "What it says" : "What it says, and nobody vouches for it") : null,
      one.tells,
    ),
  );
  at("status").textContent = found.map((one) => `${one.title}: ${counted(one.said)}`).join("\n");
  const nothing = part("p", {}, given.notes.length ? NO_CERTIFICATE : "Nothing was given yet.");
  at("found").replaceChildren(...(told.length ? told : [nothing]));
}

const vouched = (said) =>
  ["signature", "key"].every((asked) => said.some((one) => one.question === asked && one.answer === "yes"));

// --- beginning ----------------------------------------------------------------------------------

async function takeFiles(files) {
  for (const file of files) await take(file);
  await show();
}

async function begin() {
  at("cannot").hidden = await canVerify();
  at("cannot").textContent = `Nothing can be checked here: ${NO_ED25519}.`;
  at("room").hidden = false;
  at("files").addEventListener("change", (event) => {
    takeFiles([...event.target.files]);
    event.target.value = "";
  });
  addEventListener("dragover", (event) => event.preventDefault());
  addEventListener("drop", (event) => {
    event.preventDefault();
    takeFiles([...event.dataTransfer.files]);
  });
  for (const id of ["code", "name"]) at(id).addEventListener("input", show);
  at("clear").addEventListener("click", () => {
    for (const part of Object.values(given)) part.length = 0;
    believed.offered = [];
    at("code").value = at("name").value = "";
    show();
  });
  addEventListener("hashchange", fromAddress);
  await believed.remembered();
  if (onSite) {
    try {
      believed.bySite(await trustOfSite());
    } catch (error) {
      given.notes.push(told(error));
    }
  }
  await fromAddress();
}

/** The code that a phone read from paper stands after # in the address. */
async function fromAddress() {
  if (location.hash.length > 1) at("code").value = codeIn(location.hash);
  await show();
  if (location.hash.length > 1) at("said").scrollIntoView();
}

export const begun = begin();
