/* Keeps what was answered without a connection and hands it in later; opens a tapped region; lets the preview of a mapping follow
   what is chosen. Everything works without it. */
"use strict";
(() => {
  const body = document.body, who = body.dataset.who, place = `kept:${who}`, news = document.getElementById("news");
  const say = (text) => { if (news) news.textContent = text; };
  const kept = () => { try { return JSON.parse(localStorage.getItem(place)) || []; } catch { return []; } };
  const keep = (list) => { if (list.length) localStorage.setItem(place, JSON.stringify(list)); else localStorage.removeItem(place); };
  const post = (item) => {
    const fields = new URLSearchParams(item.fields);
    fields.set("csrf", body.dataset.csrf);
    return fetch(item.path, { method: "POST", body: fields, credentials: "same-origin", signal: AbortSignal.timeout(15000) });
  };

  /* A form that opened from the browser's own store is a new one all the same, and about the day on which it is sent. */
  const newId = () => Array.from(crypto.getRandomValues(new Uint8Array(16)), (byte) => byte.toString(16).padStart(2, "0")).join("");
  const localDay = () => { const now = new Date(); return new Date(now - now.getTimezoneOffset() * 60000).toISOString().slice(0, 10); };

  let sending = false;
  const sendKept = async () => {
    if (sending || !who || !kept().length) return;
    sending = true;
    try {
      for (const item of kept()) {
        const answer = await post(item);
        if (answer.ok && !answer.url.endsWith("/enter")) {
          keep(kept().filter((other) => other.fields.form_id !== item.fields.form_id));
          say(body.dataset.sent);
        } else if (answer.status === 422) { say(body.dataset.refused); break; }
        else { say(body.dataset.again); break; }
      }
    } catch { say(body.dataset.kept); } finally { sending = false; }
  };

  for (const form of document.querySelectorAll("form[data-keep]")) {
    const formId = newId();
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      const fields = Object.fromEntries(new FormData(form, event.submitter));
      delete fields.csrf;
      fields.form_id = formId;
      if ("today" in form.dataset && localDay() > fields.day) fields.day = localDay();
      const item = { path: form.getAttribute("action"), fields };
      const buttons = form.querySelectorAll("button");
      buttons.forEach((button) => { button.disabled = true; });
      try {
        const answer = await post(item);
        if (answer.redirected) { location.assign(answer.url); return; }
        const page = new DOMParser().parseFromString(await answer.text(), "text/html").querySelector("[role=alert]");
        say(page ? page.textContent : body.dataset.again);
        buttons.forEach((button) => { button.disabled = false; });
      } catch {
        keep([...kept(), item]);
        say(body.dataset.kept);
      }
      window.scrollTo(0, 0);
    });
  }

  for (const link of document.querySelectorAll(".outline a")) {
    link.addEventListener("click", () => {
      const target = document.querySelector(link.getAttribute("href"));
      if (target && target.tagName === "DETAILS") target.open = true;
    });
  }

  /* A draft follows what is chosen; without this the button does the same. */
  for (const form of document.querySelectorAll("form[data-follow]")) {
    let waits = 0, asked = null;
    const told = document.getElementById("followed");
    const follow = async () => {
      asked?.abort();
      asked = new AbortController();
      const fields = new URLSearchParams(new FormData(form));
      fields.set("do", "preview");
      try {
        const answer = await fetch(form.getAttribute("action"), { method: "POST", body: fields, credentials: "same-origin", signal: asked.signal });
        const fresh = new DOMParser().parseFromString(await answer.text(), "text/html").getElementById("draft");
        if (!fresh) { told.textContent = form.dataset.unfollowed; return; }
        const draft = document.getElementById("draft"), held = document.activeElement?.id, open = draft.querySelector("details")?.open;
        draft.replaceChildren(...fresh.childNodes);
        if (open) draft.querySelector("details").open = true;
        if (held) document.getElementById(held)?.focus({ preventScroll: true });
        told.textContent = form.dataset.followed;
      } catch (fault) { if (fault.name !== "AbortError") told.textContent = form.dataset.unfollowed; }
    };
    form.addEventListener("change", () => { clearTimeout(waits); waits = setTimeout(follow, 250); });
    form.addEventListener("submit", () => { clearTimeout(waits); asked?.abort(); });
  }

  window.addEventListener("online", sendKept);
  setInterval(sendKept, 20000);
  sendKept();
  const player = body.dataset.role === "player" || body.dataset.role === "guardian";
  if (player && "serviceWorker" in navigator && window.isSecureContext) {
    const files = [...document.querySelectorAll("link[rel=stylesheet], script[src]")].map((file) => file.getAttribute("href") || file.getAttribute("src"));
    const lay = async () => {
      const shelf = await caches.open("forms");
      for (const path of ["/", "/checkin", "/problems", "/score", ...files]) {
        const answer = await fetch(path, { credentials: "same-origin" });
        if (answer.ok && !answer.redirected) await shelf.put(path, answer);
      }
    };
    navigator.serviceWorker.register("/worker.js").then(lay).catch(() => {});
  }
  for (const form of document.querySelectorAll('form[action="/leave"], form[action="/enter"]')) {
    form.addEventListener("submit", () => { if ("caches" in window) caches.delete("forms"); });
  }
})();
