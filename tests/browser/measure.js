// Layout as a reader sees it: what sticks out, what is cut off, what lies on other text or on a mark, which words are broken inside.
// Returns sentences, of which the words before the colon say the kind; none is well.
() => {
  const faults = [];
  const name = (el) => `${el.tagName.toLowerCase()}.${(el.className.baseVal ?? el.className) || ""} "${(el.textContent || "").trim().slice(0, 40)}"`;
  const wide = document.documentElement.scrollWidth - document.documentElement.clientWidth;
  const inScroll = (el) => el.closest(".scroll");
  const shown = (el) => { const s = getComputedStyle(el); return s.visibility !== "hidden" && s.display !== "none" && s.opacity !== "0"; };
  const hiddenOnPurpose = (el) => el.closest(".quiet, .skip, details:not([open]) > :not(summary), [hidden]") || (el.closest("thead") && getComputedStyle(el.closest("thead")).position === "absolute");
  const kindOf = (svg) => svg.closest(".chart").dataset.kind;
  const isDrawn = (mark) => {
    const style = getComputedStyle(mark), box = mark.getBoundingClientRect(), has = (name) => style[name] !== "none" && style[name] !== "rgba(0, 0, 0, 0)";
    return shown(mark) && (has("fill") || has("stroke")) && box.width + box.height > 2;
  };
  const clipOf = (el) => {
    const group = el.closest("[clip-path]"), id = group && /#([^)"]+)/.exec(group.getAttribute("clip-path"));
    const shape = id && document.getElementById(id[1])?.firstElementChild;
    if (!shape) return null;
    const plane = group.getScreenCTM(), own = shape.getBBox();
    const [from, to] = [new DOMPoint(own.x, own.y), new DOMPoint(own.x + own.width, own.y + own.height)].map((point) => point.matrixTransform(plane));
    return { left: from.x, right: to.x, top: from.y, bottom: to.y };
  };
  const cutBy = (box, clip, room) => Boolean(clip) && (box.left < clip.left - room || box.right > clip.right + room || box.top < clip.top - room || box.bottom > clip.bottom + room);
  const partlyIn = (box, clip) => Boolean(clip) && box.right > clip.left && box.left < clip.right && box.bottom > clip.top && box.top < clip.bottom && cutBy(box, clip, 1);
  if (wide > 1) {
    faults.push(`sideways scroll: page is ${wide}px too wide`);
    for (const el of document.querySelectorAll("main *, header *, footer *")) {
      const box = el.getBoundingClientRect();
      if (box.width && box.right > document.documentElement.clientWidth + 1 && !inScroll(el) && !el.closest("svg")) { faults.push(`sticks out: ${name(el)}`); break; }
    }
  }
  for (const svg of document.querySelectorAll(".chart svg")) {
    const frame = svg.getBoundingClientRect();
    const plate = svg.closest(".chart").getBoundingClientRect();
    if (frame.right > plate.right + 1.5) faults.push(`wide chart: ${kindOf(svg)} is ${Math.round(frame.right - plate.right)}px wider than its place`);
    for (const text of svg.querySelectorAll("text")) {
      const box = text.getBoundingClientRect();
      if (!text.textContent.trim() || !box.width || !shown(text)) continue;
      if (cutBy(box, frame, 2) || cutBy(box, clipOf(text), 2)) faults.push(`cut label: "${text.textContent}" in chart ${kindOf(svg)}`);
    }
    const symbols = [...svg.querySelectorAll(".mark-symbol path")].filter(isDrawn);
    for (const mark of symbols) {
      const box = mark.getBoundingClientRect();
      if (partlyIn(box, clipOf(mark)) || partlyIn(box, frame)) faults.push(`cut point: in chart ${kindOf(svg)} at ${Math.round(box.left - frame.left)}, ${Math.round(box.top - frame.top)}`);
    }
    const rules = [...svg.querySelectorAll(".mark-rule line, .mark-rect path")].filter(isDrawn);
    for (const text of svg.querySelectorAll(".role-mark text")) {
      if (!/[\p{L}\p{N}]/u.test(text.textContent) || !shown(text) || getComputedStyle(text).stroke !== "none") continue;
      const whole = text.getBoundingClientRect(), air = whole.height * 0.2; // the box of letters is taller than the letters
      const box = { left: whole.left + 1, right: whole.right - 1, top: whole.top + air, bottom: whole.bottom - air };
      const paled = [...svg.querySelectorAll(".role-mark text")].some((other) => other !== text && other.textContent === text.textContent && getComputedStyle(other).stroke !== "none");
      const touches = (mark) => { const at = mark.getBoundingClientRect(); return at.left < box.right && at.right > box.left && at.top < box.bottom && at.bottom > box.top; };
      if (symbols.some(touches) || (!paled && rules.some(touches))) faults.push(`label on mark: "${text.textContent}" in chart ${kindOf(svg)}`);
    }
  }
  const boxes = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {
    const node = walker.currentNode, el = node.parentElement;
    if (!node.textContent.trim() || !el || ["SCRIPT", "STYLE", "OPTION"].includes(el.tagName) || !shown(el) || hiddenOnPurpose(el)) continue;
    const range = document.createRange(); range.selectNodeContents(node);
    const lines = [...range.getClientRects()].filter((box) => box.width > 1 && box.height > 1);
    for (const box of lines) boxes.push({ box, el, text: node.textContent.trim() });
    if (!el.closest(".raw") && new Set(lines.map((box) => Math.round(box.top))).size > 1) { // .raw: what stood in a file, whatever it is
      for (const word of node.textContent.matchAll(/[\p{L}\p{N}]{2,}/gu)) {
        range.setStart(node, word.index); range.setEnd(node, word.index + word[0].length);
        const tops = new Set([...range.getClientRects()].filter((box) => box.width > 0.5).map((box) => Math.round(box.top)));
        if (tops.size > 1) faults.push(`broken word: "${word[0]}" in ${name(el)}`);
      }
      for (const amount of node.textContent.matchAll(/\d[\s-](?:%|mph|km\/h|m\/s|yd|rpm)/gu)) { // a number and its unit stay together
        range.setStart(node, amount.index); range.setEnd(node, amount.index + amount[0].length);
        const tops = new Set([...range.getClientRects()].filter((box) => box.width > 0.5).map((box) => Math.round(box.top)));
        if (tops.size > 1) faults.push(`parted unit: "${amount[0]}" in ${name(el)}`);
      }
    }
  }
  boxes.sort((a, b) => a.box.top - b.box.top);
  for (let i = 0; i < boxes.length; i++) {
    for (let j = i + 1; j < boxes.length && boxes[j].box.top < boxes[i].box.bottom - 3; j++) {
      const a = boxes[i], b = boxes[j];
      if (a.el.closest("svg") && a.text === b.text) continue; // a letter and its pale edge
      const across = Math.min(a.box.right, b.box.right) - Math.max(a.box.left, b.box.left);
      const down = Math.min(a.box.bottom, b.box.bottom) - Math.max(a.box.top, b.box.top);
      const room = a.el.closest("svg") ? 4.5 : 3; // boxes of letters in charts are taller than the letters
      if (across > 2 && down > room) faults.push(`text on text: "${a.text.slice(0, 40)}" and "${b.text.slice(0, 40)}"${a.el.closest(".chart") ? ` in chart ${kindOf(a.el)}` : ""}`);
    }
  }
  for (const el of document.querySelectorAll("main p, main h1, main h2, main h3, main li, main td, main th, main dd, main button")) {
    if (el.scrollWidth > el.clientWidth + 2 && getComputedStyle(el).overflowX !== "visible" && el.clientWidth > 0 && !hiddenOnPurpose(el)) faults.push(`clipped: ${name(el)}`);
  }
  return [...new Set(faults)].slice(0, 40);
}
