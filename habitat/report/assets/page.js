// What is chosen (butterfly, what is planted, how many invited, yard) and what follows from it.
const plan = JSON.parse(document.getElementById("plan-data").textContent);
const now = { butterfly: 0, state: "members", invited: 0, yard: -1 };
const STATES = ["today", "members", "everyone"];
const byId = (id) => document.getElementById(id);

const shapes = [...document.querySelectorAll("#yards [data-place]")];
byId("find-map").append(byId("map-box")); // what is hidden has no size
const boxes = shapes.map((shape) => shape.getBBox());
const map = makeMap((place) => byId("group").hidden && plan.yards[place].role !== "block" ? openYard(place) : choose(place, false));
const table = makeTable((place, jump) => choose(place, jump), (place) => habitat(place)[0]);

function joined() { return new Set(plan.steps.slice(1, now.invited + 1).map((step) => step.yard)); }

function counts(place) {
  const role = plan.yards[place].role;
  if (now.state === "today") return false;
  if (now.state === "everyone") return role === "member" || role === "candidate";
  return role === "member" || joined().has(place);
}

function habitat(place) {
  const worth = (plan.yards[place].habitat || [])[now.butterfly];
  if (!worth) return [0, "nothing"];
  return counts(place) ? [worth[1], worth[2]] : [worth[0], worth[0] > 0 && worth[0] >= worth[1] ? worth[2] : "only what stands today"];
}

function paint() {
  const taken = joined();
  shapes.forEach((shape, place) => {
    const [area, missing] = habitat(place);
    shape.classList.toggle("full", area > 0 && !missing);
    shape.classList.toggle("part", area > 0 && Boolean(missing));
    shape.classList.toggle("joined", now.state === "members" && taken.has(place));
    shape.classList.toggle("chosen", place === now.yard);
  });
  const known = plan.butterflies.length ? plan.butterflies[now.butterfly].anchors : [];
  document.querySelectorAll("#map-hold .anchor").forEach((shape, place) => {
    shape.classList.toggle("held", known[place] === "held");
    shape.classList.toggle("likely", known[place] === "likely");
  });
  paintWays();
  paintMarks();
}

// Until somebody is invited the ways of the state are shown as they are. Then those of the state in which everybody
// is planted, less the ways of candidates who are not invited and have nothing standing.
function paintWays() {
  const some = now.state === "members" && now.invited > 0;
  const state = 1 << STATES.indexOf(some ? "everyone" : now.state);
  const far = plan.butterflies.length && plan.butterflies[now.butterfly].far; // gets everywhere: a web of lines tells nothing
  const all = far ? [] : (plan.links[now.butterfly] || []).filter((w) => w[0] & state);
  const open = (place) => place >= plan.yards.length || counts(place) || habitat(place)[0] > 0 || plan.yards[place].role !== "candidate";
  const ways = some ? all.filter((w) => open(w[1]) && open(w[2])) : all;
  byId("ways").replaceChildren(svgNode("path", { class: "way", d: ways.map((w) => "M" + w[3] + " " + w[4] + "l" + w.slice(5).join(" ")).join("") }));
  byId("chain").replaceChildren(...chainNow().map((s) =>
    svgNode("path", { class: "chain" + (s.weakest ? " weakest" : ""), d: polyline(s.line) })));
}

function chainNow() { return plan.chains.length ? plan.chains[now.butterfly][now.state] : []; }

function paintMarks() {
  const marks = [];
  const unit = Number(map.svg.style.getPropertyValue("--unit")) || 1;
  plan.steps.slice(1, now.state === "members" ? now.invited + 1 : 1).forEach((step, i) => {
    if (step.yard < 0) return;
    const [x, y] = plan.yards[step.yard].at;
    marks.push(svgNode("circle", { class: "rank", cx: x, cy: y, r: 9 * unit }), svgNode("text", { class: "rank-text", x: x, y: y }, i + 1));
  });
  const view = map.svg.viewBox.baseVal, seen = (at) => at[0] > view.x && at[0] < view.x + view.width && at[1] > view.y && at[1] < view.y + view.height;
  if (unit < 3) plan.yards.filter((yard) => seen(yard.at)).forEach((yard) =>
    marks.push(svgNode("text", { class: "yard-text", x: yard.at[0], y: yard.at[1] - 14 * unit }, yard.id.slice(0, 24))));
  byId("marks").replaceChildren(...marks);
}

function areas() {
  const which = STATES.indexOf(now.state), butterfly = plan.butterflies[now.butterfly];
  if (now.state === "members" && plan.steps.length) {
    const step = plan.steps[now.invited];
    return [step.together, step.words[now.butterfly]];
  }
  return [plan.together[which], butterfly ? butterfly.words[which] : ""];
}

function tell() {
  const [together, one] = areas(), butterfly = plan.butterflies[now.butterfly];
  byId("invited-count").textContent = now.invited;
  byId("score").textContent = "Linked breeding ground works like single places of " + together + " for all butterflies together"
    + (butterfly ? "; " + one + " for the " + butterfly.common : "") + ".";
  byId("invited").setAttribute("aria-valuetext", now.invited + " invited, " + together);
  tellChain();
}

function tellChain() {
  const steps = chainNow(), said = node("ul"), box = byId("chain-words");
  (plan.breaks[now.butterfly] || []).forEach((words) => {
    const item = node("li");
    item.append(named(words));
    said.append(item);
  });
  box.replaceChildren();
  if (said.children.length) box.append(node("h3", "Where does it break, with the members' plans?"), said);
  if (!steps.length) {
    box.append(node("p", "No chain is drawn for this butterfly in this state.", { class: "small" }));
    return;
  }
  let chain = 0;
  const rows = steps.map((s) => [String(s.step === 1 ? ++chain : chain || ++chain), String(s.step), [named(placeWords(s.from))], [named(placeWords(s.to))], distanceWords(s.distance_m),
    s.passage, s.weakest ? "weakest step" : ""]);
  box.append(tableOf("The best chain between habitats, step by step" + (now.state === "members" && now.invited ? " (without the invited)" : ""),
    ["chain", "step", "from", "to", plan.by_ground ? "distance by ground" : "distance", "chance of passage", "remark"], rows, [4, 5]));
}

function update() { paint(); tell(); table.show(); }

function choose(place, jump) {
  if (plan.yards[place].role === "block") {
    byId("yard-said").textContent = "In this block are yards that are not shown.";
    return;
  }
  now.yard = place;
  showYard(place);
  byId("yard-pick").value = String(place);
  paint();
  table.choose(place);
  const yard = plan.yards[place];
  const total = yard.count || 0;
  byId("yard-said").replaceChildren(document.createTextNode("Yard "), named(yard.id),
    document.createTextNode(": " + (total ? total + " plants planned. " : "no plan. ")), node("a", "Read about it", { href: "#yard" }));
  if (!jump) return;
  map.frame(boxes[place], 3);
  byId("yard").scrollIntoView({ block: "start" });
  byId("yard").focus({ preventScroll: true });
}

byId("butterfly").addEventListener("change", (event) => { now.butterfly = Number(event.target.value); update(); });
document.querySelectorAll("input[name=state]").forEach((input) => input.addEventListener("change", () => { now.state = input.value; update(); }));
byId("invited").addEventListener("input", (event) => {
  now.invited = Number(event.target.value);
  now.state = "members";
  document.querySelector("input[name=state][value=members]").checked = true;
  update();
});
yardPlaces().sort((a, b) => new Intl.Collator("en", { numeric: true }).compare(plan.yards[a].id, plan.yards[b].id))
  .forEach((i) => byId("yard-pick").append(node("option", plan.yards[i].id + (plan.yards[i].address ? ", " + plan.yards[i].address : ""), { value: i })));
byId("yard-pick").addEventListener("change", (event) => { if (event.target.value !== "") choose(Number(event.target.value), false); });
map.svg.addEventListener("view", paintMarks);
update();
paintMarks();
makeTabs();
