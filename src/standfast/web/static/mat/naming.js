// Who is named in what was written, as the server looks for it: it outlives the erasure of a name.

const words = text => ` ${(text.normalize("NFKD").toLowerCase().replace(/\p{M}/gu, "").match(/[\p{L}\p{N}_-]+/gu) ?? []).join(" ")} `;

// The names among these people that a text says in full; a single word names nobody.
export const namedIn = (text, people) => people
  .filter(p => [p.name, p.id].some(one => /[\s-]/.test(one.trim()) && words(text).includes(words(one))))
  .map(p => p.name);
