// A second copy of every sheet, in a file beside the database: Chromium deletes a database that it
// finds broken, and what was not sent would be gone with it.

const folder = async () => (await navigator.storage.getDirectory())
  .getDirectoryHandle("sheets", { create: true });

const PATIENCE = { thumb: 500, outbox: 10000 };

let waiting = {};

// Adds a line for each; anew with what is known of the lesson first.  What a page that was left did
// not finish, the next page does by beginning anew.  A device that is slow or keeps no such files has
// the database alone: this never fails, and lets nobody wait for long.
export function copy(id, lines, anew = false) {
  waiting[id] ??= { anew, data: "" };
  waiting[id].data += lines.map(one => `${JSON.stringify(one)}\n`).join("");
  inTurn(write).catch(() => {});
  return settled("thumb");
}

// Until what any tab gave before this is written, or for as long as whoever asks should wait.
export const settled = whose => Promise.race([
  inTurn(() => {}),
  new Promise(done => setTimeout(done, PATIENCE[whose])),
]);

const inTurn = task => navigator.locks.request("copies", task);

// All that waits at once, so that fast taps do not queue up.
async function write() {
  const now = Object.entries(waiting);
  waiting = {};
  for (const [id, { anew, data }] of now) {
    const file = await (await folder()).getFileHandle(id, { create: true });
    const out = await file.createWritable({ keepExistingData: !anew });
    await out.write({ type: "write", position: anew ? 0 : (await file.getFile()).size, data });
    await out.close();
  }
}

const lines = async file => (await (await file.getFile()).text()).trim().split("\n").map(one => JSON.parse(one));

// Every sheet whose copy is whole from its first line on.
export async function copied() {
  const found = [];
  for await (const file of (await folder()).values()) {
    const read = await lines(file).catch(() => []);
    if (read[0]?.kit) found.push(read);
  }
  return found;
}
