// Records to state: the same rules as the server's replay.  Pure.

const questions = when => (kit, skill) => kit.questions.filter(q =>
  q.asked === when && (!q.skills.length || q.skills.includes(skill)));
export const everyQuestion = questions("every");
export const failedQuestion = questions("failed");
export const asked = (kit, t) => [...everyQuestion(kit, t.skill), ...(t.failed ? failedQuestion(kit, t.skill) : [])];
export const unanswered = (kit, t) => asked(kit, t).filter(q => !t.answers[q.id]);

export function replay(records) {
  const undone = new Set(records.filter(r => r.body.kind === "undo").map(r => r.body.of));
  const state = {
    begin: null, head: null, tries: [], clearances: [], unassisted: [], looks: {}, ratings: {}, incidents: [],
    notes: [], stops: [], ended: null, reason: null, signed: null, undone: undone.size,
  };
  for (const record of [...records].sort((a, b) => a.n - b.n)) {
    if (!undone.has(record.id)) TAKES[record.body.kind]?.(state, record.body, record);
  }
  state.stopped = state.stops.length > 0 && state.stops.at(-1).until === null;
  return state;
}

function tryOf(state, body) {
  let found = state.tries.find(t => t.try === body.try);
  if (!found) {
    found = { try: body.try, t: body.t, failed: false, answers: {} };
    state.tries.push(found);
  }
  return found;
}

const TAKES = {
  begin(state, body) { state.begin = state.head = body; },
  mended(state, body) { state.head = body; },
  mark(state, body) {
    const t = tryOf(state, body);
    Object.assign(t, { student: body.student, skill: body.skill });
    t.answers[body.criterion] = body.answer;
  },
  failed(state, body) { tryOf(state, body).failed = true; },
  unassisted(state, body) { state.unassisted.push(body); },
  clearance(state, body) { state.clearances.push(body); },
  look(state, body) { state.looks[body.look] ??= body; },
  rating(state, body) { state.ratings[body.criterion] = body; },
  incident(state, body) { state.incidents.push(body); },
  note(state, body, { id }) { state.notes.push({ ...body, id }); },
  stop(state, body) {
    state.stops.push({ ...body, until: null });
    if (body.criterion) state.incidents.push(body);
  },
  resume(state, body) { if (state.stops.length) state.stops.at(-1).until = body.t; },
  end(state, body) { state.ended = body.t; },
  reason(state, body) { state.reason = body.text; },
  sign(state, body) { state.signed = body; },
  reopened(state) { state.signed = null; },
};

// Looks are due every so many seconds from the start instant, none while the lesson is stopped.
export const paused = (state, t) => state.stops.some(s => s.t <= t && t < (s.until ?? Infinity));

export function dueLook(kit, state, t) {
  if (!kit.every) return 0;
  const look = Math.floor(t / kit.every);
  const open = look && t - look * kit.every <= kit.every / 2 && !state.looks[look];
  return open && !paused(state, look * kit.every) ? look : 0;
}

// Looks whose window closed unanswered, as the records that say so: they are missed, and stay so.
// One that a stop cut short was missed when that began.
export function missedLooks(kit, state, t) {
  const missed = [];
  const over = i => kit.incidents.some(k => k.stops && k.id === i.criterion);
  const stops = [...state.stops, ...state.incidents.filter(over)];
  for (let look = 1; kit.every && look * kit.every + kit.every / 2 < t; look++) {
    const at = look * kit.every;
    if (!state.looks[look] && !paused({ stops }, at)) {
      const ends = stops.map(s => s.t).filter(s => s > at);
      missed.push({ kind: "look", look, t: Math.min(at + Math.floor(kit.every / 2), ...ends), waiting: null, idle: null });
    }
  }
  return missed;
}

export const lastChoice = (state, student, skill) =>
  state.clearances.findLast(c => c.student === student && c.skill === skill)?.choice;
