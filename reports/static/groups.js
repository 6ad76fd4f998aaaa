/* Shows the players of one group: rows and items about others are set aside. The choice stands in the page's address, and goes
   along with the links to other pages of the room. Without this script everybody is shown. */
"use strict";
(() => {
  const KEY = "group", PLAYER = /(?:^|\/)(?:players|review)\/([^/?#]+)\.html/;
  const inAddress = () => new URLSearchParams(location.search).get(KEY) || "";
  const playerOf = (link) => (PLAYER.exec(link.getAttribute("href")) || [])[1];
  const filled = (text, values) => text.replace(/\{(\w+)\}/g, (whole, name) => values[name] ?? whole);

  /* The link of one name in a row of names, with what stands behind it up to the next. */
  const wrapped = (link) => {
    const name = document.createElement("span"), next = link.nextSibling;
    const [, own, between] = next && next.nodeType === 3 ? /^( \([^)]*\))?([\s\S]*)$/.exec(next.textContent) : [null, "", null];
    link.replaceWith(name);
    name.append(link, own || "");
    if (between !== null) next.textContent = between;
    return { name, between: between !== null && /^, ?$/.test(between) ? next : null };
  };

  /* What is about players: a row, an item, or one name in a line of names. */
  const unitsOf = (main) => {
    const units = new Map(), lines = new Map();
    main.querySelectorAll("a[href]").forEach((link) => {
      const player = playerOf(link);
      if (!player || link.closest("nav")) return;
      const whole = link.closest("tr, li");
      if (whole) units.set(whole, (units.get(whole) || new Set()).add(player));
      else lines.set(link.parentElement, [...(lines.get(link.parentElement) || []), { link, player }]);
    });
    const names = [];
    lines.forEach((links, line) => {
      const parts = links.map(({ link, player }) => ({ ...wrapped(link), player }));
      names.push({ line, parts });
    });
    return { units, names };
  };

  const carry = (group) => document.querySelectorAll("a[href]").forEach((link) => {
    const [before, anchor] = link.getAttribute("href").split("#");
    const [path, asked] = before.split("?");
    if (/^([a-z]+:|\/)/i.test(path) || !path.endsWith(".html")) return;
    const query = new URLSearchParams(asked || "");
    if (group) query.set(KEY, group); else query.delete(KEY);
    const text = query.toString();
    link.setAttribute("href", `${path}${text ? `?${text}` : ""}${anchor === undefined ? "" : `#${anchor}`}`);
  });

  const keep = (group) => {
    const query = new URLSearchParams(location.search);
    if (group) query.set(KEY, group); else query.delete(KEY);
    const text = query.toString();
    try { history.replaceState(history.state, "", `${location.pathname}${text ? `?${text}` : ""}${location.hash}`); } catch { /* the links still carry it */ }
  };

  const wire = (box) => {
    const select = box.querySelector("select"), output = box.querySelector("output"), main = document.querySelector("main");
    const { units, names } = unitsOf(main);
    if (!units.size && !names.length) return;
    const everybody = new Set([...[...units.values()].flatMap((players) => [...players]), ...names.flatMap((line) => line.parts.map((part) => part.player))]);
    const lists = new Map();
    units.forEach((_, unit) => lists.set(unit.parentElement, [...(lists.get(unit.parentElement) || []), unit]));
    const folds = new Map();
    units.forEach((_, unit) => { const fold = unit.closest("details"); if (fold) folds.set(fold, [...(folds.get(fold) || []), unit]); });
    const opened = new Set();

    const sayNobody = (list, group, nobody) => {
      const place = list.tagName === "TBODY" ? list.closest(".scroll") || list.parentElement : list;
      let note = place.nextElementSibling;
      if (!note || !note.classList.contains("nobody")) {
        note = document.createElement("p");
        note.className = "nobody quiet-note";
        place.after(note);
      }
      note.textContent = nobody ? filled(box.dataset.none, { group }) : "";
      note.hidden = !nobody;
      place.toggleAttribute("data-outside", nobody);
    };

    const apply = () => {
      const group = select.value;
      const ids = group ? new Set(select.selectedOptions[0].dataset.ids.split(" ")) : null;
      const stays = (player) => !ids || ids.has(player);
      units.forEach((players, unit) => unit.toggleAttribute("data-outside", ![...players].some(stays)));
      lists.forEach((rows, list) => {
        const nobody = Boolean(ids) && list.children.length === rows.length && rows.every((row) => row.hasAttribute("data-outside"));
        sayNobody(list, group, nobody && !folds.has(list.closest("details")));
      });
      folds.forEach((rows, fold) => {
        const n = rows.filter((row) => !row.hasAttribute("data-outside")).length;
        fold.toggleAttribute("data-outside", Boolean(ids) && n === 0);
        if (ids && n && !fold.open) { fold.open = true; opened.add(fold); }
        if (!ids && opened.delete(fold)) fold.open = false;
      });
      names.forEach(({ line, parts }) => {
        const last = parts.findLastIndex((part) => stays(part.player));
        line.toggleAttribute("data-outside", last < 0);
        parts.forEach((part, at) => {
          part.name.toggleAttribute("data-outside", !stays(part.player));
          if (part.between) part.between.textContent = stays(part.player) && at < last ? ", " : "";
        });
      });
      const shown = [...everybody].filter(stays).length;
      const leads = main.querySelectorAll("[data-group]");
      leads.forEach((lead) => { lead.hidden = lead.dataset.group !== group; });
      const told = !shown ? "empty" : main.querySelector("div[data-group]") ? "whole" : leads.length ? "led" : "text";
      output.textContent = group ? filled(output.dataset[told], { group, shown, all: everybody.size }) : "";
      box.toggleAttribute("data-chosen", Boolean(group));
      window.onlyPlayers = ids;
      carry(group);
      document.dispatchEvent(new Event("groupchosen"));
    };
    const wanted = inAddress();
    if ([...select.options].some((option) => option.value === wanted)) select.value = wanted;
    select.addEventListener("input", () => { keep(select.value); apply(); });
    box.hidden = false;
    apply();
  };

  document.addEventListener("DOMContentLoaded", () => {
    const box = document.querySelector(".groups");
    if (box) wire(box);
    if (inAddress() && (!box || box.hidden)) carry(inAddress());
  });
})();
