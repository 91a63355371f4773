"use strict";
// The map: pan and zoom by pointer, touch, wheel, keys and buttons. The view is the part of the sheet that shows.
function makeMap(onChoose) {
  const svg = document.getElementById("map"), hold = document.getElementById("map-hold");
  const full = { w: svg.viewBox.baseVal.width, h: svg.viewBox.baseVal.height };
  const view = { x: 0, y: 0, w: full.w, h: full.h };
  const smallest = 150; // 15 m across
  const fingers = new Map(), streets = [...svg.querySelectorAll(".street")];
  let moved = 0;

  function show() {
    svg.setAttribute("viewBox", [view.x, view.y, view.w, view.h].map((v) => v.toFixed(1)).join(" "));
    const size = svg.getBoundingClientRect();
    const unit = Math.max(view.w / Math.max(size.width, 1), view.h / Math.max(size.height, 1));
    svg.style.setProperty("--unit", unit.toFixed(4));
    hold.classList.toggle("near", view.w < full.w * 0.95);
    streets.forEach((name) => { name.style.display = name.dataset.long / unit > 7 * name.textContent.length ? "" : "none"; });
    showScale(unit);
    svg.dispatchEvent(new CustomEvent("view", { detail: { unit: unit } }));
  }
  // A bar of a round length, between 40 and 130 pixels long.
  function showScale(unit) {
    const step = plan.us ? 3.048 : 10, longest = (130 * unit) / step;
    const power = 10 ** Math.floor(Math.log10(longest));
    const nice = [5, 2, 1].map((n) => n * power).find((n) => n <= longest);
    const bar = document.getElementById("scale-bar");
    bar.style.width = (nice * step) / unit + "px";
    bar.textContent = nice.toLocaleString("en") + (plan.us ? " ft" : " m");
  }
  function clamp() {
    view.w = Math.min(full.w, Math.max(smallest, view.w));
    view.h = (view.w * full.h) / full.w;
    view.x = Math.min(full.w - view.w, Math.max(0, view.x));
    view.y = Math.min(full.h - view.h, Math.max(0, view.y));
    show();
  }
  function place(event) {
    const matrix = svg.getScreenCTM();
    return matrix ? new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix.inverse()) : { x: 0, y: 0 };
  }
  function zoom(factor, at) {
    const centre = at || { x: view.x + view.w / 2, y: view.y + view.h / 2 };
    const w = Math.min(full.w, Math.max(smallest, view.w * factor)), share = w / view.w;
    view.x = centre.x - (centre.x - view.x) * share;
    view.y = centre.y - (centre.y - view.y) * share;
    view.w = w;
    clamp();
  }
  const moves = {
    in: () => zoom(0.6), out: () => zoom(1 / 0.6),
    west: () => slide(-0.25, 0), east: () => slide(0.25, 0), north: () => slide(0, -0.25), south: () => slide(0, 0.25),
    all: () => { view.x = 0; view.y = 0; view.w = full.w; clamp(); },
  };
  function slide(dx, dy) { view.x += dx * view.w; view.y += dy * view.h; clamp(); }

  document.querySelectorAll("[data-move]").forEach((button) => {
    button.addEventListener("click", () => moves[button.dataset.move]());
  });
  const keys = { "+": "in", "=": "in", "-": "out", "_": "out", "0": "all", Home: "all",
    ArrowLeft: "west", ArrowRight: "east", ArrowUp: "north", ArrowDown: "south" };
  hold.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || !(event.key in keys)) return;
    event.preventDefault();
    moves[keys[event.key]]();
  });
  // The wheel scrolls the page unless the map has been chosen or Ctrl is held, so that nobody is caught in it.
  hold.addEventListener("wheel", (event) => {
    if (!event.ctrlKey && !hold.contains(document.activeElement)) return;
    event.preventDefault();
    zoom(event.deltaY > 0 ? 1.2 : 1 / 1.2, place(event));
  }, { passive: false });

  hold.addEventListener("pointerdown", (event) => {
    fingers.set(event.pointerId, { x: event.clientX, y: event.clientY });
    moved = fingers.size > 1 ? 99 : 0;
  });
  hold.addEventListener("pointermove", (event) => {
    const last = fingers.get(event.pointerId);
    if (!last) return;
    const before = spread();
    const from = place({ clientX: last.x, clientY: last.y }), to = place(event);
    moved += Math.abs(event.clientX - last.x) + Math.abs(event.clientY - last.y);
    last.x = event.clientX;
    last.y = event.clientY;
    if (moved < 6) return;
    if (!hold.hasPointerCapture(event.pointerId)) hold.setPointerCapture(event.pointerId);
    const after = spread();
    view.x += (from.x - to.x) / fingers.size;
    view.y += (from.y - to.y) / fingers.size;
    if (before && after) zoom(before.apart / after.apart, place({ clientX: after.x, clientY: after.y }));
    else clamp();
  });
  function spread() {
    if (fingers.size !== 2) return null;
    const [a, b] = [...fingers.values()];
    return { apart: Math.max(10, Math.hypot(a.x - b.x, a.y - b.y)), x: (a.x + b.x) / 2, y: (a.y + b.y) / 2 };
  }
  ["pointerup", "pointercancel"].forEach((kind) => hold.addEventListener(kind, (event) => {
    fingers.delete(event.pointerId);
  }));
  svg.addEventListener("click", (event) => {
    const yard = event.target.closest("[data-place]");
    if (yard && moved < 6) onChoose(Number(yard.dataset.place));
  });
  window.addEventListener("resize", show);

  function frame(box, air) {
    view.w = Math.max(box.width * air, ((box.height * air) * full.w) / full.h);
    view.h = (view.w * full.h) / full.w;
    view.x = box.x + box.width / 2 - view.w / 2;
    view.y = box.y + box.height / 2 - view.h / 2;
    clamp();
  }
  show();
  return { svg: svg, frame: frame };
}

function svgNode(name, attributes, words) {
  const node = document.createElementNS("http://www.w3.org/2000/svg", name);
  Object.entries(attributes).forEach(([key, value]) => node.setAttribute(key, value));
  if (words !== undefined) node.textContent = words;
  return node;
}

function polyline(xy) {
  let path = "";
  for (let i = 0; i + 1 < xy.length; i += 2) path += (i ? "L" : "M") + xy[i] + " " + xy[i + 1];
  return path;
}
