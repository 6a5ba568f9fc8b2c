"use strict";
// Signs and trends, as SVG. States differ by shape and word; colour only helps.

const SVG = "http://www.w3.org/2000/svg";

function svg(name, values) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(values)) made.setAttribute(key, value);
  return made;
}

// One shape for each condition, in a box of 100 by 100.
const SIGNS = {
  "in register": [["circle", {class: "fill", cx: 50, cy: 50, r: 44}],
    ["path", {class: "cut", d: "M27 52 44 69 74 34"}]],
  "out of tolerance": [["rect", {class: "fill", x: 8, y: 8, width: 84, height: 84}],
    ["path", {class: "cut", d: "M30 30 70 70M70 30 30 70"}]],
  "cannot be decided": [["circle", {class: "open", cx: 50, cy: 50, r: 41}],
    ["path", {class: "line", d: "M36 40q0-14 14-14t14 13q0 8-8 12-6 4-6 11M50 74v3"}]],
  "doubtful": [["path", {class: "open dashed", d: "M50 10 93 86H7Z"}],
    ["path", {class: "line", d: "M50 38v22M50 70v4"}]],
  "not found": [["circle", {class: "open dashed", cx: 50, cy: 50, r: 42}],
    ["path", {class: "line", d: "M30 30 70 70M70 30 30 70"}]],
  "wait": [["path", {class: "fill", d: "M22 8H78V22L56 50 78 78V92H22V78L44 50 22 22Z"}]],
  "reference": [["circle", {class: "open", cx: 50, cy: 50, r: 30}],
    ["path", {class: "line", d: "M50 6V94M6 50H94"}]],
  "not measurable": [["path", {class: "line", d: "M20 50H80"}]],
  "no frames": [["rect", {class: "open dashed", x: 12, y: 20, width: 76, height: 60}]],
  "no new frames": [["rect", {class: "open", x: 12, y: 20, width: 76, height: 60}],
    ["path", {class: "line", d: "M40 36V64M60 36V64"}]],
};

function drawSign(into, condition) {
  if (into.dataset.shows === condition) return;
  into.dataset.shows = condition;
  into.replaceChildren(...(SIGNS[condition] || []).map(([name, values]) => svg(name, values)));
}

const WIDE = 200, HIGH = 54;

// A trend from old (left) to now (right): tolerance as a band, gaps where a frame has no value.
function drawTrend(into, axis) {
  const points = axis.trend, limit = axis.tolerance_mm;
  const most = Math.max(1.35 * limit, ...points.map((p) => Math.abs(p.mm ?? 0) * 1.08));
  const first = points.length ? points[0].at : 0, last = points.length ? points.at(-1).at : 1;
  const x = (at) => 3 + (WIDE - 10) * (last > first ? (at - first) / (last - first) : 1);
  const y = (mm) => HIGH / 2 - (mm / most) * (HIGH / 2 - 2);
  const parts = [
    svg("rect", {class: "band", x: 0, y: y(limit), width: WIDE, height: y(-limit) - y(limit)}),
    svg("path", {class: "limit", d: `M0 ${y(limit)}H${WIDE}M0 ${y(-limit)}H${WIDE}`}),
    svg("path", {class: "zero", d: `M0 ${HIGH / 2}H${WIDE}`}),
  ];
  let line = "", pen = "M", outside = "", lone = "";
  points.forEach((p, k) => {
    if (p.mm === null) { pen = "M"; return; }
    const px = x(p.at).toFixed(1), py = y(p.mm).toFixed(1);
    if (pen === "M" && (points[k + 1]?.mm ?? null) === null) lone += `M${px} ${py}h.01`;
    line += `${pen}${px} ${py}`;
    pen = "L";
    if (Math.abs(p.mm) > limit) outside += `M${px - 1.6} ${py - 1.6}h3.2v3.2h-3.2Z`;
  });
  parts.push(svg("path", {class: "curve", d: line || "M0 0"}), svg("path", {class: "lone", d: lone || "M0 0"}));
  if (outside) parts.push(svg("path", {class: "outside", d: outside}));
  if (axis.now_mm !== null) parts.push(svg("path", {class: "now", d: `M${WIDE - 7} ${y(axis.now_mm).toFixed(1)}h.01`}));
  into.replaceChildren(...parts);
}
