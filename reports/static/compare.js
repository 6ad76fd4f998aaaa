/* Exchanges the two sides of the comparison. The choice stands in the address; without this script the page shows one pair. */
"use strict";
(() => {
  const store = document.getElementById("compare-data"), box = document.querySelector(".sieve.compare");
  if (!store || !box) return;
  const { rows, players, texts } = JSON.parse(store.textContent);
  const filled = (text, values) => text.replace(/\{(\w+)\}/g, (whole, name) => values[name] ?? whole);
  const range = (low, high) => filled(texts.interval, { low, high });
  const listing = (items) => (items.length < 2 ? items.join("") : `${items.slice(0, -1).join(", ")} ${texts.and} ${items.at(-1)}`);

  /* Numbers are printed ones: nothing is rounded here but the last digit of a difference. */
  const written = (value, digits, sign = false) => {
    const [whole, part] = Math.abs(value).toFixed(digits).split(".");
    const grouped = whole.length > 4 ? whole.replace(/\B(?=(\d{3})+$)/g, "\u202f") : whole;
    const text = part ? `${grouped}${texts.decimal}${part}` : grouped, is = Number(Math.abs(value).toFixed(digits));
    return `${is && value < 0 ? "\u2212" : is && sign ? "+" : ""}${text}`;
  };
  const difference = (one, other) => {
    if ([one[1], one[2], other[1], other[2]].includes(null)) return { value: one[0] - other[0], low: null, high: null };
    return { value: one[0] - other[0], low: one[1] - other[2], high: one[2] - other[1] };
  };
  const away = (value, digits) => Number(value.toFixed(digits));
  const isClear = (found, digits) => found.low !== null && (away(found.low, digits) > 0 || away(found.high, digits) < 0);

  const told = (cell, text, note) => {
    const small = document.createElement("span");
    small.className = "note";
    small.textContent = note;
    cell.replaceChildren(text, ...(note ? [small] : []));
  };
  const showValue = (cell, row, value) => {
    if (!value) return told(cell, "–", texts.unknown);
    const n = filled(value[3] === 1 ? row.one : row.other, { n: written(value[3], 0) });
    const interval = value[1] === null ? "" : range(written(value[1], row.digits), written(value[2], row.digits));
    return told(cell, written(value[0], row.digits), interval ? filled(texts.note, { interval, n }) : n);
  };
  const showDifference = (cell, row, one, other) => {
    if (!one || !other) return told(cell, "–", texts.missing);
    if (one[4] !== other[4]) return told(cell, "–", texts.not_alike);
    const found = difference(one, other), shown = written(found.value, row.digits, true);
    if (found.low === null) return told(cell, shown, texts.counted);
    const interval = range(written(found.low, row.digits, true), written(found.high, row.digits, true));
    return told(cell, shown, filled(isClear(found, row.digits) ? texts.is_clear : texts.is_open, { interval }));
  };

  const said = (one, other) => {
    const groups = { clear: [], open: [], cannot: [], apart: [] };
    rows.forEach((row, i) => {
      const [a, b] = [one.values[i], other.values[i]];
      const name = row.said;
      if (!a || !b) { if (a || b) groups.cannot.push(name); return; }
      if (!row.estimated) return;
      if (a[4] !== b[4]) { groups.apart.push(name); return; }
      const found = difference(a, b);
      if (isClear(found, row.digits)) groups.clear.push(filled(texts.item, { name, amount: `${written(found.value, row.digits, true)}\u202f${row.unit}` }));
      else groups.open.push(name);
    });
    return Object.entries(groups).filter(([, items]) => items.length).map(([key, items]) => filled(texts[key], { items: listing(items) })).join(" ") || texts.nothing;
  };

  const sides = ["a", "b"].map((name) => ({ name, player: document.getElementById(name), season: document.getElementById(`${name}-season`) }));
  const table = document.querySelector("#compared table"), lead = document.querySelector(".lead");

  const offer = (side, wanted) => {
    const own = players[side.player.value].seasons, backs = Object.keys(own);
    side.season.replaceChildren(...backs.map((back) => new Option(own[back].span, back)));
    side.season.value = backs.includes(wanted) ? wanted : backs[0];
  };
  const show = () => {
    const [one, other] = sides.map((side) => players[side.player.value].seasons[side.season.value]);
    const names = sides.map((side) => players[side.player.value].alias);
    [one, other].forEach((season, i) => {
      const head = table.tHead.rows[0].cells[i + 1], unit = document.createElement("span");
      unit.className = "unit";
      unit.textContent = season.span;
      head.replaceChildren(names[i], unit);
      [...table.tBodies[0].rows].forEach((row) => { row.cells[i + 1].dataset.label = `${names[i]}, ${season.span}`; });
    });
    [...table.tBodies[0].rows].forEach((line, i) => {
      const [a, b] = [one.values[i], other.values[i]];
      showValue(line.cells[1], rows[i], a);
      showValue(line.cells[2], rows[i], b);
      showDifference(line.cells[3], rows[i], a, b);
    });
    const same = sides[0].player.value === sides[1].player.value && sides[0].season.value === sides[1].season.value;
    const [first, second] = [one, other].map((season, i) => filled(texts.side, { name: names[i], span: season.span }));
    lead.textContent = filled(texts.lead, { first, second, said: same ? texts.same : said(one, other) });
  };

  document.addEventListener("DOMContentLoaded", () => {
    const { chosen, keepChosen } = window.inAddress;
    const [, of] = /^#of-(.+)$/.exec(decodeURIComponent(location.hash)) || [];
    sides.forEach((side, i) => {
      const player = chosen(side.name) || of;
      if (players[player]) side.player.value = player;
      const before = of && !chosen(side.name) ? String(i) : side.season.dataset.back;
      offer(side, chosen(`${side.name}-season`) || before);
    });
    const keep = () => keepChosen(Object.fromEntries(sides.flatMap((side) => [[side.name, side.player.value], [`${side.name}-season`, side.season.value]])));
    sides.forEach((side) => {
      side.player.addEventListener("input", () => { offer(side, side.season.value); show(); keep(); });
      side.season.addEventListener("input", () => { show(); keep(); });
    });
    box.hidden = false;
    show();
  });
})();
