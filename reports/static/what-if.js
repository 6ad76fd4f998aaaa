/* A handle on a trade-off map: speed and scatter are moved, and the strokes are read between the map's own lines.
   Two sliders do the same for the keyboard. Without this script the map stands as it is. */
"use strict";
(() => {
  const NEAR = 0.05, REACH = 9;
  const language = document.documentElement.lang;
  const filled = (text, values) => text.replace(/\{(\w+)\}/g, (whole, name) => values[name] ?? whole);
  const written = (value, digits) => value.toLocaleString(language, { minimumFractionDigits: digits, maximumFractionDigits: digits, useGrouping: false }).replace("-", "−");
  const signed = (value) => (value > NEAR ? "+" : "") + written(Math.abs(value) < NEAR ? 0 : value, 1);

  /* The lines as lists of points by club speed. */
  const linesOf = (set) => {
    const found = new Map();
    set.step.forEach((step, i) => found.set(step, [...(found.get(step) || []), [set.speed[i], set.scatter[i]]]));
    return [...found].map(([step, points]) => ({ step, points: points.sort((a, b) => a[0] - b[0]) }));
  };

  const heightAt = (points, speed) => {
    const after = points.findIndex((point) => point[0] >= speed - 1e-9);
    if (after < 0 || (after === 0 && points[0][0] > speed + 1e-9)) return null;
    if (after === 0) return points[0][1];
    const [from, to] = [points[after - 1], points[after]];
    return from[1] + (to[1] - from[1]) * (speed - from[0]) / (to[0] - from[0]);
  };

  /* Strokes a round against now at one place: between two lines, or no more than that it lies beyond the last. */
  const strokesAt = (lines, speed, scatter) => {
    const met = lines.map((line) => ({ step: line.step, scatter: heightAt(line.points, speed) })).filter((line) => line.scatter !== null)
      .sort((a, b) => a.scatter - b.scatter);
    if (!met.length) return { says: "nothing" };
    const above = met.findIndex((line) => line.scatter >= scatter);
    if (above === 0 && met[0].scatter - scatter > 1e-6) return { says: "fewer", value: met[0].step };
    if (above < 0) return { says: "more", value: met.at(-1).step };
    const [low, high] = [met[Math.max(0, above - 1)], met[above]];
    const share = high.scatter > low.scatter ? (scatter - low.scatter) / (high.scatter - low.scatter) : 0;
    return { says: "between", value: low.step + (high.step - low.step) * share };
  };

  const sentence = (texts, answer) => {
    if (answer.says === "nothing") return texts.nothing;
    const beyond = answer.says !== "between", value = answer.value;
    if (beyond && (answer.says === "more" ? value <= 0 : value >= 0)) return answer.says === "more" ? texts.more0 : texts.fewer0;
    if (!beyond && Math.abs(value) < NEAR) return texts.same;
    const way = value > 0 ? "more" : "fewer";
    return filled(texts[beyond ? `${way}Beyond` : way], { n: written(Math.abs(value), 1) });
  };

  const first = (set, name) => (set[name] && set[name].length ? set[name][0] : null);

  /* What the map reads over the whole cross of now: how far the place of now itself is known. */
  const overNow = (lines, now) => {
    const [slow, fast, low, high] = ["speed_low", "speed_high", "scatter_low", "scatter_high"].map((name) => first(now, name));
    if ([slow, fast, low, high].includes(null)) return null;
    const found = [[fast, low], [slow, high]].map(([speed, scatter]) => strokesAt(lines, speed, scatter));
    return found.every((one) => one.says === "between") ? found.map((one) => signed(one.value)) : null;
  };

  const wire = (box) => {
    const chart = box.previousElementSibling && box.previousElementSibling.querySelector(".chart[data-kind]");
    if (!chart) return;
    const sets = window.chartSets(chart), lines = linesOf(sets.lines);
    const start = { speed: first(sets.now, "speed"), scatter: first(sets.now, "scatter") };
    if (start.speed === null || !lines.length) return;
    const texts = box.dataset, [speed, scatter] = box.querySelectorAll("input"), said = box.querySelector("output"), again = box.querySelector("button");
    const at = { ...start };
    let view = null, handle = null;
    const scale = (axis) => view.scale(`${chart.dataset.kind}_${axis}`);

    const place = () => {
      if (!view || !handle) return;
      handle.setAttribute("transform", `translate(${scale("x")(at.speed)},${scale("y")(at.scatter)})`);
    };
    const tell = () => {
      const answer = strokesAt(lines, at.speed, at.scatter);
      const where = { speed: written(at.speed, 1), scatter: written(at.scatter, 1) };
      said.textContent = filled(texts.at, { ...where, strokes: sentence(texts, answer) });
      [speed, scatter].forEach((input) => { input.value = at[input.name]; });
      speed.setAttribute("aria-valuetext", filled(texts.speed, where));
      scatter.setAttribute("aria-valuetext", filled(texts.scatter, where));
      again.disabled = at.speed === start.speed && at.scatter === start.scatter;
      place();
    };
    const move = (to) => {
      [speed, scatter].forEach((input) => {
        const value = Math.min(Number(input.max), Math.max(Number(input.min), to[input.name]));
        at[input.name] = to[input.name] === start[input.name] ? value : Math.round(value * 10) / 10;
      });
      tell();
    };

    [speed, scatter].forEach((input) => {
      const [low, high] = sets.frame[input.name];
      [input.min, input.max, input.step] = [String(low), String(high), "any"];
      input.addEventListener("input", () => move({ ...at, [input.name]: Number(input.value) }));
      input.addEventListener("keydown", (event) => {
        const ways = { ArrowLeft: -0.1, ArrowDown: -0.1, ArrowRight: 0.1, ArrowUp: 0.1, PageDown: -1, PageUp: 1 };
        if (!(event.key in ways)) return;
        event.preventDefault();
        move({ ...at, [input.name]: Math.round((at[input.name] + ways[event.key]) * 10) / 10 });
      });
    });
    again.addEventListener("click", () => { move(start); speed.focus(); });

    const drag = (event) => {
      const plane = handle.parentNode.getScreenCTM().inverse();
      const point = new DOMPoint(event.clientX, event.clientY).matrixTransform(plane);
      move({ speed: scale("x").invert(point.x), scatter: scale("y").invert(point.y) });
    };
    const draw = () => {
      const plane = chart.querySelector("svg > g");
      if (!plane) return;
      handle = document.createElementNS("http://www.w3.org/2000/svg", "g");
      handle.setAttribute("class", "handle");
      const part = (name, attributes) => {
        const shape = document.createElementNS("http://www.w3.org/2000/svg", name);
        Object.entries(attributes).forEach(([key, value]) => shape.setAttribute(key, value));
        handle.append(shape);
      };
      part("circle", { r: 2 * REACH, class: "reach" });
      part("circle", { r: REACH, class: "ring" });
      part("path", { d: "M-4,0H4M0,-4V4", class: "cross" });
      handle.addEventListener("pointerdown", (event) => {
        handle.setPointerCapture(event.pointerId);
        handle.addEventListener("pointermove", drag);
        event.preventDefault();
      });
      ["pointerup", "pointercancel"].forEach((name) => handle.addEventListener(name, () => handle.removeEventListener("pointermove", drag)));
      plane.append(handle);
      place();
    };
    chart.addEventListener("drawn", (event) => { view = event.detail; draw(); });

    const now = overNow(lines, sets.now), limits = box.querySelector(".limits");
    if (now) limits.textContent = `${limits.textContent} ${filled(texts.cross, { low: now[0], high: now[1] })}`;
    box.hidden = false;
    tell();
  };

  document.addEventListener("DOMContentLoaded", () => document.querySelectorAll(".what-if").forEach(wire));
})();
