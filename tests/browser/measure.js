// Layout as a reader sees it: what sticks out, what is cut off, what lies on other text. Returns sentences; none is well.
() => {
  const faults = [];
  const name = (el) => `${el.tagName.toLowerCase()}.${(el.className.baseVal ?? el.className) || ""} "${(el.textContent || "").trim().slice(0, 40)}"`;
  const wide = document.documentElement.scrollWidth - document.documentElement.clientWidth;
  const inScroll = (el) => el.closest(".scroll");
  const shown = (el) => { const s = getComputedStyle(el); return s.visibility !== "hidden" && s.display !== "none" && s.opacity !== "0"; };
  const hiddenOnPurpose = (el) => el.closest(".quiet, .skip, details:not([open]) > :not(summary), [hidden]") || (el.closest("thead") && getComputedStyle(el.closest("thead")).position === "absolute");
  if (wide > 1) {
    faults.push(`page is ${wide}px too wide`);
    for (const el of document.querySelectorAll("main *, header *, footer *")) {
      const box = el.getBoundingClientRect();
      if (box.width && box.right > document.documentElement.clientWidth + 1 && !inScroll(el) && !el.closest("svg")) { faults.push(`sticks out: ${name(el)}`); break; }
    }
  }
  for (const svg of document.querySelectorAll(".chart svg")) {
    const frame = svg.getBoundingClientRect();
    const plate = svg.closest(".chart").getBoundingClientRect();
    if (frame.right > plate.right + 1.5) faults.push(`chart ${svg.closest(".chart").dataset.kind} is ${Math.round(frame.right - plate.right)}px wider than its place`);
    for (const text of svg.querySelectorAll("text")) {
      const box = text.getBoundingClientRect();
      if (!text.textContent.trim() || !box.width || !shown(text)) continue;
      if (box.left < frame.left - 2 || box.right > frame.right + 2 || box.top < frame.top - 2 || box.bottom > frame.bottom + 2) faults.push(`cut off in chart ${svg.closest(".chart").dataset.kind}: "${text.textContent}"`);
    }
  }
  const boxes = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {
    const node = walker.currentNode, el = node.parentElement;
    if (!node.textContent.trim() || !el || ["SCRIPT", "STYLE", "OPTION"].includes(el.tagName) || !shown(el) || hiddenOnPurpose(el)) continue;
    const range = document.createRange(); range.selectNodeContents(node);
    for (const box of range.getClientRects()) if (box.width > 1 && box.height > 1) boxes.push({ box, el, text: node.textContent.trim() });
  }
  boxes.sort((a, b) => a.box.top - b.box.top);
  for (let i = 0; i < boxes.length; i++) {
    for (let j = i + 1; j < boxes.length && boxes[j].box.top < boxes[i].box.bottom - 3; j++) {
      const a = boxes[i], b = boxes[j];
      if (a.el.closest("svg") && a.text === b.text) continue; // a letter and its pale edge
      const across = Math.min(a.box.right, b.box.right) - Math.max(a.box.left, b.box.left);
      const down = Math.min(a.box.bottom, b.box.bottom) - Math.max(a.box.top, b.box.top);
      const room = a.el.closest("svg") ? 4.5 : 3; // boxes of letters in charts are taller than the letters
      if (across > 2 && down > room) faults.push(`text on text: "${a.text.slice(0, 40)}" and "${b.text.slice(0, 40)}"${a.el.closest(".chart") ? " in chart " + a.el.closest(".chart").dataset.kind : ""}`);
    }
  }
  for (const el of document.querySelectorAll("main p, main h1, main h2, main h3, main li, main td, main th, main dd, main button")) {
    if (el.scrollWidth > el.clientWidth + 2 && getComputedStyle(el).overflowX !== "visible" && el.clientWidth > 0 && !hiddenOnPurpose(el)) faults.push(`clipped: ${name(el)}`);
  }
  return [...new Set(faults)].slice(0, 12);
}
