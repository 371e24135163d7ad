// Shows what /events tells. Texts come ready from the server and are put in as text, never as HTML.
"use strict";
const STALE_S = 3, GIVE_UP_S = 6, ALARM_EVERY_S = 2.5, SHORT_AGO_S = 90;
const get = (id) => document.getElementById(id);
const wide = matchMedia("(min-width: 900px)");
let state = null, chart = null, fixed = { rules: "", blind: "" };
let stream = null, streamFor = "", heard = null, offset = null, refused = false;
let chosen = null, taken = new Set(), sound = null, wake = null, lastTick = clock(), lastAlarm = 0;

// A phone that sleeps may stop one of its clocks, and somebody may set the other.
function clock() { return { steady: performance.now() / 1000, wall: Date.now() / 1000 }; }
function since(then) {
  const now = clock();
  return Math.max(now.steady - then.steady, now.wall - then.wall, 0);
}
function blindFor() { return heard === null ? 0 : since(heard); }
function isBlind() { return heard !== null && blindFor() > STALE_S; }
function ago(s) {
  const whole = Math.floor(s), two = (n) => String(n).padStart(2, "0");
  if (whole < SHORT_AGO_S) return whole + " s";
  const h = Math.floor(whole / 3600), m = Math.floor(whole / 60) % 60;
  return h ? h + ":" + two(m) + ":" + two(whole % 60) : m + ":" + two(whole % 60);
}

function text(node, words) { if (node.textContent !== words) node.textContent = words; }
function make(tag, kind, words) {
  const node = document.createElement(tag);
  if (kind) node.className = kind;
  if (words) node.textContent = words;
  return node;
}

// ---- the stream ----
function connect() {
  const run = chosen === null ? "" : "?run=" + chosen;
  if (stream) stream.close();
  streamFor = run;
  offset = null;
  chart = null;
  const own = stream = new EventSource("events" + run);
  own.addEventListener("fixed", (event) => {
    if (own === stream) fixed = JSON.parse(event.data);
  });
  own.addEventListener("state", (event) => {
    if (own !== stream) return;
    const told = JSON.parse(event.data);
    // News that was held up on its way is old news: both clocks here run on, none is set.
    const late = performance.now() / 1000 - told.t;
    offset = offset === null ? late : Math.min(offset, late);
    if (late - offset > STALE_S) return;
    state = told;
    heard = clock();
    refused = false;
    draw();
  });
  own.addEventListener("chart", (event) => {
    if (own !== stream) return;
    chart = JSON.parse(event.data);
    drawChart();
  });
  own.onerror = () => {
    if (own !== stream || own.readyState !== EventSource.CLOSED) return;
    refused = true;  // answered, but not with news: another token, or too many phones
    setTimeout(() => { if (own === stream) connect(); }, 2000);
  };
}

// ---- what is shown ----
function supplies() { return state ? state.supplies : []; }
function current() {
  const all = supplies();
  if (all.length === 1) return all[0];
  const meant = all.find((one) => one.run === chosen);
  return meant || (wide.matches ? all[0] : null) || null;
}
function asBlind(one) {
  const seconds = blindFor(), [act, ...rest] = fixed.blind.split(". ");
  const cells = one.cells.map((cell) => Object.assign({}, cell, {
    figure: "?", bar: null, counts: false,
    aside: cell.figure === "?" ? cell.aside : "last " + cell.figure + " " + cell.unit + ", " + ago(seconds) + " ago",
  }));
  return Object.assign({}, one, {
    word: "STALE", rank: "critical", stale: true, cells, act, how: rest.join(". "),
    why: refused ? "The server refuses this page: open the newest address that it printed."
      : "Nothing new for " + ago(seconds) + ": this page sees nothing.",
  });
}

function draw() {
  const blind = isBlind(), all = supplies().map((one) => blind && !one.ended ? asBlind(one) : one);
  const meant = current(), one = meant && all.find((other) => other.run === meant.run);
  const stale = blind || (one ? one.stale : all.some((other) => other.stale));
  const many = all.length > 1, needs = all.filter((other) => other.rank).length;
  document.body.classList.toggle("stale", stale);
  document.body.classList.toggle("many", many);
  document.body.dataset.rank = one ? one.rank : "";
  text(get("news"), heard === null ? (refused ? "refused" : "connecting")
    : blind ? "STALE " + ago(blindFor()) : stale ? "STALE" : "\u25cf " + state.time);
  text(get("title"), one ? [one.name, one.job].filter(Boolean).join(" \u00b7 ")
    : many ? (needs ? needs + " of " + all.length + " need you" : all.length + " supplies, nothing abnormal")
      : "bathvigil");
  document.title = one ? one.word + ", " + one.name : "bathvigil";
  get("back").hidden = !(many && one) || wide.matches;
  get("list").hidden = !many || (!!one && !wide.matches);
  get("one").hidden = !one;
  get("nothing").hidden = all.length > 0;
  if (!all.length) text(get("nothing"), refused ? "The server refuses this page: open the newest address that it printed."
    : state ? state.trouble || "Nothing is recorded now." : "Waiting for the first news.");
  text(get("rules"), fixed.rules);
  drawList(all, one);
  if (one) drawOne(one);
  drawFill(all);
  const run = one && many ? "?run=" + one.run : "";
  if (many && one && chosen === null && streamFor !== "" && !blind) connect();
  else if (many && chosen !== null && one && run !== streamFor) connect();
}

function drawOne(one) {
  text(get("word"), one.word);
  text(get("why"), sentence(one.why));
  get("action").hidden = !one.act;
  get("head").classList.toggle("calm", !one.act);
  text(get("act"), one.act);
  text(get("how"), one.how);
  get("cells").replaceChildren(...one.cells.map(drawCell));
  const alarms = one.alarms.map((alarm) => {
    const box = make("div", "alarm");
    box.dataset.rank = alarm.rank;
    box.append(make("b", "", alarm.sign + " " + alarm.name), make("p", "", sentence(alarm.message)));
    if (alarm.action) box.append(make("p", "", alarm.action));
    box.append(make("small", "", alarm.state));
    return box;
  });
  const badges = one.badges.map((words) => make("div", "alarm", words));
  get("alarms").replaceChildren(...alarms, ...badges);
  if (chart && chart.run !== one.run) { chart = null; drawChart(); }
}
function sentence(words) { return words ? words[0].toUpperCase() + words.slice(1) + (/[.!?]$/.test(words) ? "" : ".") : ""; }

function drawCell(cell) {
  const box = make("div", "cell");
  const words = /[a-z]{3}/i.test(cell.figure) || cell.figure.length + cell.unit.length > 8;
  const figure = make("div", "figure" + (words ? " words" : cell.figure.length + cell.unit.length > 6 ? " long" : "") + (cell.counts ? " counts" : ""), cell.figure);
  if (cell.unit && cell.figure !== "NO") figure.append(make("i", "", cell.unit));
  box.append(make("small", "", cell.label), figure);
  if (cell.bar !== undefined && cell.bar !== null) box.append(bar(cell));
  box.append(make("div", "aside", cell.aside));
  return box;
}
function bar(cell) {
  const box = make("div", "bar"), full = make("b"), mark = make("u");
  full.style.width = 100 * cell.bar + "%";
  mark.style.left = 100 * cell.mark + "%";
  box.append(full, mark);
  return box;
}

// Cards stay the same elements, so that a tap between two drawings is not lost.
const cards = new Map();
function drawList(all, one) {
  const list = get("list");
  for (const [run, card] of cards) if (!all.some((other) => other.run === run)) { card.remove(); cards.delete(run); }
  all.forEach((other, place) => {
    let card = cards.get(other.run);
    if (!card) {
      card = make("button", "card");
      card.append(make("span", "word"), make("span", "amps"), make("span", "name"), make("span", "time"), make("div", "bar"), make("div", "do"));
      card.addEventListener("click", () => { chosen = other.run; connect(); draw(); scrollTo(0, 0); });
      cards.set(other.run, card);
    }
    if (list.children[place] !== card) list.insertBefore(card, list.children[place] || null);
    const [amps, time] = other.cells, [word, figure, name, when, line, act] = card.children;
    card.dataset.rank = other.rank;
    card.classList.toggle("chosen", !!one && one.run === other.run);
    text(word, other.word);
    text(figure, amps.figure + " " + amps.unit);
    text(name, other.number + " " + other.name);
    text(when, amps.figure === "?" ? amps.aside : [time.label, time.figure, time.unit].join(" "));
    line.replaceChildren(...(amps.bar === undefined || amps.bar === null ? [] : bar(amps).children));
    text(act, other.act ? sentence(other.act) : "");
  });
}

function fillKey(one) { return one.run + " " + one.waiting; }
function drawFill(all) {
  const one = all.find((other) => other.fills && !taken.has(fillKey(other)));
  const fill = get("fill");
  if (!one || isBlind()) { fill.hidden = true; return; }
  fill.dataset.key = fillKey(one);
  fill.dataset.rank = one.rank;
  text(get("fillname"), one.name);
  text(get("fillword"), one.word);
  text(get("fillwhy"), sentence(one.why));
  text(get("fillact"), one.act);
  text(get("fillhow"), one.how);
  fill.hidden = false;
}

// ---- the chart ----
const SVG = "http://www.w3.org/2000/svg";
function shape(tag, kind, facts, words) {
  const node = document.createElementNS(SVG, tag);
  if (kind) node.setAttribute("class", kind);
  for (const [name, value] of Object.entries(facts)) node.setAttribute(name, value);
  if (words !== undefined) node.textContent = words;
  return node;
}
function drawChart() {
  const svg = get("chart"), wide = svg.clientWidth, high = svg.clientHeight;
  svg.replaceChildren();
  if (!chart || !wide) return;
  svg.setAttribute("viewBox", "0 0 " + wide + " " + high);
  const left = 40, right = wide - 6, top = 20, bottom = high * 0.68, low = high - 26, lowTop = high * 0.78;
  const past = chart.columns.length * chart.step, forecast = chart.forecast;
  const far = forecast ? Math.min((forecast[3] || forecast[2] * 2) * 1.15, past) : past / 4;
  // With a cut-out in sight as much past as future, else three times as much.
  const shows = forecast ? Math.min(past, Math.max(far, 120)) : past;
  const from = Math.max(chart.from, chart.now - shows), span = chart.now + far - from;
  const x = (t) => left + (t - from) / span * (right - left);
  const y = (amps) => bottom - (Math.max(amps, chart.bottom) - chart.bottom) / (chart.top - chart.bottom) * (bottom - top);
  const put = (...all) => svg.append(...all);
  const line = (kind, x1, y1, x2, y2) => put(shape("line", kind, { x1, y1, x2, y2 }));
  const label = (px, py, words, anchor) => put(shape("text", "", { x: px, y: py, "text-anchor": anchor || "end" }, words));
  const short = (value) => String(Number(value.toPrecision(3)));
  for (const amps of [chart.bottom, (chart.bottom + chart.limit) / 2]) {
    line("grid", left, y(amps), right, y(amps));
    label(left - 6, y(amps) + 4, short(amps));
  }
  line("limit", left, y(chart.limit), right, y(chart.limit));
  if (forecast) {
    const [amps, soon, middle, late] = forecast, start = Math.min(amps, chart.limit), at = chart.now;
    const edge = late || far, end = late ? chart.limit : start;
    const shown = (t) => Math.min(t, far);
    put(shape("polygon", "cone", { points: [[at, start], [at + shown(soon), chart.limit], [at + shown(edge), chart.limit], [at + shown(edge), end]]
      .map(([t, a]) => x(t).toFixed(1) + "," + y(a).toFixed(1)).join(" ") }));
    line("middle", x(at), y(start), x(at + shown(middle)), y(chart.limit));
    line("span", x(at + shown(soon)), y(chart.limit), x(at + shown(edge)), y(chart.limit));
  }
  label(left - 6, y(chart.limit) + 4, short(chart.limit));
  label(left + 2, y(chart.limit) - 5, "limit, A", "start");
  const volts = chart.columns.map((column) => column && column[2]), most = Math.max(1, ...volts.filter((v) => v !== null)) * 1.2;
  const yv = (v) => low - Math.max(v, 0) / most * (low - lowTop);
  const trace = path((column, px) => column && column[0] !== null ? "L" + px + " " + y(column[1]).toFixed(1) + "L" + px + " " + y(column[0]).toFixed(1) : "");
  const voltage = path((column, px) => column && column[2] !== null ? "L" + px + " " + yv(column[2]).toFixed(1) : "");
  line("grid", left, low, right, low);
  put(shape("path", "trace", { d: trace }), shape("path", "volts", { d: voltage }));
  const lastVolts = volts.filter((v) => v !== null).pop();
  if (lastVolts !== undefined) label(left - 6, yv(lastVolts) + 4, short(lastVolts) + " V");
  line("now", x(chart.now), top, x(chart.now), low);
  label(x(chart.now), high - 8, "now", "middle");
  const step = [15, 30, 60, 120, 300, 600, 1200].find((s) => s / span * (right - left) > 56) || 1200;
  for (let t = -step; chart.now + t >= from; t -= step) tick(t);
  for (let t = step; t < far; t += step) tick(t);
  function tick(t) {
    const px = x(chart.now + t), size = Math.abs(t), sign = t < 0 ? "\u2212" : "+";
    if (px > left + 14 && px < right - 20) label(px, high - 8, sign + (step < 60 ? size + " s" : size / 60 + " min"), "middle");
  }
  // A column without answers is a hole: never drawn across. One that merely lies between two polls is.
  function path(point) {
    let d = "", broken = true;
    chart.columns.forEach((column, index) => {
      if (column === null) { broken = true; return; }
      const t = chart.from + (index + 0.5) * chart.step;
      if (t < from) return;
      const next = point(column, x(t).toFixed(1));
      if (next) { d += broken ? "M" + next.slice(1) : next; broken = false; }
    });
    return d || "M0 0";
  }
}

// ---- sound, vibration, staying awake ----
function beep(at, hertz, long) {
  const tone = sound.createOscillator(), loud = sound.createGain();
  tone.frequency.value = hertz;
  tone.type = "square";
  loud.gain.value = 0.4;
  tone.connect(loud).connect(sound.destination);
  tone.start(at);
  tone.stop(at + long);
}
function alarming() {
  if (isBlind()) return "blind";
  const all = supplies();
  return all.some((one) => one.fills || (one.rank === "critical" && one.stale)) ? "alarm" : "";
}
function raise() {
  const why = alarming(), now = performance.now() / 1000;
  if (!why || now - lastAlarm < ALARM_EVERY_S) return;
  lastAlarm = now;
  if (navigator.vibrate) navigator.vibrate([400, 150, 400]);
  if (!sound || sound.state !== "running") return;
  const at = sound.currentTime;
  if (why === "blind") { beep(at, 440, 0.3); beep(at + 0.4, 330, 0.3); }
  else for (const n of [0, 1, 2]) beep(at + n * 0.25, 880, 0.15);
}
function drawSound() {
  const on = sound && sound.state === "running";
  text(get("sound"), on ? "Sound is on; tap for silence" : "Allow sound");
  text(get("awake"), wake && !wake.released ? "This page keeps the screen on."
    : "This page cannot keep the screen on here: set that at the phone. A phone that sleeps gives no alarm.");
}
get("sound").addEventListener("click", async () => {
  if (sound && sound.state === "running") await sound.suspend();
  else {
    sound = sound || new AudioContext();
    await sound.resume();
    beep(sound.currentTime, 660, 0.12);
  }
  drawSound();
});
async function stayAwake() {
  if (!("wakeLock" in navigator) || document.hidden || (wake && !wake.released)) return;
  try { wake = await navigator.wakeLock.request("screen"); } catch { wake = null; }
  drawSound();
}
document.addEventListener("click", stayAwake);
document.addEventListener("visibilitychange", () => {
  if (document.hidden) return;
  stayAwake();
  connect();  // what was sent while the phone slept is old
});
addEventListener("online", connect);
wide.addEventListener("change", draw);
addEventListener("resize", drawChart);
get("back").addEventListener("click", () => { chosen = null; connect(); draw(); });
get("figures").addEventListener("click", () => { taken.add(get("fill").dataset.key); draw(); });

setInterval(() => {
  const gap = since(lastTick);
  lastTick = clock();
  if (heard !== null && (gap > STALE_S || blindFor() > GIVE_UP_S) && since(lastTry) > GIVE_UP_S) {
    lastTry = clock();
    connect();
  }
  if (isBlind() || heard === null) draw();
  raise();
  drawSound();
}, 500);
let lastTry = clock();
connect();
stayAwake();
