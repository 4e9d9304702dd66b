// A paper as a file, known by every byte but those of the receipt inside of it. See seal/papers.py.

import { hex, letters, sha256 } from "./bytes.js";
import { checkReceipt } from "./receipt.js";
import { finding } from "./verify.js";

const BLANK = 0x20;
const NOT_BELIEVED = "the key that signed its receipt is not believed, so that it is ";
const NOT_SHOWN =
  "not shown to be, byte by byte, the page that the school made: other words may have been painted over its own or added since; compare all that you see with what it says below, and type the printed name above";

/** Whether a PDF is the one that the school made for this certificate, by a receipt attached to it. */
export async function checkPaper(pdf, attached, document, trusted) {
  const books = await Promise.all(attached.map((one) => checkReceipt(one, document, trusted)));
  for (const [at, { answer, paper }] of books.entries()) {
    if (answer === "yes" && paper && paper === (await hashOf(pdf, attached[at]))) {
      return finding("paper", "yes", "byte by byte the page that the school made for it");
    }
  }
  const doubted = books.some((one) => one.answer === "not known");
  return finding("paper", "not known", `${doubted ? NOT_BELIEVED : ""}${NOT_SHOWN}`);
}

/** SHA-256 of the paper with spaces for that receipt; null when it is not in it once. */
async function hashOf(pdf, receipt) {
  const [before, ...after] = letters(pdf).split(letters(receipt));
  if (after.length !== 1) return null;
  const at = before.length;
  return hex(await sha256(pdf.slice().fill(BLANK, at, at + receipt.length)));
}
