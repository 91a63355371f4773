// The table of all yards: sorted by its headings, searched, a row's button chooses the yard.
const ROLES = { member: "takes part", candidate: "might be asked", other: "does not take part" };
const FIRST_ROWS = 60, ORDER_OF_ROLES = ["member", "candidate", "other"];

// Blocks stand for yards that are not shown: they are ground on the map, no rows and no choice.
function yardPlaces() { return plan.yards.map((_, i) => i).filter((i) => plan.yards[i].role !== "block"); }

function makeTable(onChoose, here) {
  const table = document.getElementById("yard-table"), body = table.tBodies[0];
  const search = document.getElementById("search"), found = document.getElementById("found"), more = document.getElementById("more");
  const heads = [...table.tHead.rows[0].cells];
  const order = new Intl.Collator("en", { numeric: true, sensitivity: "base" });
  let key = "role", down = false, all = false, chosen = -1;
  const words = plan.yards.map((yard) => {
    const plants = (yard.kinds || []).map(said).join(" ");
    return [yard.id, yard.address || "", ROLES[yard.role] || yard.role, plants].join(" ").toLowerCase();
  });

  function value(i, name) {
    const yard = plan.yards[i];
    if (name === "count") return yard.count || 0;
    if (name === "here") return here(i);
    if (name === "role") return ORDER_OF_ROLES.indexOf(yard.role);
    return yard[name];
  }
  function compare(a, b) {
    const one = value(a, key), two = value(b, key);
    if (one === null || one === undefined || one === "") return two === null || two === undefined || two === "" ? a - b : 1;
    if (two === null || two === undefined || two === "") return -1;
    const sign = typeof one === "number" ? one - two : order.compare(one, two);
    return (down ? -sign : sign) || a - b;
  }
  function shownWords(name, i) {
    if (name === "role") return ROLES[plan.yards[i].role] || plan.yards[i].role;
    const it = value(i, name);
    if (plan.yards[i].outline && name !== "id") return name === "address" ? it || "" : "not loaded";
    if (it === null || it === undefined) return name === "address" ? "" : "unknown";
    if (name === "here") return areaWords(it).replace(/ (m²|sq ft)$/, "");
    return typeof it === "number" ? it.toLocaleString("en") : it;
  }
  function cell(head, i) {
    const box = node(head.dataset.key === "id" ? "th" : "td", null, { class: head.classList.contains("num") ? "num" : "" });
    if (head.dataset.key === "id") {
      box.scope = "row";
      const button = node("button", null, { type: "button", class: plan.yards[i].id.length < 20 ? "short" : "long" });
      button.append(named(plan.yards[i].id));
      button.addEventListener("click", () => onChoose(i, true));
      box.append(button);
    } else box.append(named(shownWords(head.dataset.key, i)));
    return box;
  }
  function show() {
    const asked = search.value.trim().toLowerCase().split(/\s+/).filter(Boolean);
    const rows = yardPlaces().filter((i) => asked.every((w) => words[i].includes(w))).sort(compare);
    const shown = all ? rows : rows.slice(0, FIRST_ROWS);
    body.replaceChildren(...shown.map((i) => {
      const row = node("tr", null, { "data-row": i, class: i === chosen ? "chosen" : "" });
      row.append(...heads.map((head) => cell(head, i)));
      return row;
    }));
    more.hidden = shown.length === rows.length;
    found.textContent = rows.length + " of " + yardPlaces().length + " yards" + (more.hidden ? "" : ", the first " + shown.length + " shown");
    heads.forEach((head) => head.setAttribute("aria-sort", head.dataset.key === key ? (down ? "descending" : "ascending") : "none"));
  }
  heads.forEach((head) => head.querySelector("button").addEventListener("click", () => {
    down = head.dataset.key === key ? !down : head.classList.contains("num");
    key = head.dataset.key;
    show();
  }));
  search.addEventListener("input", show);
  more.addEventListener("click", () => { all = true; show(); });
  show();
  return { show: show, choose: (i) => { chosen = i; show(); } };
}
