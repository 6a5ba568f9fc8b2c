"use strict";
// Shows what the watch sends, and sends back what the buttons say. Computes nothing of register.

const el = (id) => document.getElementById(id);
const SHORT = {
  "in register": "In", "out of tolerance": "Out", "cannot be decided": "Cannot tell",
  "not found": "Not found", "doubtful": "Doubtful", "wait": "Wait", "reference": "Reference",
  "not measurable": "No mark", "no frames": "No frames",
};
const SILENT_MS = 7000;  // the watch says something every two seconds
const LOG_LINES = 200;
let state = null, formKey = "", version = "", heard = Date.now(), age = null, source = null;

function setText(node, text) {
  if (node.textContent !== text) node.textContent = text;
}

function make(name, className, text) {
  const made = document.createElement(name);
  if (className) made.className = className;
  if (text !== undefined) made.textContent = text;
  return made;
}

// Children in order, each kept as long as its key is there, so that focus and presses are not lost.
function keyed(into, things, keyOf, makeOne, fill) {
  const old = new Map([...into.children].map((node) => [node.dataset.key, node]));
  things.forEach((thing, k) => {
    const key = keyOf(thing);
    let node = old.get(key);
    if (!node) { node = makeOne(thing); node.dataset.key = key; }
    old.delete(key);
    fill(node, thing);
    if (into.children[k] !== node) into.insertBefore(node, into.children[k] || null);
  });
  old.forEach((node) => node.remove());
}

// ---- what is shown

function show(now) {
  if (now.events < connect.newest) location.reload();  // another log than the one shown
  state = now;
  age = now.newest.age_s;
  document.body.dataset.condition = now.condition;
  drawSign(el("sign"), now.condition);
  setText(el("headline"), now.headline);
  setText(el("sentence"), now.sentence);
  document.title = `${now.headline}: ${now.job}`;
  setText(el("job"), `${now.job}, ${now.press}`);
  setText(el("zero"), now.zero);
  const more = [[now.counts.queued, "to be measured"], [now.counts.unusable, "not usable"]];
  setText(el("frames"), [`${now.counts.measured} measured`,
    ...more.filter(([n]) => n).map(([n, words]) => `${n} ${words}`)].join(", "));
  const {web_m, speed_m_min} = now.newest;
  setText(el("web"), [web_m === null ? "place not known" : `${web_m.toFixed(1)} m`,
    speed_m_min === null ? "" : `${speed_m_min.toFixed(0)} m/min`].filter(Boolean).join(", "));
  showAge();
  el("stations").toggleAttribute("data-many", now.stations.length > 7);
  keyed(el("stations"), now.stations, (s) => `${s.number} ${s.ink}`, makeStation, fillStation);
  showStretch(now);
  showToDo(now);
  showPicture(now);
  speak(now);
}

// What is read aloud: only when something changes that matters, and not with every number.
function speak(now) {
  const todo = [...now.moves.map((m) => `station ${m.station} ${m.ink}: ${m.words}`),
    ...now.waits.map((w) => `station ${w.station} ${w.ink}: wait`)];
  const warned = now.stations.map((s) => s.axes.some((a) => a.warning));
  const key = JSON.stringify([now.condition, now.stations.map((s) => s.condition), todo, warned]);
  if (speak.last === key) return;
  speak.last = key;
  setText(el("spoken"), `${now.headline}. ${now.sentence}${todo.length ? ` To do: ${todo.join("; ")}.` : ""}`);
}

function showAge() {
  if (!state) return;
  const {frame} = state.newest;
  const old = age === null ? "" : age < 1.5 ? ", now" : `, ${age.toFixed(0)} s ago`;
  setText(el("newest"), frame ? frame + old : "none");
}

function makeStation(station) {
  const tile = make("li", "station");
  const head = tile.appendChild(make("h3"));
  const dot = head.appendChild(svg("svg", {class: "dot", viewBox: "0 0 40 40", "aria-hidden": "true"}));
  dot.append(svg("circle", {cx: 20, cy: 20, r: 18, fill: station.swatch}),
    svg("circle", {class: "hub", cx: 20, cy: 20, r: 12}));
  const number = dot.appendChild(svg("text", {x: 20, y: 21}));
  number.textContent = station.number;
  head.append(make("span", "sr", `Station ${station.number} `), make("span", "ink", station.ink));
  const stands = tile.appendChild(make("p", "stands"));
  stands.append(svg("svg", {class: "sign", viewBox: "0 0 100 100", "aria-hidden": "true"}), make("strong"));
  tile.append(make("p", "words"), make("div", "axes"));
  return tile;
}

function fillStation(tile, station) {
  tile.dataset.condition = station.condition;
  drawSign(tile.querySelector(".sign"), station.condition);
  setText(tile.querySelector("strong"), SHORT[station.condition]);
  tile.querySelector("strong").classList.toggle("long", SHORT[station.condition].length > 4);
  const plain = station.condition === "in register" || station.condition === "out of tolerance";
  setText(tile.querySelector(".words"), plain ? "" : station.words);
  keyed(tile.querySelector(".axes"), station.axes, (a) => a.axis, makeAxis, fillAxis);
}

function makeAxis(axis) {
  const box = make("div", "axis");
  const value = box.appendChild(make("p", "value"));
  const beyond = svg("svg", {class: "beyond", viewBox: "0 0 100 100", "aria-hidden": "true"});
  drawSign(beyond, "out of tolerance");
  value.append(make("b"), beyond, make("span", "sr beyond-words"), make("span", "side"));
  box.append(make("p", "view"),
    svg("svg", {class: "trend", viewBox: `0 0 ${WIDE} ${HIGH}`, role: "img", preserveAspectRatio: "none"}),
    make("p", "span"), make("p", "warning"));
  return box;
}

function fillAxis(box, axis) {
  const name = axis.axis === "circumferential" ? "along" : "across";
  const [size, side] = offset(axis.axis, axis.now_mm);
  setText(box.querySelector(".value b"), size);
  const outside = axis.condition === "out of tolerance";
  box.querySelector("svg.beyond").toggleAttribute("hidden", !outside);
  setText(box.querySelector(".beyond-words"), outside ? ", outside tolerance, " : " ");
  const doubt = axis.sd_mm === null ? "" : `\u00b1${axis.sd_mm.toFixed(axis.sd_mm < 0.0005 ? 4 : 3)} `;
  const where = doubt + side;
  setText(box.querySelector(".value .side"), where);
  setText(box.querySelector(".view"), axis.view);
  setText(box.querySelector(".warning"), axis.warning ? "Early warning" : "");
  setText(box.querySelector(".span"), `${name}, tolerance \u00b1${axis.tolerance_mm.toFixed(2)}`);
  const trend = box.querySelector(".trend");
  const values = axis.trend.map((p) => p.mm).filter((mm) => mm !== null);
  trend.setAttribute("aria-label", values.length
    ? `${axis.axis}, trend: from ${Math.min(...values).toFixed(3)} to ${Math.max(...values).toFixed(3)} mm, now ${size} ${where}`
    : `${axis.axis}: no values`);
  drawTrend(trend, axis);
}

function showStretch(now) {
  const trends = now.stations.flatMap((s) => s.axes.map((a) => a.trend)).filter((t) => t.length > 1);
  const [trend] = trends.sort((a, b) => b.length - a.length);
  const metres = trend ? `${(trend.at(-1).at - trend[0].at).toFixed(0)} m of web` : "";
  setText(el("stretch"), trend ? `\u00b7 trends over the last ${now.along === "m" ? metres : `${trend.length} frames`},`
    + " the band is the tolerance" : "");
}

// [size, side]: the number is what is read first.
function offset(axis, mm) {
  if (mm === null) return ["\u2013", "no value"];
  if (Math.abs(mm) < 0.0005) return ["0.000 mm", "on place"];
  const side = axis === "circumferential" ? (mm > 0 ? "late" : "early")
    : (mm > 0 ? "drive side" : "operator side");
  return [`${Math.abs(mm).toFixed(3)} mm`, side];
}

function showToDo(now) {
  const waits = now.waits.map((wait) => ({kind: "wait", ...wait}));
  const moves = now.moves.map((move) => ({kind: "move", ...move}));
  keyed(el("todo"), [...waits, ...moves],
    (t) => t.kind === "wait" ? `wait ${t.station} ${t.after} ${t.left_m === null}` : `move ${t.station} ${t.axis} ${t.steps}`,
    makeToDo, fillToDo);
  const none = now.moves.length || now.waits.length ? ""
    : now.counts.measured ? "No move is advised." : "Nothing yet.";
  setText(el("nothing"), none);
  keyed(el("remarks"), now.remarks.map((words) => ({words})), (r) => r.words, (r) => make("li", "", r.words), () => {});
  const warned = now.stations.flatMap((s) => s.axes.filter((a) => a.warning)
    .map((a) => ({key: `${s.number} ${a.axis}`, words: `Station ${s.number} ${s.ink} ${a.warning}`})));
  el("warned").hidden = !warned.length;
  keyed(el("warnings"), warned, (w) => w.key, () => make("li"), (item, w) => setText(item, w.words));
  el("approve").disabled = !now.counts.measured;
  el("other-move").disabled = !now.actuators.length;
}

function makeToDo(thing) {
  const item = make("li", thing.kind);
  item.append(make("p", "who"), make("strong"), make("p", "then"));
  if (thing.kind === "move") {
    const button = item.appendChild(make("button", "made", "Move made"));
    button.type = "button";
    button.append(make("span", "sr", `: station ${thing.station} ${thing.ink}, ${thing.words}`));
    button.addEventListener("click", () => {
      button.disabled = true;
      send("/moves", {station: thing.station, axis: thing.axis, mm: thing.move_mm})
        .finally(() => { button.disabled = false; });
    });
  } else {
    const bar = item.appendChild(make("progress"));
    bar.setAttribute("aria-label", `web passed since the move at station ${thing.station}`);
    if (thing.left_m === null) {
      bar.remove();
      const button = item.appendChild(make("button", "made", "The web has passed"));
      button.type = "button";
      button.addEventListener("click", () => send("/waited", {}));
    }
  }
  return item;
}

function fillToDo(item, thing) {
  setText(item.querySelector(".who"), `Station ${thing.station} ${thing.ink}`);
  const wait = thing.kind === "wait";
  setText(item.querySelector("strong"), wait ? thing.words : thing.words.split(";")[0]);
  const rest = wait ? [] : thing.words.split(";").slice(1).map((part) => part.trim());
  setText(item.querySelector(".then"), wait
    ? `after: ${thing.after}`
    : [`${Math.abs(thing.steps)} step${Math.abs(thing.steps) === 1 ? "" : "s"}`, ...rest,
      `then wait ${thing.wait_m.toFixed(1)} m`].join(", "));
  const bar = item.querySelector("progress");
  if (bar) {
    bar.max = thing.total_m || 1;
    bar.value = thing.total_m - (thing.left_m ?? thing.total_m);
  }
}

function showPicture(now) {
  const picture = el("picture");
  el("enlarge").hidden = !now.picture;
  el("no-picture").hidden = Boolean(now.picture);
  if (!now.picture || picture.dataset.number === String(now.picture)) return;
  picture.dataset.number = now.picture;
  picture.alt = `Frame ${now.picture_frame} with the measured place, design place and offset of every colour`;
  picture.src = `/picture?${now.picture}`;
  if (!el("picture-dialog").open) return;
  el("large").src = picture.src;
  el("large").alt = picture.alt;
}

function log(event) {
  const list = el("log");
  const item = make("li");
  item.dataset.kind = event.kind;
  const at = item.appendChild(make("time", "", event.at.slice(11, 19)));
  at.dateTime = event.at;
  const place = event.web_m === null ? "" : `${event.web_m.toFixed(1)} m`;
  item.append(make("span", "place", place), make("b", "", event.kind), make("span", "", event.words));
  list.prepend(item);
  while (list.children.length > LOG_LINES) list.lastChild.remove();
}

// ---- the connection: it heals by itself, and says so while it is cut

function connect() {
  source?.close();
  source = new EventSource("/events");
  source.addEventListener("hello", (event) => {
    const hello = JSON.parse(event.data);
    if (version && version !== hello.regscan) location.reload();
    [formKey, version] = [hello.form_key, hello.regscan];
    hear();
  });
  source.addEventListener("log", (event) => {
    const number = Number(event.lastEventId);
    if (number <= connect.newest) return;
    connect.newest = number;
    log(JSON.parse(event.data));
  });
  source.addEventListener("state", (event) => { hear(); show(JSON.parse(event.data)); });
  source.addEventListener("error", () => { if (state || Date.now() - heard > 3000) cut(); });
}
connect.newest = 0;

function hear() {
  heard = Date.now();
  el("cut").hidden = true;
  document.body.classList.remove("is-cut");
}

// From two metres an old state must not look like the present one.
function cut() {
  const seconds = Math.round((Date.now() - heard) / 1000);
  document.body.classList.add("is-cut");
  el("cut").hidden = false;
  setText(el("cut"), "What is shown is old. This page tries again by itself.");
  setText(el("headline"), "Connection lost");
  const last = state ? `Last known: ${state.headline}. ${state.sentence}` : "Is regscan watch running?";
  setText(el("sentence"), last);
  drawSign(el("sign"), "no new frames");
  document.body.dataset.condition = "no new frames";
  document.title = `Connection lost, ${seconds} s`;
  speak.last = "";
}

setInterval(() => {
  if (age !== null) age += 1;
  showAge();
  if (Date.now() - heard > SILENT_MS) cut();
  // A browser gives up after an answer that is no stream; this page does not.
  if (source.readyState === EventSource.CLOSED) connect();
}, 1000);

// ---- what the buttons say

async function send(path, what) {
  let said;
  try {
    const answer = await fetch(path, {
      method: "POST",
      headers: {"Content-Type": "application/json", "X-Regscan-Form": formKey},
      body: JSON.stringify(what),
    });
    said = answer.ok ? (await answer.json()).words : "Refused. Load this page anew.";
  } catch {
    said = "Not sent: the connection is lost. Press again when it is back.";
  }
  setText(el("answer"), said);
}

function dialog(name, opener, opened, sent) {
  const box = el(`${name}-dialog`);
  el(opener).addEventListener("click", () => { opened(); box.showModal(); });
  box.querySelector(".close").addEventListener("click", () => box.close());
  el(`${name}-form`).addEventListener("submit", (event) => {
    event.preventDefault();
    box.close();
    sent();
  });
}

function options(select, things) {
  select.replaceChildren(...things.map(([value, text]) => {
    const option = make("option", "", text);
    option.value = value;
    return option;
  }));
}

el("enlarge").addEventListener("click", () => {
  el("large").src = el("picture").src;
  el("large").alt = el("picture").alt;
  el("picture-dialog").showModal();
});
el("picture-dialog").querySelector(".close").addEventListener("click", () => el("picture-dialog").close());

dialog("move", "other-move",
  () => options(el("move-station"), state.actuators.map((a) => [a.station, `${a.station} ${a.ink}`])),
  () => {
    const [axis, sign] = el("move-way").value.split(" ");
    send("/moves", {station: Number(el("move-station").value), axis, mm: Number(sign) * Number(el("move-mm").value)});
  });
dialog("zero", "approve", () => {}, () => send("/zero", {}));
dialog("job", "new-job",
  () => options(el("job-name"), state.job_files.map((name) => [name, name])),
  () => send("/job", {name: el("job-name").value}));

connect();
