"use strict";
// A yard drawn by hand. Places are kept in metres: x to the right and y down from the cross, as "along" and
// "out" of the file that habitat reads; nothing is sent anywhere.

const KINDS = {
  yard: { words: "the lot", fill: "none", stroke: "#1d2a21", width: 2.5 },
  building: { words: "house, garage, shed", fill: "#c9c4b6", stroke: "#57534a", high: true },
  paving: { words: "drive, walk, patio, porch", fill: "#e9e4d6", stroke: "#8a8678" },
  lawn: { words: "lawn or play ground to keep", fill: "#dfeccb", stroke: "#7d9a55" },
  keep: { words: "bed or place to leave alone", fill: "#f3d9c6", stroke: "#a3603a" },
  tree: { words: "tree", fill: "none", stroke: "#2f6b3a", high: true, crown: true, point: true },
  fence: { words: "fence or hedge line", stroke: "#6b4a1f", dash: "10 3 2 3", line: true },
  wires: { words: "overhead wires", stroke: "#333", dash: "2 5", line: true },
  buried: { words: "buried line, as far as you know", stroke: "#a01f1f", dash: "8 6", line: true },
  septic: { words: "septic field", fill: "#e3d6ea", stroke: "#6d3f86" },
  downspout: { words: "downspout, where roof water comes out", fill: "#cfe4ef", stroke: "#1f5f8a", point: true },
  water: { words: "pond, stream, wet spot", fill: "#cfe4ef", stroke: "#3b7899" },
};
const METRES = { feet: 0.3048, metres: 1 };
const COLUMNS = ["what", "name", "point", "along", "out", "from_1", "distance_1", "from_2", "distance_2", "side", "value", "crown"];
const SNAP_PX = 14;

const $ = (id) => document.getElementById(id);
const svg = $("plan");
const TOLD = ["unit", "latitude", "longitude", "parcel", "address", "beside", "side"]; // as they stand in the file
let state = { items: [], unit: "feet", heading: "0", latitude: "", longitude: "", parcel: "", address: "", beside: "", side: "" };
const start = JSON.parse($("start").textContent); // a yard of a parcel file: what is known is shown, not saved
const known = start ? start.known : [];
const fileName = start ? start.file : "tape.csv";
if (start) Object.assign(state, start.state);
let draft = []; // corners of what is being drawn
let view = { x: -15, y: -15, perM: 14 };
let cursor = [0, 0];
let picked = -1;
let image = null;
const before = [], after = [];

const unit = () => METRES[state.unit];
const step = () => (state.unit === "feet" ? 0.5 * 0.3048 : 0.1);
const snap = (v) => Math.round(v / step()) * step();
const number = (text) => {
  const found = /^\s*(?:(-?\d+(?:[.,]\d+)?)\s*'\s*(?:(\d+(?:[.,]\d+)?)\s*"?)?|(-?\d+(?:[.,]\d+)?))\s*$/.exec(text);
  if (!found) return NaN;
  const plain = (s) => parseFloat(s.replace(",", "."));
  return found[3] !== undefined ? plain(found[3]) : plain(found[1]) + (found[2] ? plain(found[2]) / 12 : 0);
};
const shown = (m) => (m / unit()).toFixed(1) + (state.unit === "feet" ? " ft" : " m");
const say = (text) => { $("said").textContent = text; };

function keep() {
  before.push(JSON.stringify(state));
  after.length = 0;
}
function turn(from, to) {
  if (!from.length) return say("There is nothing more to undo or do again.");
  to.push(JSON.stringify(state));
  state = JSON.parse(from.pop());
  picked = -1;
  fill();
  draw();
}

function area(points) {
  let twice = 0;
  points.forEach(([x, y], k) => { const [u, v] = points[(k + 1) % points.length]; twice += x * v - u * y; });
  return Math.abs(twice) / 2;
}
function centre(points) {
  return [0, 1].map((k) => points.reduce((sum, p) => sum + p[k], 0) / points.length);
}

// --- drawing -------------------------------------------------------------------------------------------

const toPx = ([x, y]) => [(x - view.x) * view.perM, (y - view.y) * view.perM];
const toGround = (px, py) => [px / view.perM + view.x, py / view.perM + view.y];
function node(name, given, text) {
  const one = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const [key, value] of Object.entries(given)) one.setAttribute(key, value);
  if (text !== undefined) one.textContent = text;
  return one;
}

function grid(wide, high) {
  const out = node("g", { stroke: "#e4dec9", "stroke-width": 1 });
  const each = (state.unit === "feet" ? 10 * 0.3048 : 2) * (view.perM < 5 ? 5 : 1);
  for (let x = Math.ceil(view.x / each) * each; (x - view.x) * view.perM < wide; x += each) {
    const at = (x - view.x) * view.perM;
    out.append(node("line", { x1: at, x2: at, y1: 0, y2: high }));
  }
  for (let y = Math.ceil(view.y / each) * each; (y - view.y) * view.perM < high; y += each) {
    const at = (y - view.y) * view.perM;
    out.append(node("line", { x1: 0, x2: wide, y1: at, y2: at }));
  }
  return out;
}

function shape(item, k) {
  const kind = KINDS[item.what], out = node("g", { "data-item": k });
  const look = { stroke: kind.stroke, "stroke-width": k === picked ? 4 : kind.width || 1.8, fill: kind.fill || "none" };
  if (kind.dash) look["stroke-dasharray"] = kind.dash;
  if (kind.point) {
    const [x, y] = toPx(item.points[0]), r = Math.max(5, ((number(item.crown || "") || 0) * unit() * view.perM) / 2);
    out.append(node("circle", { cx: x, cy: y, r, ...look, "stroke-dasharray": "6 4" }), node("circle", { cx: x, cy: y, r: 4, fill: kind.stroke }));
  } else {
    const points = item.points.map((p) => toPx(p).join(",")).join(" ");
    out.append(node(kind.line ? "polyline" : "polygon", { points, ...look }));
    const many = kind.line ? item.points.length - 1 : item.points.length;
    for (let i = 0; k === picked && i < many; i++) {
      const a = item.points[i], b = item.points[(i + 1) % item.points.length], [x, y] = toPx(centre([a, b]));
      out.append(node("text", { x, y: y - 4, "text-anchor": "middle", "font-size": 13, stroke: "#fffdf6", "stroke-width": 4, "paint-order": "stroke" },
        shown(Math.hypot(a[0] - b[0], a[1] - b[1]))));
    }
  }
  const [x, y] = toPx(centre(item.points));
  out.append(node("text", { x, y: y + (kind.point ? -8 : 4), "text-anchor": "middle", "font-size": 13 }, item.name));
  if (k === picked) {
    item.points.forEach((p, i) => {
      const [u, v] = toPx(p);
      out.append(node("circle", { cx: u, cy: v, r: 10, fill: "#fffdf6", stroke: "#5d1a5f", "stroke-width": 3, "data-corner": i }));
    });
  }
  return out;
}

function shadow(item) {
  const kind = KINDS[item.what] || { stroke: "#5d1a5f" }, out = node("g", { opacity: 0.45, "pointer-events": "none" });
  for (const part of item.parts) {
    const points = part.map((p) => toPx(p).join(",")).join(" "), [x, y] = toPx(part[0]);
    const look = { stroke: kind.stroke, "stroke-width": 1.5, fill: kind.fill || "none" };
    if (part.length === 1) out.append(node("circle", { cx: x, cy: y, r: Math.max(4, (item.across / 2) * view.perM), ...look, "stroke-dasharray": "3 3" }));
    else out.append(node(kind.line ? "polyline" : "polygon", { points, ...look }));
  }
  if (item.name && item.parts.length) {
    const [x, y] = toPx(centre(item.parts[0]));
    out.append(node("text", { x, y, "text-anchor": "middle", "font-size": 13 }, item.name));
  }
  return out;
}

function draw() {
  const box = svg.getBoundingClientRect();
  svg.replaceChildren();
  if (image && number($("image-width").value) > 0) {
    const wide = number($("image-width").value) * unit() * view.perM, [x, y] = toPx([0, 0]);
    svg.append(node("image", { href: image.url, x, y, width: wide, height: (wide * image.high) / image.wide, opacity: 0.5 }));
  }
  svg.append(grid(box.width, box.height));
  known.forEach((item) => svg.append(shadow(item)));
  state.items.forEach((item, k) => svg.append(shape(item, k)));
  const [ox, oy] = toPx([0, 0]);
  svg.append(node("path", { d: `M${ox - 9},${oy}h18M${ox},${oy - 9}v18`, stroke: "#5d1a5f", "stroke-width": 2 }));
  if (draft.length) {
    svg.append(node("polyline", { points: draft.map((p) => toPx(p).join(",")).join(" "), fill: "none", stroke: "#5d1a5f", "stroke-width": 2 }));
    draft.forEach((p) => { const [x, y] = toPx(p); svg.append(node("circle", { cx: x, cy: y, r: 6, fill: "#5d1a5f" })); });
  }
  if (document.activeElement === svg) {
    const [x, y] = toPx(cursor);
    svg.append(node("circle", { cx: x, cy: y, r: 8, fill: "none", stroke: "#2f6b3a", "stroke-width": 2 }));
  }
  north(box);
  listed();
  $("text").value = written();
}

function north(box) {
  const to = -(number(state.heading) || 0), x = box.width - 34, y = 40;
  const out = node("g", { transform: `translate(${x},${y}) rotate(${to})` });
  out.append(node("path", { d: "M0,-22 L7,10 L0,4 L-7,10 Z", fill: "#1d2a21" }), node("text", { y: 26, "text-anchor": "middle", "font-size": 12 }, "N"));
  svg.append(out);
}

function listed() {
  $("items").replaceChildren(...state.items.map((item, k) => {
    const row = document.createElement("li"), kind = KINDS[item.what];
    const size = kind.point ? "" : kind.line ? `, ${shown(length(item.points))} long`
      : `, ${(area(item.points) / unit() ** 2).toFixed(0)} square ${state.unit}`;
    const text = document.createElement("span");
    text.textContent = `${item.name}: ${kind.words}${size} `;
    row.append(text, button("Change", () => { picked = picked === k ? -1 : k; draw(); }), " ",
      button("Take away", () => { keep(); state.items.splice(k, 1); picked = -1; draw(); }));
    return row;
  }));
}
function length(points) {
  return points.slice(1).reduce((sum, p, i) => sum + Math.hypot(p[0] - points[i][0], p[1] - points[i][1]), 0);
}
function button(words, act) {
  const one = document.createElement("button");
  one.type = "button";
  one.textContent = words;
  one.addEventListener("click", act);
  return one;
}

// --- corners -------------------------------------------------------------------------------------------

function named(what) {
  const given = $("name").value.trim();
  if (given && !state.items.some((i) => i.what === what && i.name === given)) return given;
  let k = 1;
  const taken = new Set(state.items.filter((i) => i.what === what).map((i) => i.name));
  const stem = what === "yard" ? "yard" : given || what;
  while (taken.has(`${stem} ${k}`)) k++;
  return `${stem} ${k}`;
}

function finish(points) {
  const what = $("what").value, kind = KINDS[what], least = kind.point ? 1 : kind.line ? 2 : 3;
  if (points.length < least) return say(`${kind.words} needs ${least} corners at least.`);
  keep();
  const item = { what, name: named(what), points: points.map((p) => [...p]) };
  if (kind.high && $("height").value.trim()) item.height = $("height").value.trim();
  if (kind.crown && $("crown").value.trim()) item.crown = $("crown").value.trim();
  state.items.push(item);
  draft = [];
  $("name").value = "";
  say(`${item.name} is drawn.`);
  draw();
}

function corner([x, y]) {
  const at = [snap(x), snap(y)], kind = KINDS[$("what").value];
  if (kind.point) return finish([at]);
  if (draft.length > 2 && !kind.line) {
    const [a, b] = [toPx(draft[0]), toPx([x, y])];
    if (Math.hypot(a[0] - b[0], a[1] - b[1]) < SNAP_PX) return finish(draft);
  }
  draft.push(at);
  say(draft.length > 1 ? `Last side ${shown(Math.hypot(at[0] - draft.at(-2)[0], at[1] - draft.at(-2)[1]))}.` : "First corner.");
  draw();
}

function bySides() {
  const lines = $("sides").value.split("\n").map((l) => l.trim()).filter(Boolean);
  const points = [[0, 0]];
  let way = 0;
  for (const line of lines) {
    const [long, turned] = line.split(/[,;\t]\s*|\s+(?=-?\d)/);
    const metres = number(long || "") * unit(), degrees = turned === undefined ? 90 : number(turned);
    if (!(metres > 0) || !isFinite(degrees)) return say(`'${line}' is no side: write its length and the turn after it.`);
    const [x, y] = points.at(-1);
    points.push([x + metres * Math.cos(way), y + metres * Math.sin(way)]);
    way += (degrees * Math.PI) / 180;
  }
  if (points.length < 3) return say("Write two sides at least.");
  const off = Math.hypot(points.at(-1)[0], points.at(-1)[1]);
  if (points.length > 3 && off < 1) points.pop();
  finish(points);
  say(off < 1 ? `It closes to ${shown(off)}.` : `The last side closes it: ${shown(off)}.`);
  whole();
}

// --- pointer and keys ----------------------------------------------------------------------------------

const fingers = new Map();
let drag = null;
const place = (event) => { const box = svg.getBoundingClientRect(); return [event.clientX - box.left, event.clientY - box.top]; };

svg.addEventListener("pointerdown", (event) => {
  svg.setPointerCapture(event.pointerId);
  fingers.set(event.pointerId, place(event));
  const grip = event.target.getAttribute("data-corner");
  drag = { from: place(event), moved: false, corner: grip === null ? -1 : Number(grip), view: { ...view }, kept: false };
});
svg.addEventListener("pointermove", (event) => {
  if (!fingers.has(event.pointerId) || !drag) return;
  const was = fingers.get(event.pointerId), now = place(event);
  if (fingers.size === 2) {
    const other = [...fingers.entries()].find(([id]) => id !== event.pointerId)[1];
    const ratio = Math.hypot(now[0] - other[0], now[1] - other[1]) / Math.max(1, Math.hypot(was[0] - other[0], was[1] - other[1]));
    zoom(ratio, other);
    drag.moved = true;
  } else if (drag.moved || Math.hypot(now[0] - drag.from[0], now[1] - drag.from[1]) > 6) {
    drag.moved = true;
    if (drag.corner >= 0) {
      if (!drag.kept) { keep(); drag.kept = true; }
      state.items[picked].points[drag.corner] = toGround(...now).map(snap);
    } else {
      view = { ...drag.view, x: drag.view.x - (now[0] - drag.from[0]) / view.perM, y: drag.view.y - (now[1] - drag.from[1]) / view.perM };
    }
    draw();
  }
  fingers.set(event.pointerId, now);
});
function lifted(event) {
  const there = fingers.delete(event.pointerId);
  if (there && drag && !drag.moved && event.type === "pointerup" && !fingers.size && drag.corner < 0) corner(toGround(...place(event)));
  if (!fingers.size) drag = null;
}
svg.addEventListener("pointerup", lifted);
svg.addEventListener("pointercancel", lifted);
svg.addEventListener("wheel", (event) => { event.preventDefault(); zoom(event.deltaY < 0 ? 1.15 : 1 / 1.15, place(event)); }, { passive: false });

function zoom(ratio, [px, py]) {
  const at = toGround(px, py);
  view.perM = Math.min(200, Math.max(0.5, view.perM * ratio));
  view.x = at[0] - px / view.perM;
  view.y = at[1] - py / view.perM;
  draw();
}
function whole() {
  const box = svg.getBoundingClientRect(), all = [[0, 0], ...state.items.flatMap((i) => i.points), ...known.flatMap((i) => i.parts.flat())];
  const low = [0, 1].map((k) => Math.min(...all.map((p) => p[k]))), high = [0, 1].map((k) => Math.max(...all.map((p) => p[k])));
  view.perM = Math.min(60, 0.85 * Math.min(box.width / Math.max(5, high[0] - low[0]), box.height / Math.max(5, high[1] - low[1])));
  view.x = (low[0] + high[0]) / 2 - box.width / 2 / view.perM;
  view.y = (low[1] + high[1]) / 2 - box.height / 2 / view.perM;
  draw();
}

svg.addEventListener("keydown", (event) => {
  const moves = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }, move = moves[event.key];
  if (move) cursor = cursor.map((v, k) => v + move[k] * step() * (event.shiftKey ? 10 : 1));
  else if (event.key === "Enter") return corner(cursor);
  else if (event.key === "Escape") draft = [];
  else if (event.key === "Delete" && picked >= 0) { keep(); state.items.splice(picked, 1); picked = -1; } else return;
  event.preventDefault();
  say(`Pointer ${shown(cursor[0])} to the right, ${shown(cursor[1])} down.`);
  draw();
});
document.addEventListener("keydown", (event) => {
  if (!(event.ctrlKey || event.metaKey) || event.key.toLowerCase() !== "z" || event.target.matches("input, textarea")) return;
  event.preventDefault();
  if (event.shiftKey) turn(after, before); else turn(before, after);
});

// --- the file ------------------------------------------------------------------------------------------

const quoted = (text) => (/[",\n\r]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text);
const far = (metres) => (metres / unit()).toFixed(4);

function written() {
  const rows = [COLUMNS], blank = () => COLUMNS.map(() => "");
  const bearing = ((((number(state.heading) || 0) + 90) % 360) + 360) % 360;
  for (const [name, value] of [...TOLD.map((name) => [name, state[name]]), ["bearing", String(bearing)]]) {
    const row = blank();
    [row[0], row[1], row[10]] = ["setting", name, value];
    if (value || !TOLD.slice(3).includes(name)) rows.push(row);
  }
  state.items.forEach((item, k) => item.points.forEach(([x, y], i) => {
    const row = blank();
    [row[0], row[1], row[2], row[3], row[4]] = [item.what, item.name, `${k + 1}-${i + 1}`, far(x), far(y)];
    if (!i) [row[10], row[11]] = [item.height || "", item.crown || ""];
    rows.push(row);
  }));
  return rows.map((row) => row.map(quoted).join(",")).join("\r\n") + "\r\n";
}

function records(text) {
  const rows = [[]];
  let cell = "", inside = false;
  for (let k = 0; k < text.length; k++) {
    const c = text[k];
    if (inside) { if (c !== '"') cell += c; else if (text[k + 1] === '"') { cell += c; k++; } else inside = false; }
    else if (c === '"') inside = true;
    else if (c === ",") { rows.at(-1).push(cell); cell = ""; }
    else if (c === "\n") { rows.at(-1).push(cell.replace(/\r$/, "")); cell = ""; rows.push([]); }
    else cell += c;
  }
  rows.at(-1).push(cell);
  return rows.filter((row) => row.some((c) => c.trim()) && !row[0].startsWith("#"));
}

function read(text) {
  const [head, ...rows] = records(text), at = (row, name) => (row[head.indexOf(name)] || "").trim();
  if (!["what", "along", "out"].every((name) => head.includes(name))) return say("This is no file of a yard that was drawn here or measured by tape.");
  keep();
  const given = Object.fromEntries(rows.filter((r) => at(r, "what") === "setting").map((r) => [at(r, "name"), at(r, "value")]));
  const next = { items: [], heading: String((number(given.bearing || "90") || 0) - 90) };
  for (const name of TOLD) next[name] = given[name] || "";
  if (!(next.unit in METRES)) next.unit = "feet";
  let left = 0;
  for (const row of rows) {
    const what = at(row, "what");
    if (!(what in KINDS)) continue;
    const x = number(at(row, "along")), y = number(at(row, "out"));
    if (!isFinite(x) || !isFinite(y)) { left += 1; continue; }
    const name = at(row, "name") || what;
    let item = KINDS[what].point ? undefined : next.items.find((i) => i.what === what && i.name === name);
    if (!item) next.items.push((item = { what, name, points: [], height: at(row, "value"), crown: at(row, "crown") }));
    item.points.push([x * METRES[next.unit], y * METRES[next.unit]]);
  }
  state = next;
  picked = -1;
  fill();
  whole();
  say(left ? `${left} corners that were measured with two tapes are not drawn here.` : `${next.items.length} things were read.`);
}

function save() {
  const joins = state.parcel || state.address;
  if (!joins && !state.items.some((i) => i.what === "yard")) return say("Draw the lot first: what it is, the lot.");
  const placed = Math.abs(number(state.latitude)) <= 90 && Math.abs(number(state.longitude)) <= 180;
  if (!joins && !state.beside && !placed) {
    $("latitude").focus();
    return say("Say where it is: latitude and longitude, from a phone or a map.");
  }
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([written()], { type: "text/csv" }));
  link.download = fileName;
  link.click();
  URL.revokeObjectURL(link.href);
  say(start ? `Saved as ${fileName}: put it into the folder ${start.folder}.` : "Saved as tape.csv: put it beside study.toml.");
}

function fill() {
  for (const name of [...TOLD, "heading"]) $(name).value = state[name];
}
for (const name of [...TOLD, "heading"]) {
  $(name).addEventListener("change", () => { keep(); state[name] = $(name).value.trim(); draw(); });
}
for (const [what, kind] of Object.entries(KINDS)) {
  const one = document.createElement("option");
  [one.value, one.textContent] = [what, kind.words];
  $("what").append(one);
}
function asks() {
  const kind = KINDS[$("what").value];
  document.querySelector(".high").hidden = !kind.high;
  document.querySelector(".crown").hidden = !kind.crown;
  draft = [];
  draw();
}
$("what").addEventListener("change", asks);
$("finish").addEventListener("click", () => finish(draft));
$("back").addEventListener("click", () => { draft.pop(); draw(); });
$("by-sides").addEventListener("click", bySides);
$("undo").addEventListener("click", () => turn(before, after));
$("redo").addEventListener("click", () => turn(after, before));
$("save").addEventListener("click", save);
$("print").addEventListener("click", () => { whole(); window.print(); });
$("nearer").addEventListener("click", () => zoom(1.3, [svg.clientWidth / 2, svg.clientHeight / 2]));
$("farther").addEventListener("click", () => zoom(1 / 1.3, [svg.clientWidth / 2, svg.clientHeight / 2]));
$("whole").addEventListener("click", whole);
$("open").addEventListener("change", async (event) => { if (event.target.files[0]) read(await event.target.files[0].text()); });
$("image").addEventListener("change", (event) => {
  if (!event.target.files[0]) return;
  const found = new Image(), url = URL.createObjectURL(event.target.files[0]);
  found.addEventListener("load", () => {
    image = { url, wide: found.naturalWidth, high: found.naturalHeight };
    if (!(number($("image-width").value) > 0)) say("Say how wide the picture is on the ground, and it is shown at scale.");
    draw();
  });
  found.addEventListener("error", () => say("This picture cannot be shown."));
  found.src = url;
});
$("image-width").addEventListener("change", draw);
document.querySelectorAll("form").forEach((form) => form.addEventListener("submit", (event) => event.preventDefault()));
new ResizeObserver(draw).observe(svg);
svg.addEventListener("focus", draw);
if (start) {
  $("lead").textContent = `What is known of ${start.title} is drawn in light lines. Draw in what is missing (drive, trees, walks, wires); only what you draw is saved. Then save the file into ${start.folder} as ${fileName}.`;
  $("what").value = "paving";
  document.title = `Draw in what is missing: ${start.title}`;
}
fill();
asks();
if (start) whole();
