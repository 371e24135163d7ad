"use strict";
// Draws the charts of a report from the numbers in the page. All times are in seconds.

const NS = "http://www.w3.org/2000/svg";
const PAPER = 900;
const LEFT = 48, RIGHT = 12, ABOVE = 22, BELOW = 34;
const MONTHS = "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec".split(" ");

function add(parent, name, attributes = {}, text = "") {
  const node = document.createElementNS(NS, name);
  for (const [key, value] of Object.entries(attributes)) node.setAttribute(key, value);
  node.textContent = text;
  parent.append(node);
  return node;
}

/** Round numbers from low to high, about `count` of them, as [value, text]. */
function ticks(low, high, count) {
  const raw = Math.max(high - low, 1e-9) / count;
  const power = 10 ** Math.floor(Math.log10(raw));
  const step = [1, 2, 5, 10].find(factor => factor * power >= raw * 0.999) * power;
  const digits = Math.max(0, -Math.floor(Math.log10(step) + 1e-9));
  const found = [];
  for (let n = Math.ceil(low / step - 1e-9); n * step <= high + step * 1e-9; n++)
    found.push([n * step, (n * step).toFixed(digits)]);
  return found;
}

function minutesText(seconds) {
  const whole = Math.round(seconds);
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
}

/** A path through points; null breaks it, and a point alone becomes a dot. */
function pathOf(points) {
  let path = "", pen = "M";
  points.forEach((point, at) => {
    if (point === null) { pen = "M"; return; }
    const [x, y] = point.map(value => value.toFixed(1));
    path += `${pen}${x} ${y}`;
    if (pen === "M" && (points[at + 1] ?? null) === null) path += "h0.1";
    pen = "L";
  });
  return path;
}

function bandOf(points) {
  let path = "", low = [], high = [];
  for (const point of [...points, null]) {
    if (point !== null) {
      high.push(`${point[0].toFixed(1)} ${point[2].toFixed(1)}`);
      low.unshift(`${point[0].toFixed(1)} ${point[1].toFixed(1)}`);
    } else if (high.length) {
      path += `M${[...high, ...low].join("L")}Z`;
      low = []; high = [];
    }
  }
  return path;
}

/** Frame, grid and names of one field; returns the inner drawing, cut off at its edges. */
function field(svg, place, name, scaleY, low, high) {
  const { left, top, width, height } = place;
  for (const [value, text] of ticks(low, high, Math.max(height / 42, 4))) {
    const y = scaleY(value) + top;
    add(svg, "line", { class: "grid", x1: left, x2: left + width, y1: y, y2: y });
    add(svg, "text", { x: left - 6, y: y + 4, "text-anchor": "end" }, text);
  }
  add(svg, "text", { class: "name", x: left, y: top - 7 }, name);
  const inner = add(svg, "svg", { x: left, y: top, width, height, overflow: "hidden" });
  add(svg, "line", { class: "edge", x1: left, x2: left, y1: top, y2: top + height });
  add(svg, "line", { class: "edge", x1: left, x2: left + width, y1: top + height, y2: top + height });
  return inner;
}

/** The parts around a drawing: the reading below it and the button that shows all again. */
function frame(box, label, whole) {
  const svg = add(box, "svg", { tabindex: "0", role: "img", "aria-label": label });
  const under = box.appendChild(document.createElement("div"));
  under.className = "under screen";
  const reading = under.appendChild(document.createElement("div"));
  reading.className = "reading quiet";
  reading.textContent = "Point at the chart to read values. Drag across it to zoom in.";
  const button = under.appendChild(document.createElement("button"));
  button.textContent = "Show all";
  button.hidden = true;
  button.addEventListener("click", whole);
  svg.addEventListener("dblclick", whole);
  return { svg, reading, button };
}

const widthOf = box => Math.max(box.clientWidth, 280);

/** Lets a drag pick a stretch, and a pointer or the arrow keys move the cursor. */
function steer(svg, { place, range, move, pick, whole }) {
  let began = null, at = null;
  const timeOf = event => {
    const { left, width } = place(), [from, to] = range();
    const scale = svg.viewBox.baseVal.width / svg.getBoundingClientRect().width;
    const x = (event.clientX - svg.getBoundingClientRect().left) * scale - left;
    return from + Math.min(Math.max(x / width, 0), 1) * (to - from);
  };
  const wide = stretch => stretch !== null && Math.abs(stretch[1] - stretch[0]) >
    (8 / place().width) * (range()[1] - range()[0]);
  svg.addEventListener("pointerdown", event => {
    if (event.isPrimary && event.button === 0) {
      began = timeOf(event);
      if (event.pointerType === "mouse") svg.setPointerCapture(event.pointerId);
    }
  });
  svg.addEventListener("pointermove", event => {
    at = timeOf(event);
    const stretch = began === null ? null : [began, at];
    move(at, wide(stretch) ? stretch : null);
  });
  svg.addEventListener("pointerup", event => {
    const stretch = began === null ? null : [began, timeOf(event)];
    began = null;
    if (wide(stretch)) pick(Math.min(...stretch), Math.max(...stretch));
    else { at = timeOf(event); move(at, null); }
  });
  svg.addEventListener("pointercancel", () => { began = null; });
  svg.addEventListener("pointerleave", event => {
    if (event.pointerType === "mouse" && began === null) { at = null; move(null, null); }
  });
  svg.addEventListener("keydown", event => {
    const [from, to] = range(), span = to - from;
    const step = { ArrowLeft: -span / 200, ArrowRight: span / 200 }[event.key];
    const factor = { "+": 0.5, "-": 2 }[event.key];
    at = Math.min(Math.max(at ?? (from + to) / 2, from), to);
    if (step !== undefined) move(at = Math.min(Math.max(at + step, from), to), null);
    else if (factor) pick(at - (at - from) * factor, at + (to - at) * factor);
    else if (event.key === "Escape") whole();
    else return;
    event.preventDefault();
  });
}

function runChart(box, data) {
  let from = 0, to = data.end_s, place = null, scaleX = null, cursor = null;
  const whole = () => pick(0, data.end_s);
  const { svg, reading, button } = frame(box, data.label, whole);
  const known = data.rows.filter(row => row !== null);

  function pick(low, high) {
    from = Math.max(low, 0);
    to = Math.min(high, data.end_s);
    if (to - from < Math.min(2, data.end_s)) to = Math.min(from + 2, data.end_s);
    button.hidden = from === 0 && to === data.end_s;
    draw(widthOf(box), false);
  }

  /** The rows that the stretch touches, with one more on each side so that lines reach the edge. */
  function visible() {
    let first = data.rows.findIndex(row => row !== null && row[0] >= from);
    let last = data.rows.findLastIndex(row => row !== null && row[0] <= to);
    if (first < 0) first = data.rows.length - 1;
    if (last < 0) last = 0;
    return data.rows.slice(Math.max(Math.min(first, last) - 1, 0), Math.max(first, last) + 2);
  }

  function rangeOf(panel, rows) {
    if (panel.limit !== undefined) {
      const high = Math.max(panel.limit, ...known.map(row => row[panel.high]));
      return [Math.min(0, ...known.map(row => row[panel.low])), high * 1.22];
    }
    const values = rows.filter(row => row !== null && row[panel.mean] !== null)
      .map(row => row[panel.mean]);
    if (!values.length) return [0, 1];
    const low = Math.min(...values), high = Math.max(...values);
    const half = Math.max((high - low) * 0.6, panel.least / 2);
    return [(low + high) / 2 - half, (low + high) / 2 + half];
  }

  function draw(total, isPrinted) {
    svg.replaceChildren();
    const width = total - LEFT - RIGHT, rows = visible();
    const [first, other] = isPrinted ? [230, 66] : [total < 600 ? 240 : 290, 84];
    let top = 0;
    scaleX = t => ((t - from) / (to - from || 1)) * width;
    const gaps = add(svg, "g");
    for (const panel of data.panels) {
      const height = panel === data.panels[0] ? first : other;
      top += ABOVE;
      const [low, high] = rangeOf(panel, rows);
      const scaleY = value => height - ((value - low) / (high - low)) * height;
      const inner = field(svg, { left: LEFT, top, width, height }, panel.name, scaleY, low, high);
      drawCurve(inner, panel, rows, scaleY);
      if (panel.limit !== undefined) drawSigns(inner, panel.limit, scaleY, width, height);
      top += height;
    }
    place = { left: LEFT, width, top: ABOVE, bottom: top };
    for (const [began, ended] of data.gaps) {
      const x = Math.max(scaleX(began), 0), end = Math.min(scaleX(ended), width);
      if (end > x) add(gaps, "rect",
        { class: "gap", x: LEFT + x, y: ABOVE, width: Math.max(end - x, 1), height: top - ABOVE });
    }
    const unit = timeUnit();
    for (const [value, text] of ticks(from / unit.seconds, to / unit.seconds, width / 60)) {
      const x = LEFT + scaleX(value * unit.seconds);
      add(svg, "line", { class: "edge", x1: x, x2: x, y1: top, y2: top + 4 });
      add(svg, "text", { x, y: top + 17, "text-anchor": "middle" }, text);
    }
    add(svg, "text", { x: LEFT + width, y: top + 31, "text-anchor": "end" },
      `${unit.name} since the start`);
    svg.setAttribute("viewBox", `0 0 ${total} ${top + BELOW}`);
    cursor = add(svg, "g");
  }

  function timeUnit() {
    if (data.end_s < 3 * 3600) return { seconds: 60, name: "minutes" };
    return data.end_s < 4 * 86400 ? { seconds: 3600, name: "hours" } : { seconds: 86400, name: "days" };
  }

  function drawCurve(inner, panel, rows, scaleY) {
    const through = index => rows.map(row =>
      row === null || row[index] === null ? null : [scaleX(row[0]), scaleY(row[index])]);
    if (panel.low !== undefined) {
      const band = rows.map(row => row === null || row[panel.low] === null ? null :
        [scaleX(row[0]), scaleY(row[panel.low]), scaleY(row[panel.high])]);
      add(inner, "path", { class: "band", d: bandOf(band) });
    }
    add(inner, "path", { class: "curve", d: pathOf(through(panel.mean)) });
  }

  function drawSigns(inner, limit, scaleY, width, height) {
    const y = scaleY(limit);
    add(inner, "line", { class: "limit", x1: 0, x2: width, y1: y, y2: y });
    const fans = data.fans.map(([said, amps, low, , high]) =>
      `M${scaleX(said).toFixed(1)} ${scaleY(amps).toFixed(1)}L${scaleX(low).toFixed(1)} ${y}H${
        scaleX(high).toFixed(1)}Z`);
    const ranges = data.fans.map(([, , low, , high]) =>
      `M${scaleX(low).toFixed(1)} ${y}H${scaleX(high).toFixed(1)}`);
    if (fans.length) {
      add(inner, "path", { class: "fan", d: fans.join("") });
      add(inner, "path", { class: "range", d: ranges.join("") });
    }
    add(inner, "text", { class: "limit-text", x: 4, y: y - 5 }, `limit ${limit} A`);
    signs(inner, "alarm", data.alarms, width, 26, "l-5 -9h10z", 12);
    signs(inner, "mark", data.marks, width, height - 15, "l5 5l-5 5l-5 -5z", height - 5);
  }

  /** One sign for each; a name is written where it stands first and where it has room. */
  function signs(inner, kind, list, width, y, shape, textY) {
    const path = [], named = new Set();
    let free = 0;
    list.forEach(([t, name], at) => {
      const x = scaleX(t), next = list[at + 1];
      if (x < 0 || x > width) return;
      path.push(`M${x.toFixed(1)} ${y}${shape}`);
      const room = name.length * 6.5 + 12, start = x + room > width ? x - room : x + 7;
      if (named.has(name) || start < free) return;
      if (kind === "mark" && next && scaleX(next[0]) < start + room - 8) return;
      named.add(name);
      add(inner, "text", { class: kind, x: start, y: textY }, name);
      free = start + room;
    });
    if (path.length) add(inner, "path", { class: kind, d: path.join("") });
  }

  function move(t, stretch) {
    cursor.replaceChildren();
    reading.replaceChildren();
    if (t === null) return;
    if (stretch !== null) {
      const [low, high] = [Math.min(...stretch), Math.max(...stretch)].map(scaleX);
      add(cursor, "rect", { class: "picked", x: LEFT + low, y: place.top, width: high - low,
        height: place.bottom - place.top });
    }
    const x = LEFT + scaleX(t);
    add(cursor, "line", { class: "cursor", x1: x, x2: x, y1: place.top, y2: place.bottom });
    for (const text of texts(t)) reading.appendChild(document.createElement("p")).textContent = text;
  }

  /** What is known at a moment: values first, then alarms, marks and forecasts near it. */
  function texts(t) {
    const clock = new Date((data.began_local_s + t) * 1000).toISOString().slice(11, 19);
    const words = [`${minutesText(t)} (${clock})`];
    const near = (8 / place.width) * (to - from);
    if (data.gaps.some(([began, ended]) => began <= t && t < ended)) words.push("no readings");
    else if (known.length) {
      const row = known.reduce((best, one) => Math.abs(one[0] - t) < Math.abs(best[0] - t) ? one : best);
      for (const panel of data.panels) {
        const value = row[panel.mean];
        if (value === null) continue;
        const range = panel.low !== undefined && row[panel.high] - row[panel.low] > 0.005
          ? ` (${row[panel.low].toFixed(2)} to ${row[panel.high].toFixed(2)})` : "";
        words.push(`${value.toFixed(panel.digits)} ${panel.unit}${range}`);
      }
    }
    const signs = [...data.alarms, ...data.marks].filter(([time]) => Math.abs(time - t) <= near);
    const fans = data.fans.filter(([said, , , , high]) => said <= t && t <= high);
    const lines = [words.join("  \u00b7  "), ...signs.slice(0, 3).map(([, , text]) => text)];
    for (const [said, , low, middle, high] of fans.slice(-2))
      lines.push(`Forecast at ${minutesText(said)}: cut-out between ${minutesText(low)} and ` +
        `${minutesText(high)}, most likely ${minutesText(middle)}`);
    if (signs.length > 3) lines.push(`and ${signs.length - 3} more`);
    return lines;
  }

  steer(svg, { place: () => place, range: () => [from, to], move, pick, whole });
  return draw;
}

const SHAPES = ["M-5 0a5 5 0 1 0 10 0a5 5 0 1 0 -10 0z", "M-4.5 -4.5h9v9h-9z", "M0 -6l6 6l-6 6l-6 -6z",
  "M0 -6l6 10h-12z", "M-2 -6h4v4h4v4h-4v4h-4v-4h-4v-4h4z", "M0 6l6 -10h-12z"];

function daysChart(box, data) {
  const points = data.groups.flatMap(([name, list], group) =>
    list.map(([t, value]) => ({ t, value, name, group: group % SHAPES.length })));
  const times = [...points.map(point => point.t), ...data.changes];
  const margin = Math.max((Math.max(...times) - Math.min(...times)) * 0.03, 43200);
  const all = [Math.min(...times) - margin, Math.max(...times) + margin];
  let [from, to] = all, place = null, scaleX = null, scaleY = null, cursor = null;
  const whole = () => pick(...all);
  const { svg, reading, button } = frame(box, data.label, whole);
  const legend = box.appendChild(document.createElement("p"));
  legend.className = "legend";
  data.groups.forEach(([name], group) => {
    const label = legend.appendChild(document.createElement("span"));
    const sign = add(label, "svg", { viewBox: "-7 -7 14 14" });
    add(sign, "path", { class: `group${group % SHAPES.length}`, d: SHAPES[group % SHAPES.length] });
    label.append(` ${name}`);
  });

  function pick(low, high) {
    [from, to] = [Math.max(low, all[0]), Math.min(high, all[1])];
    if (to - from < 86400) to = from + 86400;
    button.hidden = from === all[0] && to === all[1];
    draw(widthOf(box), false);
  }

  const day = t => new Date(t * 1000).toISOString();
  const dayText = t => `${Number(day(t).slice(8, 10))} ${MONTHS[Number(day(t).slice(5, 7)) - 1]}`;

  function draw(total, isPrinted) {
    svg.replaceChildren();
    const width = total - LEFT - RIGHT, height = isPrinted ? 240 : 280;
    const values = points.map(point => point.value), spread = Math.max(...values) - Math.min(...values);
    const low = Math.min(...values) - spread * 0.08 - 1e-3, high = Math.max(...values) + spread * 0.08 + 1e-3;
    scaleX = t => ((t - from) / (to - from)) * width;
    scaleY = value => height - ((value - low) / (high - low)) * height;
    place = { left: LEFT, width, top: ABOVE, bottom: ABOVE + height };
    const inner = field(svg, { left: LEFT, top: ABOVE, width, height }, data.name, scaleY, low, high);
    for (const t of data.changes)
      add(inner, "line", { class: "change", x1: scaleX(t), x2: scaleX(t), y1: 0, y2: height });
    for (const { t, value, group } of points)
      add(inner, "path", { class: `group${group}`, d: SHAPES[group],
        transform: `translate(${scaleX(t).toFixed(1)} ${scaleY(value).toFixed(1)})` });
    const days = (to - from) / 86400, wanted = days / (width / 80);
    const step = [1, 2, 7, 14, 28, 56, 91, 182, 365].find(one => one >= wanted) ?? 730;
    for (let n = Math.ceil(from / 86400 / step) * step; n * 86400 <= to; n += step) {
      const x = LEFT + scaleX(n * 86400);
      add(svg, "line", { class: "edge", x1: x, x2: x, y1: place.bottom, y2: place.bottom + 4 });
      add(svg, "text", { x, y: place.bottom + 17, "text-anchor": "middle" }, dayText(n * 86400));
    }
    svg.setAttribute("viewBox", `0 0 ${total} ${place.bottom + BELOW}`);
    cursor = add(svg, "g");
  }

  function move(t, stretch) {
    cursor.replaceChildren();
    reading.replaceChildren();
    if (t === null) return;
    if (stretch !== null) {
      const [low, high] = [Math.min(...stretch), Math.max(...stretch)].map(scaleX);
      add(cursor, "rect", { class: "picked", x: LEFT + low, y: place.top, width: high - low,
        height: place.bottom - place.top });
    }
    const near = points.reduce((best, one) => Math.abs(one.t - t) < Math.abs(best.t - t) ? one : best);
    const x = LEFT + scaleX(near.t);
    add(cursor, "line", { class: "cursor", x1: x, x2: x, y1: place.top, y2: place.bottom });
    reading.appendChild(document.createElement("p")).textContent =
      `${dayText(near.t)} ${day(near.t).slice(0, 4)}, ${day(near.t).slice(11, 16)}: ` +
      `${near.value.toFixed(4)} S  \u00b7  ${near.name}`;
  }

  steer(svg, { place: () => place, range: () => [from, to], move, pick, whole });
  return draw;
}

const drawings = [];
for (const box of document.querySelectorAll(".chart")) {
  const data = JSON.parse(box.querySelector("script").textContent);
  drawings.push([box, (data.groups ? daysChart : runChart)(box, data)]);
}
const drawAll = () => drawings.forEach(([box, draw]) => draw(widthOf(box), false));
addEventListener("resize", drawAll);
addEventListener("beforeprint", () => drawings.forEach(([, draw]) => draw(PAPER, true)));
addEventListener("afterprint", drawAll);
drawAll();
