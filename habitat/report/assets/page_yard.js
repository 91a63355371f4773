// One yard: facts, plan, plants, life cycles and its part in the chain. All text from data is set as text.
function node(name, words, attributes) {
  const made = document.createElement(name);
  if (words !== undefined && words !== null) made.textContent = words;
  Object.entries(attributes || {}).forEach(([key, value]) => made.setAttribute(key, value));
  return made;
}

// What only an opened yard shows is parsed when somebody opens it; { t: 7 } stands for text 7 of all yards.
let yardTexts = null;
function opened(place) {
  const yard = plan.yards[place], held = document.getElementById("yard-" + place);
  if (held) {
    yardTexts = yardTexts || JSON.parse(document.getElementById("yard-texts").textContent);
    Object.assign(yard, JSON.parse(held.textContent, (_, value) => (value && value.t !== undefined ? yardTexts[value.t] : value)));
    held.remove();
  }
  return yard;
}

// Texts that many yards share are written once and told by number.
function said(number) { return plan.words[number]; }

function named(words) { return node("bdi", words); }

function tableOf(caption, heads, rows, numbers) {
  const table = node("table", null, { class: heads.length > 4 ? "wide" : "" }), head = node("tr"), body = node("tbody");
  heads.forEach((words, i) => head.append(node("th", words, { scope: "col", class: numbers.includes(i) ? "num" : "" })));
  rows.forEach((cells) => {
    const row = node("tr");
    cells.forEach((cell, i) => {
      const box = node(i ? "td" : "th", null, i ? { class: numbers.includes(i) ? "num" : "" } : { scope: "row" });
      box.append(...(Array.isArray(cell) ? cell : [cell]));
      row.append(box);
    });
    body.append(row);
  });
  const thead = node("thead");
  thead.append(head);
  table.append(node("caption", caption), thead, body);
  const scroll = node("div", null, { class: "scroll", tabindex: "0", role: "region", "aria-label": caption });
  scroll.append(table);
  return scroll;
}

function areaWords(m2) {
  if (m2 === null || m2 === undefined) return "unknown";
  const value = plan.us ? m2 / 0.09290304 : m2;
  const digits = Math.abs(value) < 9.95 ? 1 : 0;
  return value.toLocaleString("en", { minimumFractionDigits: digits, maximumFractionDigits: digits }) + (plan.us ? " sq ft" : " m²");
}

function distanceWords(m) {
  const value = plan.us ? m / 0.3048 : m;
  return Math.round(value).toLocaleString("en") + (plan.us ? " ft" : " m");
}

function placeWords(place) {
  return place < plan.yards.length ? "yard " + plan.yards[place].id : plan.anchors[place - plan.yards.length];
}

// Plants are written by kind: number, radius, the first place, then the steps from one to the next.
function plantsOf(yard) {
  const plants = [];
  (yard.points || []).forEach(([key, r, ...steps]) => {
    for (let i = 0, x = 0, y = 0; i < steps.length; i += 2) plants.push({ key: key, r: r, x: x += steps[i], y: y += steps[i + 1] });
  });
  return plants;
}

function drawing(yard) {
  const outline = document.querySelector('#yards [data-place="' + plan.yards.indexOf(yard) + '"]'), measure = boxes[plan.yards.indexOf(yard)];
  const air = 10, box = [measure.x - air, measure.y - air, measure.width + 2 * air, measure.height + 2 * air];
  const beds = (yard.beds || []).length;
  const svg = svgNode("svg", { id: "plan-drawing", class: "plan-drawing", viewBox: box.join(" "), role: "img",
    "aria-label": "Plan of the yard, north up: " + beds + (beds === 1 ? " bed" : " beds") + ", numbered; plants numbered as in the list" });
  svg.append(svgNode("path", { class: "lot", d: outline.getAttribute("d") }));
  if (yard.mine && yard.mine.draft) {
    const x = box[0] + box[2] / 2, y = box[1] + box[3] / 2;
    svg.append(svgNode("text", { class: "draft", x: x, y: y, transform: "rotate(-24 " + x + " " + y + ")", style: "font-size:" + box[2] / 4 + "px" }, "draft"));
    svg.setAttribute("aria-label", "A draft until somebody has walked the yard. " + svg.getAttribute("aria-label"));
  }
  if (yard.paved) svg.append(svgNode("path", { class: "paving", d: yard.paved }));
  if (yard.house) svg.append(svgNode("path", { class: "buildings", d: yard.house }));
  (yard.beds || []).forEach((bed) => svg.append(svgNode("path", { class: "bed", d: bed[1] })));
  const plants = plantsOf(yard);
  plants.forEach((p) => svg.append(svgNode("circle", { class: "crown", cx: p.x, cy: p.y, r: p.r })));
  plants.forEach((p) => {
    const size = Math.max(2.6, Math.min(8, p.r * 1.5));
    svg.append(svgNode("text", { x: p.x, y: p.y, style: "font-size:" + size + "px" }, p.key));
  });
  (yard.beds || []).forEach((bed) => svg.append(svgNode("text", { class: "bed-number", x: bed[2], y: bed[3] }, bed[0])));
  return svg;
}

function plantTable(yard) {
  const rows = yard.plants.map((p) => {
    const name = [named(said(p[1])), document.createTextNode(" "), node("i", said(p[2]))];
    return [p[0] === null ? "–" : String(p[0]), name, String(p[3]), said(p[4]), said(p[5])];
  });
  return tableOf("What to plant; numbers as in the plan", ["no.", "plant", "count", "how", "why here"], rows, [2]);
}

function cycleTable(yard) {
  const rows = plan.butterflies.map((butterfly, i) => {
    const worth = yard.habitat[i];
    const missing = worth && worth[2] ? "; missing: " + said(worth[2]) : "";
    const state = worth ? said(worth[6]) + missing : "not yet; nothing grows or is planned for it here";
    return [[named(butterfly.common)], areaWords(worth[0]), areaWords(worth[1]), state];
  });
  return tableOf("Who can breed here", ["butterfly", "habitat today", "with this plan", "can it breed here?"], rows, [1, 2]);
}

function chainWords(place, yard) {
  const list = node("ul");
  plan.butterflies.forEach((butterfly, i) => {
    const worth = yard.habitat[i];
    if (!worth) return;
    const told = [];
    if (worth[3] + worth[4] + worth[5] >= 0.05) {
      told.push("holds " + areaWords(worth[3]) + " itself, shares " + areaWords(worth[4]) + " as an end of ways, and lets "
        + areaWords(worth[5]) + " pass between others");
    }
    const steps = plan.chains[i].members.filter((step) => step.from === place || step.to === place);
    if (steps.length) told.push("is a step of the best chain between habitats" + (steps.some((s) => s.weakest) ? ", at its weakest step" : ""));
    if (!told.length) return;
    const item = node("li");
    item.append(named(butterfly.common), document.createTextNode(": " + told.join("; ") + "."));
    list.append(item);
  });
  return list.children.length ? list : node("p", "No part yet: nothing breeds here, today or in the members' plans.");
}

function showYard(place) {
  const yard = opened(place), panel = document.getElementById("yard-plan");
  const title = node("h3"), facts = node("dl", null, { class: "facts" });
  title.append(document.createTextNode("Yard "), named(yard.id));
  if (yard.outline) {
    panel.replaceChildren(title, node("p", "This yard takes no part. In so large a town the page has its outline only; its facts are in plan.gpkg, in the layer yards."));
    return;
  }
  yard.facts.forEach((value, i) => {
    if (!value) return;
    const dd = node("dd");
    dd.append(named(value));
    facts.append(node("dt", plan.facts[i]), dd);
  });
  const left = node("div"), right = node("div"), columns = node("div", null, { class: "yard-cols" });
  left.append(facts, drawing(yard));
  if (yard.plants) right.append(plantTable(yard));
  else right.append(node("p", "No plan was made for this yard."));
  right.append(node("h3", "Whom does it raise?"), cycleTable(yard), node("h3", "Its part in the chain"), chainWords(place, yard));
  if (yard.sheet) {
    const line = node("p");
    line.append(node("a", "Sheet to print (PDF, lies beside this page)", { href: yard.sheet.split("/").map(encodeURIComponent).join("/") }));
    right.append(line);
  }
  columns.append(left, right);
  panel.replaceChildren(title, columns);
}
