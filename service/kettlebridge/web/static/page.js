"use strict";
// A kettle's page: takes the parts that changed, sends forms so that nothing is lost or done twice, tells when news stops.
const body = document.body;
const byId = (id) => document.getElementById(id);
const SILENT_MS = 6000, FRESH_MS = 8000, RETRY_MS = [500, 1000, 2000, 4000, 8000], UNTOLD = "untold";
let n = body.dataset.n, onPage = body.dataset.held, heardAt = Date.now(), held = null;
let callsKnown = new Set([...document.querySelectorAll(".call input[name=call]")].map((one) => one.value));

// An answer keeps in sight for a while, however far down the page it was asked.
let settles = 0;
function say(words) {
  const place = byId("answer");
  place.textContent = words;
  place.hidden = !words;
  place.classList.add("fresh");
  clearTimeout(settles);
  settles = setTimeout(() => place.classList.remove("fresh"), FRESH_MS);
}

// Read aloud is a sentence that says something else, not every tenth of a degree in it.
const bare = (words) => words.replace(/[\d.,:]+/g, "");
const standing = () => [...document.querySelectorAll("#now h1, #now .standing")].map((one) => one.textContent).join(" ");
let spoken = bare(standing());
function speak() {
  const words = standing();
  if (bare(words) === spoken) return;
  spoken = bare(words);
  byId("spoken").textContent = words;
}

function news() {
  heardAt = Date.now();
  if (body.classList.contains("is-stale")) {
    body.classList.remove("is-stale");
    byId("stale").hidden = true;
  }
}

function listen() {
  const stream = new EventSource(`${body.dataset.stream}?held=${onPage}`);
  stream.addEventListener("beat", news);
  stream.onmessage = (event) => {
    const message = JSON.parse(event.data);
    news();
    n = message.n;
    onPage = event.lastEventId;
    for (const [id, html] of Object.entries(message.parts)) settle(byId(id), html);
    speak();
    ring();
  };
  stream.onerror = () => {
    if (stream.readyState === EventSource.CLOSED) setTimeout(listen, 3000);
  };
}

setInterval(() => {
  if (Date.now() - heardAt < SILENT_MS || body.classList.contains("is-stale")) return;
  const since = new Date(heardAt).toLocaleTimeString([], {hour: "2-digit", minute: "2-digit", second: "2-digit", hour12: false});
  body.classList.add("is-stale");
  byId("stale").textContent = `No news since ${since}: what stands here is old. The kettle goes on by its own rules.`;
  byId("stale").hidden = false;
}, 1000);

async function send(form, fields) {
  const told = Object.fromEntries([...fields].filter(([name, value]) => value !== "" && name !== "token"));
  for (const name of ["minutes", "target_c", "litres", "at_c", "gravity_sg", "brix", "step_index"])
    if (name in told) told[name] = Number(String(told[name]).replace(",", "."));
  if ("on" in told) told.on = told.on === "true";
  delete told.seen_n;
  if (told.do !== "stop-heat") told.seen_n = Number(n);
  return hand(form.getAttribute("action").replace("/kettles/", "/api/kettles/"), told, form.querySelector("button").textContent);
}

async function hand(path, told, meant) {
  for (let tried = 0; ; tried += 1) {
    try {
      const answered = await fetch(path, {method: "POST", body: JSON.stringify(told),
        headers: {"content-type": "application/json", "x-token": body.dataset.token || ""}});
      if (answered.status === 401) {
        sessionStorage.setItem(UNTOLD, JSON.stringify({path, told, meant}));
        location.href = `/sign-in?back=${encodeURIComponent(location.pathname)}&answer=signed_out`;
        return {words: "", taken: false};
      }
      if (answered.status < 500) return await answered.json();
    } catch { /* the network: the key makes asking again harmless */ }
    say("Not answered yet, trying again…");
    await new Promise((done) => setTimeout(done, RETRY_MS[Math.min(tried, RETRY_MS.length - 1)]));
  }
}

// What a session that ended kept from being said is offered again after the next sign-in, under the same key.
function offerUntold() {
  const kept = JSON.parse(sessionStorage.getItem(UNTOLD) || "null");
  if (!kept || !body.dataset.token || kept.path !== `/api${location.pathname}/tell`) return;
  sessionStorage.removeItem(UNTOLD);
  say("Your session had ended before this was taken: ");
  const answer = byId("answer");
  const add = (words, pressed) => {
    const button = answer.appendChild(document.createElement("button"));
    button.type = "button";
    button.textContent = words;
    button.addEventListener("click", pressed);
  };
  add(kept.meant, async () => {
    if (kept.told.do !== "stop-heat") kept.told.seen_n = Number(n);
    say("");
    say((await hand(kept.path, kept.told, kept.meant)).words);
  });
  add("Leave it", () => say(""));
}

const newKey = () => {
  const bytes = crypto.getRandomValues(new Uint8Array(12));
  return [...bytes].map((one) => one.toString(16).padStart(2, "0")).join("");
};

document.addEventListener("submit", async (event) => {
  const form = event.target;
  if (!("tell" in form.dataset)) return;
  event.preventDefault();
  const button = form.querySelector("button");
  if (button.getAttribute("aria-busy") === "true" || "hold" in button.dataset) return;
  button.setAttribute("aria-busy", "true");
  const fields = new FormData(form);
  fields.set("key", newKey());
  const {words, taken} = await send(form, fields);
  button.removeAttribute("aria-busy");
  if (words) say(words);
  if (taken && form.closest(".call")) scrollTo(0, 0);  // what comes next stands there
});

// Drawing off goes on only while it is pressed: each second asks anew, and letting go ends it at once.
function drawing(form, on) {
  const fields = new FormData(form);
  fields.set("on", String(on));
  fields.set("key", newKey());
  send(form, fields).then(({words}) => say(words));
}
const KEYS = new Set(["Enter", " "]);
function press(event) {
  const button = event.target.closest && event.target.closest("button[data-hold]");
  if (!button || (event.key && !KEYS.has(event.key))) return;
  if (event.key) event.preventDefault();
  if (held || !button.form.reportValidity()) return;
  const form = button.form;
  drawing(form, true);
  held = {form, timer: setInterval(() => drawing(form, true), 1000)};
}
function letGo() {
  if (!held) return;
  clearInterval(held.timer);
  drawing(held.form, false);
  held = null;
}
for (const begins of ["pointerdown", "keydown"]) document.addEventListener(begins, press);
for (const ends of ["pointerup", "pointercancel", "keyup", "blur"]) window.addEventListener(ends, letGo);

let sound = null;
function ring() {
  const open = new Set([...document.querySelectorAll(".call input[name=call], .alarm:not(.seen) input[name=alarm]")].map((one) => one.value));
  const fresh = [...open].some((one) => !callsKnown.has(one));
  callsKnown = open;
  if (!fresh || !sound) return;
  [0, 0.35, 0.7].forEach((after, i) => {
    const tone = sound.createOscillator(), loud = sound.createGain(), at = sound.currentTime + after;
    tone.frequency.value = [660, 880, 660][i];
    loud.gain.setValueAtTime(0.25, at);
    loud.gain.exponentialRampToValueAtTime(0.001, at + 0.3);
    tone.connect(loud).connect(sound.destination);
    tone.start(at);
    tone.stop(at + 0.32);
  });
}
const soundButton = byId("sound");
soundButton.hidden = false;
soundButton.addEventListener("click", () => {
  sound = sound ? (sound.close(), null) : new AudioContext();
  soundButton.textContent = sound ? "Ringing is on: silence it" : "Ring when I am called";
});

async function drawTrace() {
  try {
    const answered = await fetch(body.dataset.trace + (innerWidth < 640 ? "?narrow" : ""));
    if (answered.ok) settle(byId("trace"), await answered.text());
  } catch { /* the line above says that there is no news */ }
}
drawTrace();
offerUntold();
setInterval(drawTrace, body.dataset.fast === "yes" ? 6000 : 30000);

// What the line says under the pointer: read off its own points.
byId("trace").addEventListener("pointermove", (event) => {
  const svg = event.target.closest("svg.trace");
  const line = svg && svg.querySelector("path.temperature");
  if (!line) return;
  const box = svg.getBoundingClientRect();
  const x = ((event.clientX - box.left) / box.width) * svg.viewBox.baseVal.width;
  let low = 0, high = line.getTotalLength();
  for (let i = 0; i < 24; i += 1) {
    const middle = (low + high) / 2;
    if (line.getPointAtLength(middle).x < x) low = middle; else high = middle;
  }
  const {left, right, from, to, low: coldest, high: warmest, top, bottom, zero} = svg.dataset;
  const point = line.getPointAtLength(low);
  const degrees = Number(warmest) - ((point.y - Number(top)) / (Number(bottom) - Number(top))) * (warmest - coldest);
  const seconds = Number(from) + ((point.x - Number(left)) / (Number(right) - Number(left))) * (to - from);
  const minutes = Math.round((Number(zero) + seconds) / 60);
  const clock = `${String(Math.floor(minutes / 60) % 24).padStart(2, "0")}:${String(minutes % 60).padStart(2, "0")}`;
  byId("pointed").hidden = false;
  byId("pointed").textContent = `${clock}: ${degrees.toFixed(1)} °C`;
});

listen();
