/* Draws charts, sorts and filters tables. Everything is readable without it, except the charts, whose data stands in tables. */
"use strict";
(() => {
  const book = window.speedworth;
  const EDGES = 64; // axis and paddings of a chart, px, unless its specification says otherwise

  const expanded = (set) => {
    const names = Object.keys(set.columns);
    const length = names.length ? set.columns[names[0]].length : 0;
    const days = new Set(set.days);
    return Array.from({ length }, (_, i) => Object.fromEntries(names.map((name) => {
      const value = set.columns[name][i];
      return [name, days.has(name) && value !== null ? `${value}T00:00:00` : value];
    })));
  };

  const withWidth = (part, width) => {
    if (Array.isArray(part)) return part.map((item) => withWidth(item, width));
    if (part && typeof part === "object") {
      return Object.fromEntries(Object.entries(part).map(([key, value]) =>
        [key, key === "width" && value === book.width ? width : withWidth(value, width)]));
    }
    return part;
  };

  const lastDay = (datasets) => {
    const days = Object.values(datasets).flat().flatMap((row) => Object.values(row))
      .filter((value) => typeof value === "string" && /^\d{4}-\d\d-\d\dT00:00:00$/.test(value));
    return days.sort().at(-1);
  };

  const withSpan = (spec, datasets, months) => {
    const last = lastDay(datasets);
    if (!months || !last) return spec;
    const to = new Date(last), from = new Date(last);
    from.setMonth(from.getMonth() - Number(months));
    const params = (spec.params || []).map((param) =>
      param.name === "brush" ? { ...param, value: { x: [from.getTime(), to.getTime()] } } : param);
    return { ...spec, params };
  };

  /* Words inside a chart that would lie on other words, or be cut off, step back; what is drawn later matters more.
     Their values stay in the tooltip and in the table. A word and its pale edge are one. */
  const makeRoom = (chart) => {
    const svg = chart.querySelector("svg");
    if (!svg) return;
    const frame = svg.getBoundingClientRect();
    const kept = [...svg.querySelectorAll(".role-axis text")].map((text) => ({ box: text.getBoundingClientRect(), words: "" }));
    const texts = [...svg.querySelectorAll(".role-mark text")].reverse();
    texts.forEach((text) => { text.style.visibility = ""; });
    for (const text of texts) {
      const box = text.getBoundingClientRect(), words = text.textContent;
      if (!words.trim() || !box.width) continue;
      const cut = box.left < frame.left - 1 || box.right > frame.right + 1;
      const hit = kept.some((other) => !(other.words === words && Math.abs(other.box.left - box.left) < 2 && Math.abs(other.box.top - box.top) < 2)
        && Math.min(box.right, other.box.right) - Math.max(box.left, other.box.left) > 1
        && Math.min(box.bottom, other.box.bottom) - Math.max(box.top, other.box.top) > 3);
      if (cut || hit) text.style.visibility = "hidden"; else kept.push({ box, words });
    }
  };

  /* Of a chosen group, only its members are drawn. */
  const members = (row) => !window.onlyPlayers || row.of === undefined || window.onlyPlayers.has(row.of);

  const draw = (chart) => {
    const sets = JSON.parse(chart.nextElementSibling.textContent);
    const datasets = Object.fromEntries(Object.entries(sets).map(([name, set]) => [name, expanded(set).filter(members)]));
    const kind = book.specs[chart.dataset.kind];
    const width = Math.max(160, Math.floor(chart.clientWidth) - (kind.usermeta?.edges ?? EDGES));
    chart.dataset.drawnAt = String(chart.clientWidth);
    let spec = withWidth(kind, width);
    spec = withSpan({ ...spec, config: book.config, datasets }, datasets, chart.dataset.months);
    const plate = document.createElement("div");
    plate.setAttribute("aria-hidden", "true");
    chart.replaceChildren(plate);
    return vegaEmbed(plate, spec, {
      actions: false, renderer: "svg", ast: true, logLevel: 1, defaultStyle: false, tooltip: { disableDefaultStyle: true },
      formatLocale: book.locale.format, timeFormatLocale: book.locale.timeFormat,
    }).then(() => { makeRoom(chart); chart.dataset.drawn = "yes"; }).catch((fault) => console.error(fault));
  };

  document.addEventListener("pointerup", (event) => {
    const chart = event.target.closest && event.target.closest(".chart[data-drawn]");
    if (chart) setTimeout(() => makeRoom(chart), 60);
  });

  /* A chart in a fold is drawn when the fold is opened: before, it has no width. */
  const drawAll = () => document.querySelectorAll(".chart[data-kind]").forEach((chart) => { if (chart.clientWidth) draw(chart); });
  const drawOpened = (event) => {
    if (event.target.open) event.target.querySelectorAll(".chart[data-kind]:not([data-drawn])").forEach(draw);
  };

  /* The rows that a chart draws, newest first, listed below the months when the numbers behind it are opened. */
  const listDrawn = (event) => {
    const behind = event.target, chart = behind.open && behind.classList.contains("behind") && behind.parentElement.querySelector(".chart[data-kind]");
    const heads = chart && book.behind[chart.dataset.kind];
    if (!heads || behind.querySelector("table.drawn")) return;
    const language = document.documentElement.lang, table = document.createElement("table");
    const shown = (value) => typeof value === "number" ? value.toLocaleString(language) : value === null ? "–"
      : /T00:00:00$/.test(value) ? new Date(value).toLocaleDateString(language, { day: "numeric", month: "short", year: "numeric" }) : value;
    table.className = "drawn";
    const line = (part, cells, tag) => {
      const row = part.insertRow();
      cells.forEach((text) => {
        const cell = document.createElement(tag);
        if (tag === "th") cell.scope = "col";
        cell.textContent = text;
        row.append(cell);
      });
    };
    line(table.createTHead(), heads.map((head) => head[1]), "th");
    const body = table.createTBody(), set = JSON.parse(chart.nextElementSibling.textContent).rows;
    expanded(set).reverse().forEach((row) => line(body, heads.map((head) => shown(row[head[0]])), "td"));
    const box = document.createElement("div");
    box.className = "scroll";
    box.append(table);
    behind.append(box);
  };

  const wireSpans = (group) => {
    const chart = group.closest("figure").querySelector(".chart");
    group.addEventListener("click", (event) => {
      const button = event.target.closest("button");
      if (!button) return;
      group.querySelectorAll("button").forEach((each) => each.setAttribute("aria-pressed", String(each === button)));
      chart.dataset.months = button.dataset.months;
      draw(chart);
    });
  };

  const sortValue = (row, index) => {
    const cell = row.cells[index];
    const text = cell.dataset.value ?? cell.textContent.trim();
    const number = Number(text);
    return cell.dataset.value === undefined && text === "" ? null : (text !== "" && Number.isFinite(number) ? number : text.toLowerCase());
  };

  const compare = (a, b) => {
    if (typeof a === "number" && typeof b === "number") return a - b;
    return String(a).localeCompare(String(b), document.documentElement.lang);
  };

  /* On a phone a row becomes a card, and each cell says its column's name. */
  const labelCells = (table) => {
    const names = [...table.tHead.rows[0].cells].map((head) => {
      const unit = head.querySelector(".unit"), all = head.textContent;
      return unit ? `${all.slice(0, all.length - unit.textContent.length)}, ${unit.textContent}` : all;
    });
    [...table.tBodies[0].rows].forEach((row) => [...row.cells].forEach((cell, i) => {
      if (names[i] && cell.dataset.label === undefined) cell.dataset.label = names[i];
    }));
  };

  const wireSorting = (table) => {
    const heads = [...table.tHead.rows[0].cells];
    table.tHead.addEventListener("click", (event) => {
      const button = event.target.closest("button[data-sort]");
      if (!button) return;
      const head = button.closest("th");
      const down = head.getAttribute("aria-sort") === "ascending" || (!head.hasAttribute("aria-sort") && head.classList.contains("number"));
      heads.forEach((each) => each.removeAttribute("aria-sort"));
      head.setAttribute("aria-sort", down ? "descending" : "ascending");
      const index = Number(button.dataset.sort);
      const missing = (row) => row.cells[index].dataset.value === undefined && ["", "–"].includes(row.cells[index].textContent.trim());
      const rows = [...table.tBodies[0].rows];
      rows.sort((a, b) => {
        if (missing(a) || missing(b)) return Number(missing(a)) - Number(missing(b));
        return compare(sortValue(a, index), sortValue(b, index)) * (down ? -1 : 1);
      });
      table.tBodies[0].append(...rows);
    });
  };

  const wireSieve = (sieve) => {
    const table = document.getElementById(sieve.dataset.for).querySelector("table");
    const find = sieve.querySelector("input"), choose = sieve.querySelector("select"), count = sieve.querySelector("output");
    const rows = [...table.tBodies[0].rows];
    const apply = () => {
      const text = (find ? find.value : "").trim().toLowerCase(), tag = choose ? choose.value : "";
      rows.forEach((row) => {
        const fits = (row.dataset.find || row.cells[0].textContent.toLowerCase()).includes(text);
        row.hidden = !(fits && (!tag || (row.dataset.tags || "").split(" ").includes(tag)));
      });
      if (count) count.textContent = count.dataset.text.replace("{shown}", rows.filter((row) => !row.hidden && !row.hasAttribute("data-outside")).length).replace("{all}", rows.length);
    };
    document.addEventListener("groupchosen", apply);
    [find, choose].forEach((control) => control && control.addEventListener("input", apply));
    sieve.hidden = false;
    apply();
  };

  const openTarget = () => {
    const target = location.hash.length > 1 && document.getElementById(decodeURIComponent(location.hash.slice(1)));
    const fold = target && target.closest("details");
    if (fold) { fold.open = true; target.scrollIntoView(); }
  };

  /* A page that is read long after its data ended says so. */
  const tellAge = (warning) => {
    const age = (Date.now() - new Date(`${warning.dataset.until}T00:00:00`).getTime()) / 86400000;
    warning.hidden = age <= Number(warning.dataset.days) + 1;
  };

  let waiting;
  const redraw = () => {
    clearTimeout(waiting);
    waiting = setTimeout(() => document.querySelectorAll(".chart[data-drawn]").forEach((chart) => {
      if (chart.clientWidth && chart.dataset.drawnAt !== String(chart.clientWidth)) draw(chart);
    }), 150);
  };

  document.addEventListener("DOMContentLoaded", () => {
    document.querySelectorAll("table.stack").forEach(labelCells);
    document.querySelectorAll("table[data-sortable]").forEach(wireSorting);
    document.querySelectorAll(".sieve[data-for]").forEach(wireSieve);
    document.querySelectorAll(".spans").forEach(wireSpans);
    document.querySelectorAll("[data-until]").forEach(tellAge);
    if (book) drawAll();
    if (book) document.addEventListener("groupchosen", drawAll);
    if (book) document.addEventListener("toggle", drawOpened, true);
    if (book) document.addEventListener("toggle", listDrawn, true);
    window.addEventListener("resize", redraw);
    window.addEventListener("hashchange", openTarget);
    openTarget();
  });
})();
