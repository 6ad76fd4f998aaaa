/* Lets a player's forms open without a connection: the last page that came over the network, and nothing of anybody's room. */
"use strict";
const FORMS = ["/", "/checkin", "/effort", "/problems", "/score"];
const isMeant = (url) => url.origin === location.origin && (FORMS.includes(url.pathname) || url.pathname.startsWith("/assets/"));

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(clients.claim()));
self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== "GET" || !isMeant(url)) return;
  event.respondWith((async () => {
    const shelf = await caches.open("forms");
    try {
      const answer = await fetch(event.request);
      if (answer.ok && !answer.redirected) await shelf.put(url.pathname, answer.clone());
      return answer;
    } catch (fault) {
      const known = await shelf.match(url.pathname);
      if (known) return known;
      throw fault;
    }
  })());
});
