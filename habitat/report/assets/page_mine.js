// Find your yard, then My yard: plants as cards, the year month by month, what to mind, cost, whom to call.
const MONTHS = ["January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December"];
const MOST_FOUND = 8;

// Figures of habit, drawn in our own hand: one stroke drawing a form, higher plants drawn higher.
const FIGURES = {
  forb: "M20 58V22M20 48C12 46 9 40 8 36C14 36 19 40 20 46M20 40C28 38 31 32 32 28C26 28 21 32 20 38M13 16A7 7 0 1 0 27 16A7 7 0 1 0 13 16",
  graminoid: "M20 58C19 40 14 24 6 18M20 58C20 38 20 22 20 10M20 58C21 40 26 24 34 18M20 58C18 46 13 36 9 34M20 58C22 46 27 36 31 34",
  vine: "M20 58C8 50 32 42 20 34C8 26 32 18 20 8M24 46C30 46 33 43 34 39C29 38 25 41 24 46M16 28C10 28 7 25 6 21C11 20 15 23 16 28",
  shrub: "M20 58V44M20 58L12 42M20 58L28 42M8 40A9 9 0 0 1 12 24A10 10 0 0 1 28 24A9 9 0 0 1 32 40C26 46 14 46 8 40Z",
  tree: "M18 58V36M22 58V36M20 6A14 15 0 0 1 34 22A14 14 0 0 1 20 37A14 14 0 0 1 6 22A14 15 0 0 1 20 6Z",
};


// Where the flowers of a form are drawn: x, y and radius; grasses have none.
const FLOWERS = {
  forb: [[20, 16, 7]], graminoid: [], vine: [[31, 41, 4], [9, 24, 4], [20, 8, 4]],
  shrub: [[13, 31, 3.5], [27, 30, 3.5], [20, 24, 3.5], [20, 36, 3.5]], tree: [[12, 20, 3], [27, 18, 3], [20, 11, 3], [17, 30, 3], [27, 28, 3]],
};

// The figure of a plant, with its flowers in their colours; of two colours, the first for most of them.
function figure(form, colors) {
  const svg = svgNode("svg", { class: "habit", viewBox: "0 0 40 60", "aria-hidden": "true" });
  svg.append(svgNode("path", { d: FIGURES[form] || FIGURES.forb }), svgNode("path", { d: "M4 58H36" }));
  (colors.length ? FLOWERS[form] || [] : []).forEach(([x, y, r], k) => {
    svg.append(svgNode("circle", { class: "flower " + (colors[k % 2] || colors[0]), cx: x, cy: y, r: r }));
    if (colors[1] && form === "forb") svg.append(svgNode("circle", { class: "flower " + colors[1], cx: x, cy: y, r: r / 2 }));
  });
  return svg;
}

function bloomStrip(months) {
  const svg = svgNode("svg", { class: "strip", viewBox: "0 0 120 8", preserveAspectRatio: "none", "aria-hidden": "true" });
  for (let m = 1; m <= 12; m++) svg.append(svgNode("rect", { x: m * 10 - 9, y: 1, width: 8, height: 6, class: months.includes(m) ? "on" : "off" }));
  return svg;
}

function listOf(texts, tag) {
  const list = node(tag || "ul");
  texts.forEach((words) => {
    const item = node("li");
    item.append(named(words));
    list.append(item);
  });
  return list;
}

function part(id, title, ...inside) {
  const section = node("section", null, { "aria-labelledby": id });
  section.append(node("h3", title, { id: id, tabindex: "-1" }), ...inside);
  return section;
}

function addressOf(yard) { return yard.address || "Yard " + yard.id; }

function plantCard(card) {
  const [key, common, scientific, count, how, spacing, height, feeds, beds, cost, form, months, colors] = card;
  const item = node("li", null, { class: "card" }), text = node("div"), head = node("h4");
  head.append(document.createTextNode(key + " "), named(common));
  const latin = node("p", null, { class: "small" });
  latin.append(node("i", scientific));
  const bloom = months.length ? "blooms " + (colors.length ? colors.join(" and ") + ", " : "") + months.map((m) => MONTHS[m - 1].slice(0, 3)).join(", ") : "no bloom to speak of";
  const many = count + " " + how + (beds === "–" ? "" : (beds.includes(",") ? " in beds " : " in bed ") + beds);
  text.append(head, latin, node("p", many + "; " + spacing + " apart, " + height + " tall", { class: "many" }), bloomStrip(months), node("p", bloom, { class: "small" }), node("p", feeds + "; cost " + cost, { class: "small" }));
  item.append(figure(form, colors), text);
  return item;
}

// What of a list of runs of half months [first, last + 1] lies in a month (0 to 11).
function inMonth(runs, month) { return runs.some(([a, b]) => a < 2 * month + 2 && b > 2 * month); }

function lookFor(mine, month) {
  const box = node("div"), stages = new Map(mine.stages.map((s) => [s.name.toLowerCase(), s]));
  const open = mine.bloom[month], names = new Map(mine.cards.map((c) => [c[0], c[1]]));
  box.append(node("p", open.length ? "In bloom: " + open.map((k) => k === "+" ? "what stands already" : k + " " + (names.get(k) || "")).join(", ") + "." : "Nothing of the plan is in bloom.", { class: "in-bloom" }));
  const said = [];
  mine.year.forEach(([name, adult, caterpillar, winter, words, eats]) => {
    const told = [], looks = stages.get(name.toLowerCase());
    if (inMonth(adult, month)) told.push("adults fly");
    if (inMonth(caterpillar, month)) told.push("caterpillars eat" + (eats.length ? " on " + eats.join(", ") : "") + (looks && looks.caterpillar ? " (look for: " + looks.caterpillar + ")" : ""));
    if (inMonth(winter, month)) told.push(words.replace("winter: ", "rests as ") );
    if (told.length) said.push(name + ": " + told.join("; ") + ".");
  });
  box.append(said.length ? listOf(said) : node("p", "No butterfly of this yard is about."));
  return box;
}

function yearTable(mine) {
  const rows = mine.year.map(([name, adult, caterpillar, winter]) => {
    const svg = svgNode("svg", { class: "year-strip", viewBox: "0 0 240 16", preserveAspectRatio: "none", role: "img", "aria-label": MONTHS.filter((_, m) => inMonth(adult, m)).join(", ") || "none" });
    for (let m = 0; m <= 12; m++) svg.append(svgNode("path", { class: "rule", d: "M" + m * 20 + " 0V16" }));
    adult.forEach(([a, b]) => svg.append(svgNode("rect", { class: "adult", x: a * 10, y: 2, width: (b - a) * 10, height: 4 })));
    caterpillar.forEach(([a, b]) => svg.append(svgNode("rect", { class: "caterpillar", x: a * 10, y: 8, width: (b - a) * 10, height: 6 })));
    return [[named(name)], [svg], MONTHS.filter((_, m) => inMonth(adult, m)).map((m) => m.slice(0, 3)).join(" ")];
  });
  return tableOf("When butterflies fly (thin) and caterpillars eat (thick), January to December", ["butterfly", "the year", "flies in"], rows, []);
}

function monthPart(mine) {
  const pick = node("select", null, { id: "month" }), box = node("div", null, { role: "status", "aria-live": "polite", id: "month-said" });
  MONTHS.forEach((name, m) => pick.append(node("option", name, { value: m })));
  pick.value = String(new Date().getMonth());
  const show = () => box.replaceChildren(lookFor(mine, Number(pick.value)));
  pick.addEventListener("change", show);
  show();
  const label = node("label", "Month ", { class: "pick" });
  label.append(pick);
  return [label, box];
}

const JUMPS = [["plants", "Plants"], ["months", "This month"], ["mind", "What not to do"], ["cost", "Cost"], ["call", "Whom to call"], ["why", "Why"]];

function showMine(place) {
  const yard = opened(place), mine = yard.mine, panel = byId("mine-plan");
  byId("mine-title").replaceChildren(named(addressOf(yard)));
  const head = node("p", null, { class: "small" });
  head.append(document.createTextNode("Yard "), named(yard.id));
  const again = node("button", "Another yard", { type: "button" });
  again.addEventListener("click", () => { location.hash = ""; });
  if (!mine) {
    panel.replaceChildren(head, node("p", "No plan was made for this yard."), callPart(), again);
    return;
  }
  const jump = node("nav", null, { class: "jump", "aria-label": "In this plan" });
  JUMPS.forEach(([id, words]) => {
    const button = node("button", words, { type: "button", "data-jump": id });
    button.addEventListener("click", () => { byId("my-" + id).scrollIntoView({ block: "start" }); byId("my-" + id).focus({ preventScroll: true }); });
    jump.append(button);
  });
  const cards = node("ul", null, { class: "cards" }), print = node("p", null, { class: "print" });
  cards.append(...mine.cards.map(plantCard));
  if (yard.sheet) print.append(node("a", "Print my sheet (PDF)", { class: "button", href: yard.sheet.split("/").map(encodeURIComponent).join("/") }), document.createTextNode(" "));
  const paper = node("button", "Print this page", { type: "button" });
  paper.addEventListener("click", () => window.print());
  print.append(paper);
  const picture = drawing(yard);
  picture.id = "my-drawing";
  panel.replaceChildren(head, jump, print, picture, listOf(mine.beds),
    part("my-plants", "What I plant", cards),
    part("my-months", "What to look for", ...monthPart(mine), yearTable(mine)),
    part("my-mind", "Five rules", listOf(mine.rules, "ol"), node("p", mine.defer, { class: "small" }), ...(mine.mind.length ? [node("h4", "Please mind too"), listOf(mine.mind)] : [])),
    part("my-care", "Care through the year", listOf(mine.care.map(([months, text]) => months + ": " + text))),
    part("my-cost", "What it costs", node("p", "All plants of this yard: " + mine.cost + ".", { id: "my-total" })),
    callPart(),
    part("my-why", "Why these plants and beds", listOf(mine.why.map((w) => w.keys + ": " + w.text)), listOf(mine.chain), ...(mine.lacks.length ? [node("h4", "Not possible here"), listOf(mine.lacks)] : []), ...(mine.unknown.length ? [node("h4", "What is not known"), listOf(mine.unknown)] : [])),
    again);
}

function callPart() {
  const told = ["Before digging: the utility locating service, which marks buried lines (811 in the United States)."];
  told.push(plan.contact ? "Questions: " + plan.contact : "Questions: the coordinator of your group.");
  return part("my-call", "Whom to call", listOf(told));
}

// Tabs: Find your yard and My yard, or the group's analysis; the address says which, so that it can be kept and sent.
function makeTabs() {
  const box = byId("map-box"), search = byId("find"), found = byId("find-list");
  const words = plan.yards.map((yard) => [yard.address || "", yard.id].join(" ").toLowerCase());
  function yardOf(hash) {
    try {
      const id = decodeURIComponent(hash.slice("#yard=".length));
      return plan.yards.findIndex((yard) => yard.id === id && yard.role !== "block");
    } catch { return -1; }
  }
  function open() {
    const hash = location.hash, place = hash.startsWith("#yard=") ? yardOf(hash) : -1;
    const target = hash.length > 1 && !hash.startsWith("#yard=") ? document.getElementById(hash.slice(1)) : null;
    const group = Boolean(target && byId("group").contains(target));
    byId("group").hidden = !group;
    byId("mine").hidden = group || place < 0;
    byId("finder").hidden = group || place >= 0;
    document.querySelectorAll("[data-tab]").forEach((tab) => {
      if ((tab.dataset.tab === "group") === group) tab.setAttribute("aria-current", "page");
      else tab.removeAttribute("aria-current");
    });
    byId("not-found").hidden = !hash.startsWith("#yard=") || place >= 0;
    byId(group ? "group-map" : "find-map").append(box);
    if (place >= 0) showMine(place);
    if (place >= 0) choose(place, false);
    window.dispatchEvent(new Event("resize"));
    if (target && group && target.id !== "group") target.scrollIntoView();
    else if (place >= 0) { window.scrollTo(0, 0); byId("mine-title").focus({ preventScroll: true }); }
  }
  function list() {
    const asked = search.value.trim().toLowerCase().split(/\s+/).filter(Boolean);
    const hits = asked.length ? yardPlaces().filter((i) => asked.every((w) => words[i].includes(w))) : [];
    const whole = (i) => [plan.yards[i].id, plan.yards[i].address || ""].some((w) => w.toLowerCase() === asked.join(" "));
    hits.sort((a, b) => whole(b) - whole(a) || words[a].length - words[b].length || a - b);
    found.replaceChildren(...hits.slice(0, MOST_FOUND).map((i) => {
      const item = node("li"), button = node("button", null, { type: "button", "data-found": i });
      button.append(named(addressOf(plan.yards[i])), document.createTextNode(plan.yards[i].address ? " (" + plan.yards[i].id + ")" : ""));
      button.addEventListener("click", () => openYard(i));
      item.append(button);
      return item;
    }));
    byId("find-said").textContent = !asked.length ? "" : hits.length ? hits.length + (hits.length === 1 ? " yard" : " yards") + (hits.length > MOST_FOUND ? ", the first " + MOST_FOUND + " shown" : "") : "No yard of that name.";
  }
  search.addEventListener("input", list);
  search.addEventListener("keydown", (event) => {
    const first = found.querySelector("button");
    if (event.key === "Enter" && first) first.click();
  });
  window.addEventListener("hashchange", open);
  open();
}

function openYard(place) { location.hash = "#yard=" + encodeURIComponent(plan.yards[place].id); }
