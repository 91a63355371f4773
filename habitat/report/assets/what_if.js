// Opened results: a yard's beds and plants are changed here, and the server says what comes of it. All text from data is set as text.
const plan = JSON.parse(document.getElementById("plan-data").textContent);
const byId = (id) => document.getElementById(id);
const shapes = [...document.querySelectorAll("#yards [data-place]")];
document.querySelector("#map .beds").remove(); // beds as opened, which do not stay
const boxes = shapes.map((shape) => shape.getBBox());
const map = makeMap((place) => openYard(place));
const STEP = plan.us ? 3.048 : 2.5; // a tap moves a foot, or a quarter of a metre, in units of the map (dm)
const MOST_FOUND = 8;
const now = { yard: -1, version: 0, bed: "", ghost: null, corner: -1, whole: null };

async function ask(path, body) {
  const said = await fetch(path, body === undefined ? {} : { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) });
  const kind = said.headers.get("Content-Type") || "";
  const got = kind.startsWith("application/json") ? await said.json() : { error: (await said.text()).trim() };
  if (!said.ok) throw Object.assign(new Error(got.error || "the server does not answer as it should"), { outdated: said.status === 409 });
  return got;
}

function tell(words, wrong) {
  byId("said").textContent = words;
  byId("said").classList.toggle("wrong", Boolean(wrong));
}

// Do something on the server, one after the other, and show what stands then.
let queue = Promise.resolve();
function act(path, body) {
  queue = queue.then(async () => {
    document.body.setAttribute("aria-busy", "true");
    try {
      show(await ask(path, { ...body, version: now.version, place: now.yard >= 0 ? now.yard : null }));
      tell({ "/save": "Saved. Draw all anew to have sheets, lists and page of it.", "/undo": "Undone." }[path] || now.whole.said);
    } catch (error) {
      tell(error.message || "The server does not answer: was it closed?", true);
      if (error.outdated) await refresh(false);
    }
    document.body.removeAttribute("aria-busy");
  });
  return queue;
}

async function refresh(quiet) {
  const whole = await ask("/state");
  if (now.yard >= 0) whole.mine = await ask("/yard/" + now.yard);
  show(whole);
  if (!quiet) return;
  if (whole.busy.failed) tell(whole.busy.words, true);
  else if (whole.busy.words) tell(whole.busy.words + ": " + whole.busy.done + " of " + whole.busy.total);
}

// While all is drawn anew the server is asked now and then how far it is.
async function watch() {
  await refresh(true);
  if (now.whole.busy.words && !now.whole.busy.failed) setTimeout(watch, 1000);
  else if (!now.whole.busy.failed) tell("All is drawn anew.");
}

function show(whole) {
  now.whole = whole;
  now.version = whole.version;
  now.ghost = null;
  const busy = Boolean(whole.busy.words) && !whole.busy.failed;
  byId("undo").disabled = !whole.undo || busy;
  byId("undo").setAttribute("aria-label", whole.undo ? "Undo: " + whole.undo : "Undo");
  byId("save").disabled = !whole.dirty || busy;
  byId("redraw").disabled = whole.dirty || busy;
  shapes.forEach((shape, place) => {
    ["member", "candidate", "other"].forEach((role) => shape.classList.toggle(role, whole.roles[place] === role));
  });
  byId("figures").replaceChildren(
    tableOf("What the ground holds with the plans of those who take part, all butterflies together", ["", "today", "as opened", "now", "change"], whole.figures, [1, 2, 3, 4]),
    tableOf("Money", ["", "as opened", "now", "change"], whole.money, [1, 2, 3]));
  const told = whole.warnings.map((w) => w.words);
  byId("warned").replaceChildren(...(told.length ? [node("h3", "Look at this"), listed(told)] : []));
  showReach();
  if (whole.mine) showMine(whole.mine);
}

function listed(texts) {
  const list = node("ul", null, { class: "warned" });
  texts.forEach((words) => { const item = node("li"); item.append(named(words)); list.append(item); });
  return list;
}

function showReach() {
  const select = byId("butterfly"), had = select.selectedIndex;
  select.replaceChildren(...now.whole.butterflies.map((b) => node("option", b.common + (b.changed ? " (changed)" : ""), { value: b.name })));
  select.selectedIndex = Math.max(had, 0);
  chosenReach();
}

function chosenReach() {
  const one = now.whole.butterflies[byId("butterfly").selectedIndex];
  if (!one) return;
  if (document.activeElement !== byId("metres")) byId("metres").value = one.now_m;
  byId("own").disabled = !one.changed;
  byId("reach-said").textContent = "In the study " + one.own_m + " m. Linked breeding ground with those who take part: " + one.area + ".";
}

// Choosing a yard.
async function openYard(place) {
  now.yard = place;
  now.bed = "";
  now.corner = -1;
  shapes.forEach((shape, k) => shape.classList.toggle("chosen", k === place));
  map.frame(boxes[place], 4);
  byId("find-list").replaceChildren();
  await queue;
  try {
    showMine(await ask("/yard/" + place));
    byId("mine-title").focus();
  } catch (error) { tell(error.message, true); }
}

function find() {
  const said = byId("find").value.trim().toLowerCase(), list = byId("find-list");
  const found = [];
  if (said) plan.yards.forEach((yard, k) => { if ((yard.address + " " + yard.id).toLowerCase().includes(said)) found.push(k); });
  list.replaceChildren(...found.slice(0, MOST_FOUND).map((k) => {
    const item = node("li"), button = node("button", null, { type: "button" });
    button.append(named(plan.yards[k].address || "Yard " + plan.yards[k].id));
    button.addEventListener("click", () => openYard(k));
    item.append(button);
    return item;
  }));
  return found;
}

// One yard: drawing, beds, plantings, what it raises.
function showMine(mine) {
  plan.yards[now.yard] = { ...plan.yards[now.yard], house: "", paved: "", ...mine };
  const yard = plan.yards[now.yard], had = document.activeElement && document.activeElement.dataset ? document.activeElement.dataset.key : "";
  const open = new Set([...document.querySelectorAll("details.planting[open]")].map((d) => d.dataset.planting));
  if (!yard.handles.some((h) => h.bed === now.bed)) { now.bed = ""; now.corner = -1; }
  const title = node("h3", null, { id: "mine-title", tabindex: "-1" });
  title.append(named(yard.address || "Yard " + yard.id));
  const parts = [title, node("p", "Yard " + yard.id + ": " + yard.role + (yard.status !== "draft" ? ", " + yard.status : "") + ". Plants of this yard: " + yard.cost + ".")];
  const join = node("button", yard.member ? "Let it leave" : "Let it join", { type: "button", "data-key": "join" });
  join.addEventListener("click", () => act("/step", { do: yard.member ? "drop" : "join", yard: yard.id }));
  const tools = node("div", null, { class: "tools" });
  tools.append(join);
  parts.push(tools, pickable(drawing(yard)));
  if (yard.handles.length) parts.push(bedTools(yard));
  const mineWarned = now.whole.warnings.filter((w) => w.yard === yard.id).map((w) => w.words);
  if (mineWarned.length) parts.push(node("h4", "Look at this"), listed(mineWarned));
  if (yard.plantings.length) parts.push(node("h4", "What is planted"), ...yard.plantings.map((p) => planting(yard, p, open)));
  else parts.push(node("p", yard.planned ? "Nothing is planted here." : "No plan yet: let it join, and one is made beside what stands."));
  parts.push(tableOf("Who can breed here", ["butterfly", "habitat today", "with this plan", "can it breed here?"], yard.raises, [1, 2]));
  byId("yard").replaceChildren(...parts);
  paintBed();
  const again = had && byId("yard").querySelector('[data-key="' + CSS.escape(had) + '"]');
  if (again) again.focus({ preventScroll: true });
}

function planting(yard, p, open) {
  const box = node("details", null, { class: "planting", "data-planting": p.planting }), head = node("summary", null, { "data-key": "open " + p.planting });
  head.append(document.createTextNode((p.key === null ? "" : p.key + ": ") + p.count + " "), named(p.common), document.createTextNode(" (bed " + p.bed + ", " + p.form + ", " + p.cost + ")"));
  if (open.has(p.planting)) box.open = true;
  const many = node("input", null, { type: "number", min: "0", max: "10000", step: "1", required: "", value: String(p.count), id: "n " + p.planting, "data-key": "n " + p.planting });
  const plants = node("input", null, { type: "text", list: "plants", required: "", autocomplete: "off", id: "p " + p.planting, "data-key": "p " + p.planting });
  const count = form("How many", many, "Set", () => ({ do: "count", planting: p.planting, count: Number(many.value) }));
  const swap = form("Swap for", plants, "Swap", () => ({ do: "swap", planting: p.planting, plant: plants.value }));
  const strike = node("button", "Strike it", { type: "button", "data-key": "x " + p.planting });
  strike.addEventListener("click", () => act("/step", { do: "strike", yard: yard.id, planting: p.planting }));
  const last = node("div", null, { class: "tools" });
  last.append(strike);
  const latin = node("p", null, { class: "small" });
  latin.append(node("i", p.plant));
  box.append(head, latin, count, swap, last);
  return box;
}

function form(label, field, word, edit) {
  const made = node("form", null, { class: "tools" }), words = node("label", label + " ", { for: field.id });
  const button = node("button", word, { type: "submit" });
  made.append(words, field, button);
  made.addEventListener("submit", (event) => {
    event.preventDefault();
    act("/step", { ...edit(), yard: plan.yards[now.yard].id });
  });
  return made;
}

// Beds: chosen by tapping or by a button, moved and reshaped by dragging, arrows or buttons.
function bedTools(yard) {
  const box = node("fieldset"), choose = node("div", null, { class: "tools" }), tools = node("div", null, { class: "tools", id: "bed-tools" });
  box.append(node("legend", "Beds"), choose, tools);
  yard.handles.forEach((h) => {
    const button = node("button", "Bed " + h.number + " (" + h.area + ")", { type: "button", "aria-pressed": "false", "data-key": "bed " + h.bed, "data-bed": h.bed });
    button.addEventListener("click", () => chooseBed(now.bed === h.bed ? "" : h.bed));
    choose.append(button);
  });
  return box;
}

function chooseBed(bed) {
  now.bed = bed;
  now.corner = -1;
  now.ghost = null;
  paintBed();
}

function chosen() { return plan.yards[now.yard].handles.find((h) => h.bed === now.bed); }

function nudge(dx, dy) {
  const h = chosen();
  if (!h) return;
  now.ghost = now.ghost || { dx: 0, dy: 0, ring: h.ring && h.ring.map((c) => [...c]), bent: false };
  if (now.corner >= 0 && now.ghost.ring) {
    now.ghost.ring[now.corner][0] += dx;
    now.ghost.ring[now.corner][1] += dy;
    now.ghost.bent = true;
  } else {
    now.ghost.dx += dx;
    now.ghost.dy += dy;
    if (now.ghost.ring) now.ghost.ring.forEach((c) => { c[0] += dx; c[1] += dy; });
  }
  paintBed();
}

function setBed() {
  const ghost = now.ghost, yard = plan.yards[now.yard];
  if (!ghost) return;
  if (ghost.bent) act("/step", { do: "reshape", yard: yard.id, bed: now.bed, ring: ghost.ring });
  else if (ghost.dx || ghost.dy) act("/step", { do: "move", yard: yard.id, bed: now.bed, east_m: ghost.dx / 10, north_m: -ghost.dy / 10 });
}

function key(word, label, what, id) {
  const button = node("button", word, { type: "button", "data-key": "k " + id });
  if (label) button.setAttribute("aria-label", label);
  button.addEventListener("click", what);
  return button;
}

function paintBed() {
  const svg = byId("plan-drawing"), tools = byId("bed-tools"), h = now.yard >= 0 && plan.yards[now.yard].handles ? chosen() : null;
  if (!svg || !tools) return;
  const had = document.activeElement && document.activeElement.dataset ? document.activeElement.dataset.key : "";
  byId("yard").querySelectorAll("[data-bed]").forEach((b) => b.setAttribute("aria-pressed", String(b.dataset.bed === now.bed)));
  svg.querySelectorAll(".bed").forEach((path, k) => path.classList.toggle("chosen", Boolean(h) && plan.yards[now.yard].handles[k] === h));
  svg.querySelectorAll(".ghost, .corner, .grip").forEach((old) => old.remove());
  if (!h) { tools.replaceChildren(node("p", "Choose a bed to move it (buttons, arrow keys or dragging), reshape it or strike it.")); return; }
  const moved = now.ghost, ring = moved && moved.ring ? moved.ring : h.ring;
  if (moved) {
    const path = svg.querySelectorAll(".bed")[plan.yards[now.yard].handles.indexOf(h)].getAttribute("d");
    svg.append(moved.bent ? svgNode("path", { class: "ghost", d: polyline(ring.flat()) + "Z" })
      : svgNode("path", { class: "ghost", d: path, transform: "translate(" + moved.dx + " " + moved.dy + ")" }));
  }
  if (now.corner >= 0 && ring) paintCorners(svg, ring);
  const where = now.corner >= 0 ? "corner " + (now.corner + 1) : "bed";
  tools.replaceChildren(
    key("←", "Move the " + where + " west", () => nudge(-STEP, 0), "west"), key("↑", "Move the " + where + " north", () => nudge(0, -STEP), "north"),
    key("↓", "Move the " + where + " south", () => nudge(0, STEP), "south"), key("→", "Move the " + where + " east", () => nudge(STEP, 0), "east"),
    ...(ring ? [key(now.corner < 0 ? "Reshape" : "Next corner", "", () => { now.corner = (now.corner + 1) % ring.length; paintBed(); }, "corner")] : []),
    ...(now.corner >= 0 ? [key("Whole bed", "", () => { now.corner = -1; paintBed(); }, "bed")] : []),
    ...(moved ? [key("Set it here", "", setBed, "set"), key("Put it back", "", () => { now.ghost = null; paintBed(); }, "back")] : []),
    key("Strike bed", "", () => act("/step", { do: "strike-bed", yard: plan.yards[now.yard].id, bed: now.bed }), "strike"));
  const again = had && tools.querySelector('[data-key="' + CSS.escape(had) + '"]');
  if (again) again.focus({ preventScroll: true });
}

function paintCorners(svg, ring) {
  const unit = svg.viewBox.baseVal.width / Math.max(svg.getBoundingClientRect().width, 1);
  ring.forEach(([x, y], k) => {
    const mark = svgNode("circle", { class: "corner" + (k === now.corner ? " chosen" : ""), cx: x, cy: y, r: 5 * unit });
    const grip = svgNode("circle", { class: "grip", cx: x, cy: y, r: 22 * unit, "data-corner": k });
    svg.append(mark, grip);
  });
}

function pickable(svg) {
  let from = null;
  const at = (event) => new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
  svg.addEventListener("pointerdown", (event) => {
    const grip = event.target.closest(".grip"), bed = event.target.closest(".bed");
    if (grip) now.corner = Number(grip.dataset.corner);
    if (grip || (bed && bed.classList.contains("chosen"))) {
      from = at(event);
      svg.setPointerCapture(event.pointerId);
      if (!grip) now.corner = -1;
    } else if (bed) {
      chooseBed(plan.yards[now.yard].handles[[...svg.querySelectorAll(".bed")].indexOf(bed)].bed);
    }
  });
  svg.addEventListener("pointermove", (event) => {
    if (!from) return;
    const to = at(event);
    nudge(to.x - from.x, to.y - from.y);
    from = to;
  });
  svg.addEventListener("pointerup", () => { if (from) setBed(); from = null; });
  svg.addEventListener("pointercancel", () => { from = null; now.ghost = null; paintBed(); });
  return svg;
}

const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
byId("yard").addEventListener("keydown", (event) => {
  if (!now.bed || !event.target.closest("fieldset") || event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.key in ARROWS) { event.preventDefault(); nudge(...ARROWS[event.key].map((v) => v * STEP)); }
  if (event.key === "Escape") { now.ghost = null; paintBed(); }
});
byId("find").addEventListener("input", find);
byId("find").addEventListener("keydown", (event) => {
  if (event.key !== "Enter") return;
  const found = find();
  if (found.length) openYard(found[0]);
});
byId("undo").addEventListener("click", () => act("/undo", {}));
byId("save").addEventListener("click", () => act("/save", {}));
byId("redraw").addEventListener("click", () => act("/redraw", {}).then(watch));
byId("butterfly").addEventListener("change", chosenReach);
byId("reach-form").addEventListener("submit", (event) => {
  event.preventDefault();
  act("/step", { do: "reach", butterfly: byId("butterfly").value, median_m: Number(byId("metres").value) });
});
byId("own").addEventListener("click", () => act("/step", { do: "reach", butterfly: byId("butterfly").value, median_m: null }));
window.addEventListener("beforeunload", (event) => { if (now.whole && now.whole.dirty) event.preventDefault(); });
byId("plants").append(...plan.plants.map(([common, name]) => node("option", common, { value: name })));
refresh(false).catch((error) => tell(error.message, true));
