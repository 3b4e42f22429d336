"use strict";
// The query page: completion by label, asking with a running state and cancel, a link that holds the query, and the answer as a table.

const at = (id) => document.getElementById(id);
const SHOWN = 12; // terms offered at once
const LONGEST = 500; // rows of the table; the files hold all
let terms = [];
let found = [];
let chosen = -1;
let running = null;

// --- completion: the list is fetched once, so that each key is answered from memory

function shortened(iri) {
  const place = iri.lastIndexOf("/", iri.length - 1);
  const kind = { taxon: "taxon", character: "character", source: "source" };
  for (const name of Object.keys(kind)) {
    const cut = iri.indexOf(`/${name}/`);
    const rest = iri.slice(cut + name.length + 2);
    if (cut > 0 && /^[a-z0-9-]+$/.test(rest)) return `${name}:${rest}`;
  }
  return place > 0 ? `<${iri}>` : iri;
}

function unaccented(text) { // without accents, so that a name is found from any keyboard
  return text.toLowerCase().normalize("NFD").replace(/\p{M}/gu, "");
}

function matching(word) {
  const parts = unaccented(word).split(/\s+/).filter(Boolean);
  if (!parts.length) return [];
  const held = terms.filter((each) => parts.every((part) => each.low.includes(part)));
  const rank = (each) => (each.low.startsWith(parts[0]) ? 0 : 1) * 1000 + each.low.length;
  return held.sort((one, other) => rank(one) - rank(other)).slice(0, SHOWN);
}

function offer() {
  const begun = performance.now();
  found = matching(at("find").value);
  chosen = found.length ? 0 : -1;
  const list = at("found");
  list.replaceChildren(...found.map((each, place) => {
    const item = document.createElement("li");
    item.id = `term${place}`;
    item.setAttribute("role", "option");
    item.textContent = `${each.label} (${each.kind})`;
    item.addEventListener("mousedown", (event) => { event.preventDefault(); put(place); });
    return item;
  }));
  list.hidden = !found.length;
  at("find").setAttribute("aria-expanded", String(!list.hidden));
  mark();
  list.dataset.milliseconds = String(performance.now() - begun);
}

function mark() {
  [...at("found").children].forEach((item, place) => item.setAttribute("aria-selected", String(place === chosen)));
  if (chosen < 0) at("find").removeAttribute("aria-activedescendant");
  else {
    at("find").setAttribute("aria-activedescendant", `term${chosen}`);
    at("found").children[chosen].scrollIntoView({ block: "nearest" });
  }
}

function close() {
  found = [];
  chosen = -1;
  at("found").replaceChildren();
  at("found").hidden = true;
  at("find").setAttribute("aria-expanded", "false");
  at("find").removeAttribute("aria-activedescendant");
}

function put(place) {
  const text = at("text");
  const name = shortened(found[place].iri);
  text.setRangeText(name, text.selectionStart, text.selectionEnd, "end");
  at("find").value = "";
  close();
  text.focus();
  keep();
}

at("find").addEventListener("input", offer);
at("find").addEventListener("blur", close);
at("find").addEventListener("keydown", (event) => {
  if (event.key === "Enter") event.preventDefault();
  if (!found.length) return;
  if (event.key === "ArrowDown" || event.key === "ArrowUp") {
    event.preventDefault();
    chosen = (chosen + (event.key === "ArrowDown" ? 1 : found.length - 1)) % found.length;
    mark();
  } else if (event.key === "Enter") put(chosen);
  else if (event.key === "Escape") close();
});

// --- the link: the query stands in the fragment, which no server sees until it is asked

function keep() {
  const link = `/query#query=${encodeURIComponent(at("text").value)}`;
  at("link").href = link;
  return link;
}

function recall() {
  const given = new URLSearchParams(location.hash.slice(1)).get("query") || new URLSearchParams(location.search).get("query");
  if (given) at("text").value = given;
  keep();
  return Boolean(given);
}

at("text").addEventListener("input", keep);
at("text").addEventListener("keydown", (event) => {
  if (event.key === "Enter" && (event.ctrlKey || event.metaKey)) { event.preventDefault(); ask(); }
});
window.addEventListener("hashchange", recall);

// --- asking

function busy(on) {
  at("run").disabled = on;
  at("cancel").disabled = !on;
}

function say(status, fault = "") {
  at("status").textContent = status;
  at("fault").textContent = fault;
  at("fault").className = fault ? "caution" : "";
}

async function sent(accept, signal) {
  const body = new URLSearchParams({ query: at("text").value });
  return fetch("/sparql", { method: "POST", headers: { accept }, body, signal });
}

async function ask() {
  if (running) return;
  running = new AbortController();
  const begun = performance.now();
  at("answer").hidden = true;
  busy(true);
  say("Asking …");
  history.replaceState(null, "", keep());
  try {
    const answer = await sent("application/sparql-results+json, text/turtle;q=0.5", running.signal);
    const kind = answer.headers.get("content-type") || "";
    if (!answer.ok) refuse(await answer.json());
    else if (kind.includes("json")) show(await answer.json(), performance.now() - begun);
    else plain(await answer.text());
  } catch (error) {
    say(error.name === "AbortError" ? "Cancelled." : "", error.name === "AbortError" ? "" : "The service could not be reached.");
  } finally {
    running = null;
    busy(false);
  }
}

function refuse(problem) {
  const place = problem.line ? ` Line ${problem.line}, column ${problem.column}${problem.near ? `, near “${problem.near}”` : ""}.` : "";
  say("", `${problem.detail}${place} ${problem.fix || ""}`);
  if (problem.line) {
    const lines = at("text").value.split("\n");
    const start = lines.slice(0, problem.line - 1).join("\n").length + (problem.line > 1 ? 1 : 0) + problem.column - 1;
    at("text").focus();
    at("text").setSelectionRange(Math.min(start, at("text").value.length), at("text").value.length);
  }
}

function cell(name, value) {
  const made = document.createElement("td");
  if (value && value.type === "uri") {
    const link = document.createElement("a");
    const own = terms.length && new URL(terms[0].iri).host === new URL(value.value).host;
    link.href = own ? new URL(value.value).pathname : value.value;
    link.textContent = value.value.replace(/^.*\/(?=[^/]+\/[^/]+$)/, "");
    made.append(link);
  } else made.textContent = value ? value.value : "";
  return made;
}

function show(told, milliseconds) {
  const table = at("rows");
  table.replaceChildren();
  at("answer").hidden = false;
  if ("boolean" in told) {
    say(told.boolean ? "Yes." : "No.");
    return;
  }
  const names = told.head.vars;
  const head = table.createTHead().insertRow();
  for (const name of names) {
    const made = document.createElement("th");
    made.scope = "col";
    made.textContent = name;
    head.append(made);
  }
  const body = table.createTBody();
  for (const row of told.results.bindings.slice(0, LONGEST)) body.insertRow().append(...names.map((name) => cell(name, row[name])));
  const count = told.results.bindings.length;
  const cut = count > LONGEST ? `, of which ${LONGEST} are shown` : "";
  say(`${count} ${count === 1 ? "row" : "rows"}${cut}, in ${Math.round(milliseconds)} ms.`);
}

function plain(text) {
  const shown = document.createElement("caption");
  const pre = document.createElement("pre");
  pre.textContent = text;
  shown.append(pre);
  at("rows").replaceChildren(shown);
  at("answer").hidden = false;
  say("A graph.");
}

async function save(accept, name) {
  const answer = await sent(accept);
  if (!answer.ok) { refuse(await answer.json()); return; }
  const link = document.createElement("a");
  link.href = URL.createObjectURL(await answer.blob());
  link.download = name;
  link.click();
  URL.revokeObjectURL(link.href);
}

at("ask").addEventListener("submit", (event) => { event.preventDefault(); ask(); });
at("cancel").addEventListener("click", () => running && running.abort());
at("csv").addEventListener("click", () => save("text/csv, text/turtle;q=0.1", "answer.csv"));
at("json").addEventListener("click", () => save("application/sparql-results+json, application/ld+json;q=0.1", "answer.json"));

// --- at the start

async function start() {
  const given = recall();
  const words = await fetch("/terms.json");
  terms = (await words.json()).map((each) => ({ ...each, low: unaccented(each.label) }));
  at("find").dataset.terms = String(terms.length);
  const saved = await fetch("/v1/questions");
  if (saved.ok) {
    for (const each of await saved.json()) {
      const option = document.createElement("option");
      option.value = each.question.query;
      option.textContent = each.question.title;
      at("saved").append(option);
    }
  }
  at("saved").disabled = at("saved").options.length < 2;
  if (given) ask();
}

at("saved").addEventListener("change", () => {
  if (!at("saved").value) return;
  at("text").value = at("saved").value;
  keep();
  at("text").focus();
});
start();
