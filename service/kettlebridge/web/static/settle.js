"use strict";
// Makes a part of the page say what fresh HTML says, and touches nothing that is right already: what is typed, open, pressed
// or in focus stays, and the browser lays out only what changed. Elements with an id are told apart by it, others by their place.
const OWN = new Set(["open", "aria-busy"]);

function settle(place, html) {
  const fresh = document.createElement("template");
  fresh.innerHTML = html;
  settleNodes(place, fresh.content);
}

function settleNodes(have, want) {
  let at = have.firstChild;
  for (const next of [...want.childNodes]) {
    let same = at;
    while (same && !isSame(same, next)) same = next.id ? same.nextSibling : null;
    if (!same) { have.insertBefore(next, at); continue; }
    while (at !== same) at = removed(at);
    at = same.nextSibling;
    if (!same.isEqualNode(next)) settleNode(same, next);
  }
  while (at) at = removed(at);
}

const isSame = (one, other) => one.nodeName === other.nodeName && (one.id || "") === (other.id || "");

function settleNode(have, want) {
  if (have.nodeType !== Node.ELEMENT_NODE) { have.nodeValue = want.nodeValue; return; }
  // By their names: an object made for each attribute costs more than all else here.
  for (const name of want.getAttributeNames()) {
    const value = want.getAttribute(name);
    if (have.getAttribute(name) !== value) have.setAttribute(name, value);
  }
  for (const name of have.getAttributeNames()) if (!OWN.has(name) && !want.hasAttribute(name)) have.removeAttribute(name);
  settleNodes(have, want);
}

function removed(node) {
  const after = node.nextSibling;
  node.remove();
  return after;
}
