// Keeps the pages beside the mat, whole and of one version.  The server puts VERSION and FILES before
// this.  A new version waits until the last page is closed; nothing here skips that.

const NAME = `mat-${VERSION}`;
const BUDGET = 2500;

// All of them or none.  A redirect leads to the door: kept as the page it would lock the assessor out.
addEventListener("install", event => event.waitUntil(caches.open(NAME).then(cache =>
  cache.addAll(FILES.map(file => new Request(file, { cache: "reload", redirect: "error" }))))));

addEventListener("activate", event => event.waitUntil((async () => {
  const names = await caches.keys();
  await Promise.all(names.filter(n => n.startsWith("mat-") && n !== NAME).map(n => caches.delete(n)));
  await clients.claim();
})()));

addEventListener("message", event => event.waitUntil(clients.claim()));

addEventListener("fetch", event => {
  const { pathname, origin } = new URL(event.request.url);
  if (origin !== location.origin || event.request.method !== "GET" || !FILES.includes(pathname)) return;
  event.respondWith(event.request.mode === "navigate" ? page(event.request, pathname) : kept(pathname, event.request));
});

const kept = async (path, request) => (await (await caches.open(NAME)).match(path)) ?? fetch(request);

// Network first, for as long as a person waits.  Another version's page does not fit the scripts
// kept here, and a redirect is the door: in both cases the kept page is the better answer.
async function page(request, path) {
  const copy = await (await caches.open(NAME)).match(path);
  if (!copy) return fetch(request);
  try {
    const answer = await fetch(request, { signal: AbortSignal.timeout(BUDGET) });
    return answer.ok && answer.headers.get("x-mat-version") === VERSION ? answer : copy;
  } catch {
    return copy;
  }
}
