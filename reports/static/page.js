/* Draws charts, sorts and filters tables. Everything is readable without it, except the charts, whose data stands in tables. */
"use strict";
(() => {
  const book = window.speedworth;
  const EDGES = 64; // axis and paddings of a chart, px, unless its specification says otherwise

  /* A column as the list of its values: days and numbers may stand as distances, equal values as runs. */
  const values = (column) => {
    if (Array.isArray(column)) return column;
    if (column.runs) return column.runs.flatMap(([value, n]) => Array(n).fill(value));
    let at = 0;
    const whole = (column.days ?? column.steps).map((step) => (step === null ? null : (at += step)));
    const shown = column.days ? (day) => `${new Date(day * 86400000).toISOString().slice(0, 10)}T00:00:00` : (number) => number / column.by;
    return whole.map((value) => (value === null ? null : shown(value)));
  };

  /* The data sets of a chart: lists of values by column. */
  const setsOf = (chart) => Object.fromEntries(Object.entries(JSON.parse(chart.nextElementSibling.textContent)).map(([name, set]) =>
    [name, Object.fromEntries(Object.entries(set).map(([column, stands]) => [column, values(stands)]))]));
  window.chartSets = setsOf;

  const expanded = (set) => {
    const names = Object.keys(set);
    return Array.from({ length: names.length ? set[names[0]].length : 0 }, (_, i) => Object.fromEntries(names.map((name) => [name, set[name][i]])));
  };

  const lastDay = (datasets) => {
    const days = Object.values(datasets).flat().flatMap((row) => Object.values(row))
      .filter((value) => typeof value === "string" && /^\d{4}-\d\d-\d\dT00:00:00$/.test(value));
    return days.sort().at(-1);
  };

  /* Plans and squares keep their own width; others fill their place. */
  const stretches = (kind) => book.plans[kind].width === book.width;

  /* The plan of a kind with its data, its width, and the span of time that is chosen: the last so many months. */
  const planOf = (kind, datasets, width, months) => {
    const last = lastDay(datasets), spanned = months && last && book.plans[`${kind} spanned`];
    let plan = spanned || book.plans[kind];
    if (spanned) {
      const to = new Date(last), from = new Date(last), [begin, end] = book.span.map(String);
      from.setMonth(from.getMonth() - Number(months));
      plan = JSON.parse(JSON.stringify(plan).replaceAll(begin, from.getTime()).replaceAll(end, to.getTime()));
    }
    return { ...plan, ...(stretches(kind) && { width }), data: plan.data.map((set) => (set.name in datasets ? { ...set, values: datasets[set.name] } : set)) };
  };

  const overlap = (one, other) => Math.min(one.right, other.right) - Math.max(one.left, other.left) > 1
    && Math.min(one.bottom, other.bottom) - Math.max(one.top, other.top) > 3;
  const shifted = (box, [right, down]) => ({ left: box.left + right, right: box.right + right, top: box.top + down, bottom: box.bottom + down, width: box.width, height: box.height });

  /* Where words may stand that have to give way: above, below and beside their mark, farther and farther off. */
  const WAYS = [24, 42, 60, 80].flatMap((far) => [[0, -far], [0, far], [1.4 * far, -far], [-1.4 * far, -far], [1.4 * far, far], [-1.4 * far, far]]);

  /* A thin line from the mark to its words. */
  const lead = (text, mark, box) => {
    const plane = text.parentNode.getScreenCTM().inverse(), line = document.createElementNS("http://www.w3.org/2000/svg", "line");
    const at = (x, y) => new DOMPoint(x, y).matrixTransform(plane);
    const from = at((mark.left + mark.right) / 2, (mark.top + mark.bottom) / 2);
    const to = at((box.left + box.right) / 2, (mark.top + mark.bottom) / 2 < box.top ? box.top : box.bottom);
    Object.entries({ x1: from.x, y1: from.y, x2: to.x, y2: to.y, class: "leader" }).forEach(([name, value]) => line.setAttribute(name, value));
    text.parentNode.prepend(line);
  };

  /* The box in which an element of a chart may be seen: that of its view, else the whole chart. */
  const viewOf = (el, frame) => {
    const group = el.closest("[clip-path]"), id = group && /#([^)"]+)/.exec(group.getAttribute("clip-path"));
    const shape = id && document.getElementById(id[1])?.firstElementChild;
    if (!shape) return frame;
    const plane = group.getScreenCTM(), own = shape.getBBox();
    const [from, to] = [[own.x, own.y], [own.x + own.width, own.y + own.height]].map(([x, y]) => new DOMPoint(x, y).matrixTransform(plane));
    return { left: from.x, right: to.x, top: from.y, bottom: to.y };
  };
  /* The box of words is taller than their letters. */
  const onMark = (box, mark) => Math.min(box.right, mark.right) - Math.max(box.left, mark.left) > -1
    && Math.min(box.bottom - box.height * 0.15, mark.bottom) - Math.max(box.top + box.height * 0.15, mark.top) > -1;
  const isDrawn = (mark) => {
    const style = getComputedStyle(mark), has = (name) => !["none", "rgba(0, 0, 0, 0)"].includes(style[name]);
    return style.opacity !== "0" && (has("fill") || has("stroke"));
  };
  /* Small steps to a side: back into the view, or past a mark. */
  const steps = (box, view, marks) => [
    ...(box.right > view.right ? [[view.right - box.right - 1, 0]] : []),
    ...(box.left < view.left && box.right > view.left ? [[view.left - box.left + 1, 0]] : []),
    ...(box.bottom > view.bottom && box.top < view.bottom ? [[0, view.bottom - box.bottom]] : []),
    ...(box.top < view.top && box.bottom > view.top ? [[0, view.top - box.top]] : []),
    ...marks.filter((mark) => onMark(box, mark)).flatMap((mark) => [[mark.right - box.left + 3, 0], [mark.left - box.right - 3, 0]]),
  ];

  /* Words inside a chart that would lie on other words or on a mark, or be cut off, take a small step to a side, or step back; what is
     drawn later matters more. Names of places move farther, with a line to their mark. Values stay in the tooltip and in the table. A
     word and its pale edge are one. */
  const makeRoom = (chart) => {
    const svg = chart.querySelector("svg");
    if (!svg) return;
    svg.querySelectorAll(".leader").forEach((line) => line.remove());
    const frame = svg.getBoundingClientRect(), sets = setsOf(chart);
    const places = new Set((book.plans[chart.dataset.kind].usermeta?.leaders ?? []).flatMap((name) => sets[name].words));
    const kept = [...svg.querySelectorAll(".role-axis text")].map((text) => text.getBoundingClientRect());
    const texts = [...svg.querySelectorAll(".role-mark text")].reverse(), settled = new Map();
    texts.forEach((text) => { text.style.visibility = ""; text.style.translate = ""; });
    const marks = [...svg.querySelectorAll(".mark-symbol path")].filter(isDrawn).map((mark) => mark.getBoundingClientRect()).filter((box) => box.width > 3);
    const large = marks.filter((mark) => mark.width > 6), scale = svg.getScreenCTM().a; // a picture that is wider than its place is made smaller
    for (const text of texts) {
      const box = text.getBoundingClientRect(), words = text.textContent, key = `${words}|${Math.round(box.left)}|${Math.round(box.top)}`;
      if (!words.trim() || !box.width) continue;
      if (!settled.has(key)) {
        const view = viewOf(text, frame), isPlace = places.has(words);
        const fits = (there) => there.left >= view.left - 1 && there.right <= view.right + 1 && there.top >= view.top - 1 && there.bottom <= view.bottom + 1
          && !kept.some((other) => overlap(there, other)) && !marks.some((mark) => onMark(there, mark));
        const way = [[0, 0], ...(isPlace ? WAYS : steps(box, view, marks))].find((each) => fits(shifted(box, each)));
        settled.set(key, way);
        if (way) kept.push(shifted(box, way));
        if (way && isPlace && (way[0] || way[1]) && large.length) {
          const away = (mark) => Math.hypot((mark.left + mark.right - box.left - box.right) / 2, (mark.top + mark.bottom - box.top - box.bottom) / 2);
          lead(text, large.reduce((best, mark) => (away(mark) < away(best) ? mark : best)), shifted(box, way));
        }
      }
      const way = settled.get(key);
      if (way) text.style.translate = `${way[0] / scale}px ${way[1] / scale}px`;
      else text.style.visibility = "hidden";
    }
  };

  /* Of a chosen group, only its members are drawn. */
  const members = (row) => !window.onlyPlayers || row.of === undefined || window.onlyPlayers.has(row.of);

  const widthOf = (chart) => Math.max(160, Math.floor(chart.clientWidth) - (book.plans[chart.dataset.kind].usermeta?.edges ?? EDGES));

  const drawings = new WeakMap();

  const draw = (chart) => {
    const sets = setsOf(chart), { kind, months } = chart.dataset;
    const datasets = Object.fromEntries(Object.entries(sets).map(([name, set]) => [name, expanded(set).filter(members)]));
    const plan = planOf(kind, datasets, widthOf(chart), months);
    const plate = document.createElement("div");
    chart.dataset.drawnAt = String(chart.clientWidth);
    plate.setAttribute("aria-hidden", "true");
    drawings.get(chart)?.finalize();
    drawings.delete(chart);
    chart.replaceChildren(plate);
    return vegaEmbed(plate, plan, {
      mode: "vega", actions: false, renderer: "svg", ast: true, logLevel: 1, defaultStyle: false, tooltip: { disableDefaultStyle: true },
      formatLocale: book.locale.format, timeFormatLocale: book.locale.timeFormat,
    }).then((made) => {
      if (plate.parentNode !== chart) return made.finalize(); // drawn anew meanwhile
      drawings.set(chart, made);
      return settle(chart);
    }).catch((fault) => console.error(fault));
  };

  /* A chart takes the width of its place: what is drawn only stretches, which is soon done. */
  const settle = async (chart) => {
    const { view } = drawings.get(chart), isStale = chart.dataset.drawnAt !== String(chart.clientWidth);
    chart.dataset.drawnAt = String(chart.clientWidth);
    if (isStale && stretches(chart.dataset.kind)) {
      await view.width(widthOf(chart)).resize().runAsync();
      if (drawings.get(chart)?.view !== view) return; // drawn anew meanwhile
    }
    makeRoom(chart);
    chart.dispatchEvent(new CustomEvent("drawn", { detail: view }));
    chart.dataset.drawn = "yes";
  };

  const settleAll = () => document.querySelectorAll(".chart[data-drawn]").forEach((chart) => {
    if (chart.clientWidth && chart.dataset.drawnAt !== String(chart.clientWidth) && drawings.has(chart)) settle(chart);
  });

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
    const written = (day) => book.day.replace("{day}", day.getDate()).replace("{year}", day.getFullYear())
      .replace("{month}", book.locale.timeFormat.shortMonths[day.getMonth()]);
    const shown = (value) => typeof value === "number" ? value.toLocaleString(language) : value === null ? "–"
      : /T00:00:00$/.test(value) ? written(new Date(value)) : value;
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
    const body = table.createTBody(), set = setsOf(chart).rows;
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

  /* What a cell shows before its quieter second line; in a column of numbers, the number that it begins with. */
  const shownText = (cell) => {
    let node = cell;
    while (node && node.nodeType !== Node.TEXT_NODE) node = node.firstChild;
    return node ? node.data.trim() : "";
  };
  const shownNumber = (cell) => {
    const found = cell.classList.contains("number") && /^[+\u2212-]?\d[\d\u202f]*(?:[.,]\d+)?/.exec(shownText(cell));
    return found ? Number(found[0].replace("\u2212", "-").replaceAll("\u202f", "").replace(",", ".")) : null;
  };
  const sortValue = (row, index) => {
    const cell = row.cells[index], text = cell.dataset.value ?? shownText(cell);
    const number = cell.dataset.value === undefined ? shownNumber(cell) : text === "" ? null : Number(text);
    return number !== null && Number.isFinite(number) ? number : text.toLowerCase();
  };

  const compare = (a, b) => {
    if (typeof a === "number" && typeof b === "number") return a - b;
    return String(a).localeCompare(String(b), document.documentElement.lang, { numeric: true });
  };

  /* On a phone a row becomes a card, and each cell says its column's name. */
  const labelCells = (table) => {
    const names = [...table.tHead.rows[0].cells].map((head) => {
      const unit = head.querySelector(".unit");
      return unit ? `${headName(head)}, ${unit.textContent}` : headName(head);
    });
    [...table.tBodies[0].rows].forEach((row) => [...row.cells].forEach((cell, i) => {
      if (names[i] && cell.dataset.label === undefined) cell.dataset.label = names[i];
    }));
  };

  /* What a reader has chosen stands in the address: it can be sent on, and is there again after Back. */
  const chosen = (name) => new URLSearchParams(location.search).get(name) || "";
  const keepChosen = (values) => {
    const query = new URLSearchParams(location.search);
    Object.entries(values).forEach(([name, value]) => { if (value) query.set(name, value); else query.delete(name); });
    const text = query.toString();
    try {
      history.replaceState(null, "", `${location.pathname}${text && `?${text}`}${location.hash}`);
    } catch (fault) { // a browser that keeps the address of a page on the disk as it is: the page works all the same
      console.info(fault.message);
    }
  };

  window.inAddress = { chosen, keepChosen };

  const headName = (head) => {
    const unit = head.querySelector(".unit"), all = head.textContent;
    return (unit ? all.slice(0, all.length - unit.textContent.length) : all).trim();
  };

  /* On a phone the heads are out of sight: a list of them, and a button for the other way round, stand above the cards. */
  const sorter = (table, name, sortBy) => {
    const texts = document.body.dataset, box = document.createElement("div");
    const label = document.createElement("label"), select = document.createElement("select"), turn = document.createElement("button");
    select.id = label.htmlFor = `by-${name}`;
    label.textContent = texts.sortBy;
    turn.type = "button";
    turn.textContent = texts.turn;
    const options = [["", texts.asListed], ...[...table.tHead.rows[0].cells].flatMap((head, i) =>
      head.querySelector("button") ? [[String(i), headName(head)]] : [])];
    select.append(...options.map(([value, words]) => new Option(words, value)));
    const pick = document.createElement("div");
    pick.append(label, select);
    box.className = "sorter";
    box.append(pick, turn);
    table.closest(".scroll").before(box);
    select.addEventListener("input", () => sortBy(select.value));
    turn.addEventListener("click", () => sortBy(select.value, true));
    return { select, turn };
  };

  const wireSorting = (table, place) => {
    const heads = [...table.tHead.rows[0].cells], asListed = [...table.tBodies[0].rows], name = place ? `sort${place + 1}` : "sort";
    const missing = (row, index) => {
      const cell = row.cells[index], isNumber = heads[index].classList.contains("number");
      return cell.dataset.value === undefined && (isNumber ? shownNumber(cell) === null : ["", "–"].includes(shownText(cell)));
    };
    let phone = null;
    const show = (index, down) => {
      heads.forEach((each) => each.removeAttribute("aria-sort"));
      if (heads[index]) heads[index].setAttribute("aria-sort", down ? "descending" : "ascending");
      if (phone) [phone.select.value, phone.turn.disabled] = [heads[index] ? String(index) : "", !heads[index]];
      table.tBodies[0].append(...(heads[index] ? [...asListed].sort((a, b) => {
        if (missing(a, index) || missing(b, index)) return Number(missing(a, index)) - Number(missing(b, index));
        return compare(sortValue(a, index), sortValue(b, index)) * (down ? -1 : 1);
      }) : asListed));
    };
    const sortBy = (value, turned = false) => {
      const index = value === "" ? -1 : Number(value), was = heads[index] && heads[index].getAttribute("aria-sort");
      const down = turned || was ? was === "ascending" : Boolean(heads[index]) && heads[index].classList.contains("number");
      show(index, down);
      keepChosen({ [name]: index < 0 ? "" : `${index}${down ? "-down" : ""}` });
    };
    if (table.classList.contains("stack") && document.body.dataset.sortBy) phone = sorter(table, name, sortBy);
    table.tHead.addEventListener("click", (event) => {
      const button = event.target.closest("button[data-sort]");
      if (button) sortBy(button.dataset.sort);
    });
    if (phone) { // where the heads are out of sight they are no stops of the keyboard, and are still read out as heads
      const heads = table.tHead.querySelectorAll("button"), narrow = window.matchMedia("(max-width: 34rem)");
      const see = () => heads.forEach((button) => { button.disabled = narrow.matches; });
      narrow.addEventListener("change", see);
      see();
    }
    const [index, way] = chosen(name).split("-");
    show(index === "" ? -1 : Number(index), way === "down");
  };

  /* Boxes above a list. A row stays when its name holds the words that are looked for, and its tags hold what each choice asks. */
  const wireSieve = (sieve) => {
    const table = document.getElementById(sieve.dataset.for).querySelector("table");
    const find = sieve.querySelector("input"), choices = [...sieve.querySelectorAll("select")], count = sieve.querySelector("output");
    const controls = [find, ...choices].filter(Boolean), again = sieve.querySelector("button"), rows = [...table.tBodies[0].rows];
    const apply = () => {
      const text = (find ? find.value : "").trim().toLowerCase(), wanted = choices.map((choice) => choice.value).filter(Boolean);
      rows.forEach((row) => {
        const tags = (row.dataset.tags || "").split(" ");
        row.hidden = !((row.dataset.find || row.cells[0].textContent.toLowerCase()).includes(text) && wanted.every((tag) => tags.includes(tag)));
      });
      const shown = rows.filter((row) => !row.hidden && !row.hasAttribute("data-outside")).length, narrowed = Boolean(text || wanted.length);
      if (count) count.textContent = (shown || !narrowed ? count.dataset.text : count.dataset.none).replace("{shown}", shown).replace("{all}", rows.length);
      if (again) again.hidden = !narrowed;
    };
    document.addEventListener("groupchosen", apply);
    const keep = () => keepChosen(Object.fromEntries(controls.map((control) => [control.id, control.value.trim()])));
    controls.forEach((control) => {
      control.value = chosen(control.id);
      if (control.selectedIndex === -1) control.value = ""; // an address with a choice that is no longer there
      control.addEventListener("input", () => { apply(); keep(); });
    });
    if (again) again.addEventListener("click", () => {
      controls.forEach((control) => { control.value = ""; });
      apply();
      keep();
      controls[0].focus();
    });
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
  const settleSoon = () => {
    clearTimeout(waiting);
    waiting = setTimeout(settleAll, 150);
  };

  /* On paper charts have another width than on the screen: they take it, so that their letters keep their size. */
  const settleFor = (paper) => {
    document.documentElement.classList.toggle("on-paper", paper);
    settleAll();
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
    window.addEventListener("resize", settleSoon);
    window.addEventListener("beforeprint", () => settleFor(true));
    window.addEventListener("afterprint", () => settleFor(false));
    window.addEventListener("hashchange", openTarget);
    openTarget();
  });
})();
