"use strict";
/* Draws the charts from the facts in the page, lets them be read by mouse and keyboard,
   and shows lengths in inches when asked. Nothing here measures or decides. */
(() => {
  const charts = JSON.parse(document.getElementById("facts").textContent);
  const MINUS = "\u2212";

  /* ---- units: stored in mm, m and m/min; inch and ft are display only ---- */
  const UNITS = {
    mm: { mm: [1, "mm", 0], m: [1, "m", 0], "m/min": [1, "m/min", 0] },
    inch: { mm: [1 / 25.4, "in", 1], m: [1 / 0.3048, "ft", 0], "m/min": [1 / 0.3048, "ft/min", 0] },
  };
  let units = UNITS.mm;
  const plain = (value, decimals) => value.toFixed(decimals).replace(/^-(0(\.0+)?)$/, "$1").replace("-", MINUS);
  const signed = (value, decimals) => {
    const text = plain(value, decimals);
    return value > 0 && Number(text) !== 0 ? "+" + text : text;
  };
  // One more decimal in inches; two more where one would turn a small length into nothing.
  const shown = (value, unit, decimals, write) => {
    const [factor, , more] = units[unit];
    const text = write(value * factor, more ? Math.max(decimals + more, 4) : decimals);
    return more && value !== 0 && Number(text.replace(MINUS, "-")) === 0 ? write(value * factor, decimals + more + 1) : text;
  };
  const converted = (value, unit, decimals) => shown(value, unit, decimals, plain);

  const NUMBER = /(\d+(?:\.(\d+))?)(\s)(mm|m\/min|m)(?![\w/])/g;
  const sentences = [];  // text nodes that hold lengths in words, with their text in mm
  function collect(node) {
    const walker = document.createTreeWalker(node, NodeFilter.SHOW_TEXT);
    for (let text = walker.nextNode(); text; text = walker.nextNode()) {
      const parent = text.parentElement;
      if (parent.closest("script, style, select, .asgiven, [data-mm], [data-size], [data-m], [data-speed], [data-unit]")) continue;
      if (text.data.search(NUMBER) >= 0) sentences.push([text, text.data]);
    }
  }
  const each = (selector, change) => document.querySelectorAll(selector).forEach(change);
  function showUnits() {
    each("[data-mm]", (e) => { e.textContent = shown(Number(e.dataset.mm), "mm", Number(e.dataset.decimals ?? 3), signed); });
    each("[data-size]", (e) => { e.textContent = converted(Number(e.dataset.size), "mm", Number(e.dataset.decimals ?? 3)); });
    each("[data-m]", (e) => { e.textContent = converted(Number(e.dataset.m), "m", Number(e.dataset.decimals ?? 1)); });
    each("[data-speed]", (e) => { e.textContent = converted(Number(e.dataset.speed), "m/min", 0); });
    each("[data-unit]", (e) => { e.textContent = units[e.dataset.unit][1]; });
    for (const [text, stored] of sentences) {
      text.data = inUnits(stored);
    }
  }

  /* ---- charts ---- */
  const plots = [];
  const style = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();
  const alongUnit = () => (charts.along.unit === "m" ? units.m : [1, charts.along.unit, 0]);
  const highest = Math.max(1, ...charts.speed.v.filter((v) => v !== null));
  const SPEED_SHARE = 2.6;  // the speed lies behind, and low
  const speedStep = [1, 2, 5, 10, 20, 25, 50, 100, 200].find((s) => highest / s <= 3.2) ?? 500;
  const speedTicks = [0, 1, 2, 3].map((k) => k * speedStep).filter((v) => v <= highest * 1.02);
  let ownScale = false;

  function halfOf(curve) {
    if (!ownScale) return charts.range_mm[curve.axis];
    const good = curve.y.filter((y, k) => y !== null && curve.status[k] === "o").map(Math.abs);
    return 1.15 * Math.max(0.002, ...good);
  }

  function dataOf(curve) {
    // null breaks the line (missing); undefined is passed by (doubtful, drawn as a triangle).
    const line = curve.y.map((y, k) => (curve.status[k] === "d" ? undefined : y));
    return [curve.x, curve.v, line];
  }

  function underlay(u, curve) {
    const { ctx, bbox: b } = u, x = (v) => u.valToPos(v, "x", true), y = (v) => u.valToPos(v, "y", true);
    ctx.save();
    ctx.beginPath(); ctx.rect(b.left, b.top, b.width, b.height); ctx.clip();
    const top = y(curve.tolerance_mm), bottom = y(-curve.tolerance_mm);
    ctx.globalAlpha = 0.65; ctx.fillStyle = style("--band"); ctx.fillRect(b.left, top, b.width, bottom - top);
    ctx.globalAlpha = 1; ctx.strokeStyle = style("--limit"); ctx.lineWidth = 1.3 * devicePixelRatio;
    ctx.setLineDash([6 * devicePixelRatio, 3 * devicePixelRatio]);
    ctx.beginPath();
    for (const edge of [top, bottom]) { ctx.moveTo(b.left, edge); ctx.lineTo(b.left + b.width, edge); }
    ctx.stroke();
    for (const s of curve.stretches) if (s.from !== null && s.to !== null) hatch(ctx, b, x(s.from), Math.max(x(s.to), x(s.from) + 2));
    ctx.setLineDash([1.5 * devicePixelRatio, 3 * devicePixelRatio]); ctx.strokeStyle = style("--soft"); ctx.lineWidth = devicePixelRatio;
    ctx.beginPath();
    for (const s of charts.segments.slice(1)) if (s.from !== null) { ctx.moveTo(x(s.from), b.top); ctx.lineTo(x(s.from), b.top + b.height); }
    ctx.stroke(); ctx.setLineDash([]);
    ctx.globalAlpha = 0.28; ctx.strokeStyle = style("--curve"); ctx.lineWidth = 6 * devicePixelRatio;
    ctx.beginPath();
    for (const l of curve.levels) if (l.from !== null) { ctx.moveTo(x(l.from), y(l.mean_mm)); ctx.lineTo(x(l.to), y(l.mean_mm)); }
    ctx.stroke();
    ctx.restore();
  }

  function hatch(ctx, b, from, to) {
    ctx.save();
    ctx.beginPath(); ctx.rect(from, b.top, to - from, b.height); ctx.clip();
    ctx.setLineDash([]); ctx.strokeStyle = style("--out"); ctx.lineWidth = devicePixelRatio; ctx.globalAlpha = 0.4;
    ctx.beginPath();
    const step = 7 * devicePixelRatio;
    for (let at = from - b.height; at < to; at += step) { ctx.moveTo(at, b.top + b.height); ctx.lineTo(at + b.height, b.top); }
    ctx.stroke();
    ctx.globalAlpha = 1; ctx.lineWidth = 1.5 * devicePixelRatio;
    ctx.beginPath(); ctx.rect(from, b.top - 2, to - from, b.height + 4); ctx.stroke();
    ctx.restore();
  }

  function overlay(u, curve) {
    const { ctx, bbox: b } = u, r = devicePixelRatio, half = u.scales.y.max;
    ctx.save();
    ctx.beginPath(); ctx.rect(b.left, b.top, b.width, b.height); ctx.clip();
    curve.x.forEach((place, k) => {
      const value = curve.y[k], left = u.valToPos(place, "x", true);
      if (value === null) { cross(ctx, left, b.top + b.height - 6 * r, 3 * r); return; }
      const up = u.valToPos(Math.max(-half, Math.min(half, value)), "y", true);
      if (curve.status[k] === "d") triangle(ctx, left, up, 5 * r);
      else if (Math.abs(value) > curve.tolerance_mm) { ctx.fillStyle = style("--out"); ctx.fillRect(left - 2 * r, up - 2 * r, 4 * r, 4 * r); }
    });
    ctx.restore();
  }
  function triangle(ctx, x, y, size) {
    ctx.beginPath(); ctx.moveTo(x, y - size); ctx.lineTo(x + size, y + size * 0.75); ctx.lineTo(x - size, y + size * 0.75); ctx.closePath();
    ctx.fillStyle = style("--paper"); ctx.fill(); ctx.strokeStyle = style("--unknown"); ctx.lineWidth = 1.6 * devicePixelRatio; ctx.stroke();
  }
  function cross(ctx, x, y, size) {
    ctx.beginPath(); ctx.moveTo(x - size, y - size); ctx.lineTo(x + size, y + size); ctx.moveTo(x + size, y - size); ctx.lineTo(x - size, y + size);
    ctx.strokeStyle = style("--out"); ctx.lineWidth = 1.6 * devicePixelRatio; ctx.stroke();
  }

  const ON_PLACE_MM = 0.0005;  // as in words.py: below it a word would claim a side
  const STATUS = { o: "", d: ", doubtful", m: "missing" };
  function words(curve, k) {
    const unit = alongUnit();
    const where = `${charts.along.label} ${plain(curve.x[k] * unit[0], charts.along.decimals)} ${unit[1]}`.trim();
    const speed = curve.v[k] === null ? "" : `, ${converted(curve.v[k], "m/min", 0)} ${units["m/min"][1]}`;
    if (curve.y[k] === null) return `${where}${speed}: missing`;
    if (Math.abs(curve.y[k]) < ON_PLACE_MM) return `${where}${speed}: on place${STATUS[curve.status[k]]}`;
    const sides = curve.axis === "lateral" ? ["to drive side", "to operator side"] : ["late", "early"];
    const out = Math.abs(curve.y[k]) > curve.tolerance_mm ? ", outside" : "";
    return `${where}${speed}: ${converted(Math.abs(curve.y[k]), "mm", 3)} ${units.mm[1]} ${sides[curve.y[k] < 0 ? 1 : 0]}${out}${STATUS[curve.status[k]]}`;
  }

  function options(curve, place) {
    const font = "12px " + getComputedStyle(document.body).fontFamily;
    const axis = { stroke: () => style("--soft"), font, ticks: { show: false } };
    return {
      width: place.clientWidth, height: Math.round(Math.min(230, 120 + place.clientWidth / 6)),
      padding: [8, 6, 0, 0], legend: { show: false }, pxAlign: false,
      cursor: { sync: { key: "along" }, points: { show: true }, drag: { x: true, y: false } },
      scales: {
        x: { time: false },
        y: { range: () => { const half = halfOf(curve); return [-half, half]; } },
        v: { range: [0, SPEED_SHARE * highest] },
      },
      axes: [
        { ...axis, grid: { show: false }, size: 26, gap: 2, values: (_, at) => at.map((v) => plain(v * alongUnit()[0], at.length > 1 && at[1] - at[0] < 1 ? 1 : 0)) },
        { ...axis, size: 58, grid: { stroke: () => style("--rule"), width: 0.5 }, values: (_, at) => at.map((v) => signed(v * units.mm[0], (at.length > 1 && at[1] - at[0] < 0.0099 ? 3 : 2) + units.mm[2])) },
        { ...axis, side: 1, scale: "v", size: 44, grid: { show: false }, show: charts.speed.x.length > 0, splits: () => speedTicks, values: (_, at) => at.map((v) => converted(v, "m/min", 0)) },
      ],
      series: [
        {},
        { scale: "v", fill: () => style("--speed"), width: 0, points: { show: false } },
        { scale: "y", stroke: () => style("--curve"), width: 1.4, points: { show: curve.x.length < 60, size: 4 } },
      ],
      hooks: {
        drawSeries: [(u, series) => { if (series === 1) underlay(u, curve); }],
        draw: [(u) => { overlay(u, curve); ends(u, place); }],
        setCursor: [(u) => { const k = u.cursor.idx; place.parentElement.querySelector(".readout").textContent = k === null || k === undefined ? "" : words(curve, k); }],
        setScale: [(u, key) => { if (key === "x") zoomed(u); }],
      },
    };
  }
  function ends(u, place) {
    const { ctx, bbox: b } = u, r = devicePixelRatio;
    ctx.save(); ctx.font = `600 ${11 * r}px ${getComputedStyle(document.body).fontFamily}`; ctx.textAlign = "left";
    ctx.lineWidth = 3 * r; ctx.strokeStyle = style("--paper"); ctx.fillStyle = style("--soft"); ctx.lineJoin = "round";
    for (const [text, y] of [["▲ " + place.dataset.positive, b.top + 13 * r], ["▼ " + place.dataset.negative, b.top + b.height - 5 * r]]) {
      ctx.strokeText(text, b.left + 5 * r, y); ctx.fillText(text, b.left + 5 * r, y);
    }
    ctx.restore();
  }

  /* Zooming one chart zooms all, so that they stay comparable. */
  const whole = document.getElementById("whole-run");
  let zooming = false;
  function zoomed(u) {
    if (zooming) return;
    zooming = true;
    const { min, max } = u.scales.x;
    for (const one of plots) if (one !== u) one.setScale("x", { min, max });
    zooming = false;
    if (whole && plots.length) whole.disabled = min <= u.data[0][0] && max >= u.data[0].at(-1);
  }
  function showAll() {
    for (const u of plots.slice(0, 1)) u.setScale("x", { min: u.data[0][0], max: u.data[0].at(-1) });
  }
  function zoomBy(u, factor) {
    const { min, max } = u.scales.x, at = u.cursor.idx === null || u.cursor.idx === undefined ? (min + max) / 2 : u.data[0][u.cursor.idx];
    const low = Math.max(u.data[0][0], at - (at - min) * factor), high = Math.min(u.data[0].at(-1), at + (max - at) * factor);
    if (high > low) u.setScale("x", { min: low, max: high });
  }
  function step(u, by) {
    const k = Math.max(0, Math.min(u.data[0].length - 1, (u.cursor.idx ?? -1) + by));
    u.setCursor({ left: u.valToPos(u.data[0][k], "x"), top: u.over.clientHeight / 2 });
  }
  function keys(u, event) {
    const act = {
      ArrowRight: () => step(u, event.shiftKey ? 10 : 1), ArrowLeft: () => step(u, event.shiftKey ? -10 : -1),
      "+": () => zoomBy(u, 0.5), "-": () => zoomBy(u, 2), 0: showAll,
    }[event.key];
    if (act) { event.preventDefault(); act(); }
  }

  function drawCharts() {
    each(".chart", (place) => {
      const curve = charts.curves[place.dataset.curve];
      const box = document.createElement("div");
      place.append(box);
      const u = new uPlot(options(curve, place), dataOf(curve), box);
      plots.push(u);
      place.tabIndex = 0; place.setAttribute("role", "group");
      place.setAttribute("aria-label", place.querySelector("svg").getAttribute("aria-label") + ". Arrow keys step through frames.");
      place.addEventListener("keydown", (event) => keys(u, event));
      new ResizeObserver(() => { if (place.clientWidth) u.setSize({ width: place.clientWidth, height: u.height }); }).observe(place);
    });
  }
  /* ---- drawings whose points can be read, by hovering and by arrow keys ---- */
  const NEAR_PX = 40;
  const inUnits = (text) => text.replace(NUMBER, (_, number, decimals, space, unit) =>
    converted(Number(number), unit, (decimals ?? "").length) + space + units[unit][1]);
  function readable(place) {
    const points = [...place.querySelectorAll("[data-say]")], readout = place.closest("figure").querySelector(".readout");
    let at = -1;
    const show = (k) => {
      points[at]?.classList.remove("on");
      at = k;
      points[at]?.classList.add("on");
      readout.textContent = at < 0 ? "" : inUnits(points[at].dataset.say);
    };
    const away = (one, event) => {
      const box = one.getBoundingClientRect();
      return Math.hypot(event.clientX - (box.left + box.right) / 2, event.clientY - (box.top + box.bottom) / 2);
    };
    place.tabIndex = 0;
    place.setAttribute("role", "group");
    place.setAttribute("aria-label", place.querySelector("svg").getAttribute("aria-label") + ". Arrow keys step through its points.");
    place.addEventListener("keydown", (event) => {
      const to = { ArrowRight: at + 1, ArrowLeft: at - 1, Home: 0, End: points.length - 1 }[event.key];
      if (to === undefined) return;
      event.preventDefault();
      show(Math.max(0, Math.min(points.length - 1, to)));
    });
    place.addEventListener("pointermove", (event) => {
      const far = points.map((one) => away(one, event)), nearest = far.indexOf(Math.min(...far));
      show(far[nearest] <= NEAR_PX ? nearest : -1);
    });
    place.addEventListener("pointerleave", () => show(-1));
  }

  const redraw = () => plots.forEach((u) => u.redraw(true, true));

  collect(document.body);
  each(".points", readable);
  if (document.querySelector(".chart")) {
    document.documentElement.classList.add("live");
    drawCharts();
    document.getElementById("own-scale").addEventListener("change", (event) => {
      ownScale = event.target.checked;
      plots.forEach((u) => u.setScale("y", { min: 0, max: 0 }));
      redraw();
    });
    whole.addEventListener("click", showAll);
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", redraw);
  }
  document.getElementById("light").addEventListener("change", (event) => {
    for (const shade of ["light", "dark"]) document.documentElement.classList.toggle("as-" + shade, event.target.value === shade);
    redraw();
  });
  document.getElementById("units").addEventListener("change", (event) => {
    units = UNITS[event.target.value];
    showUnits();
    redraw();
  });
})();
