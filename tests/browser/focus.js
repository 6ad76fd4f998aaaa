// Stops of the keyboard that are out of sight when they are reached: a sentence each; none is well.
() => {
  const faults = [];
  const isSeen = (stop) => [...stop.getClientRects()].some((box) => {
    const left = Math.max(box.left, 0), right = Math.min(box.right, innerWidth), top = Math.max(box.top, 0), bottom = Math.min(box.bottom, innerHeight);
    if (right - left < 3 || bottom - top < 3) return false;
    const isHit = (x, y) => { const at = document.elementFromPoint(x, y); return Boolean(at) && stop.contains(at); };
    return [0.5, 0.1, 0.9].some((part) => isHit(left + (right - left) * part, top + (bottom - top) * part));
  });
  for (const stop of document.querySelectorAll("a[href], button, input, select, textarea, summary, [tabindex='0']")) {
    stop.focus();
    if (document.activeElement !== stop) continue; // disabled, hidden, or in a closed fold: no stop
    stop.scrollIntoView({ block: "center", inline: "nearest", behavior: "instant" });
    const box = stop.getBoundingClientRect();
    if (!isSeen(stop)) faults.push(`hidden stop: ${stop.tagName.toLowerCase()} "${stop.textContent.trim().slice(0, 40)}", ${Math.round(box.width)} x ${Math.round(box.height)} px`);
  }
  return faults;
}
