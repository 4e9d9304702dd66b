// The first page asks for the worker; the browser itself looks for a new one on every page.

// Whether this device keeps the pages without network; null when it does, else why not.
export async function worker() {
  const refused = "This device cannot keep the sheet without network. Use paper, or HTTPS.";
  const workers = navigator.serviceWorker;
  if (!workers || !navigator.locks) return refused;
  try {
    const policy = globalThis.trustedTypes?.createPolicy("sw", { createScriptURL: () => "/sw.js" });
    const address = policy ? policy.createScriptURL("") : "/sw.js";
    await workers.register(address, { scope: "/mat", updateViaCache: "none" });
    const controlled = new Promise(done => { workers.oncontrollerchange = done; });
    const soon = new Promise((_, fail) => setTimeout(fail, 20000));
    // A page that was on its way while the worker took hold of the others is asked for again.
    const held = workers.ready.then(one => workers.controller
      || (one.active.postMessage("hold"), controlled));
    await Promise.race([held, soon]);
    return null;
  } catch {
    return workers.controller ? null : refused;
  }
}
