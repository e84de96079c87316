"use strict";
// Several kettles at a glance: asks anew every few seconds, and says since when there has been no answer.
const EVERY_MS = 3000, PATIENCE_MS = 5000;
const stale = document.getElementById("stale");
const time = () => new Date().toLocaleTimeString([], {hour: "2-digit", minute: "2-digit", second: "2-digit", hour12: false});
let heardAt = time();

async function look() {
  try {
    const answered = await fetch("/", {signal: AbortSignal.timeout(PATIENCE_MS)});
    if (answered.redirected) { location.href = answered.url; return; }
    const fresh = new DOMParser().parseFromString(await answered.text(), "text/html").querySelector("main");
    const shown = document.querySelector("main");
    if (!answered.ok || !fresh) throw new Error("no kettles");
    settleNodes(shown, fresh);
    heardAt = time();
    stale.hidden = true;
  } catch {
    stale.textContent = `No news since ${heardAt}: what stands here is old. The kettles go on by their own rules.`;
    stale.hidden = false;
  }
  setTimeout(look, EVERY_MS);
}
setTimeout(look, EVERY_MS);
