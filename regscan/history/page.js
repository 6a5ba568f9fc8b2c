"use strict";
/* Draws the named trends from the facts in the page and lets them be read by mouse and keyboard.
   Nothing here measures or decides. */
(() => {
  const charts = JSON.parse(document.getElementById("facts").textContent);
  if (!charts.length || typeof uPlot === "undefined") return;
  const style = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();
  const shown = (value) => Math.abs(value).toFixed(3);
  const day = (s) => new Date(s * 1000).toLocaleDateString("en-GB", { day: "numeric", month: "short", year: "numeric" });

  function points(u, chart) {
    const { ctx } = u, r = devicePixelRatio;
    ctx.save();
    chart.x.forEach((when, k) => {
      const x = u.valToPos(when, "x", true), y = u.valToPos(chart.y[k], "y", true);
      ctx.strokeStyle = style("--soft"); ctx.lineWidth = r;
      if (chart.sd[k] !== null) {
        ctx.beginPath();
        ctx.moveTo(x, u.valToPos(chart.y[k] - chart.sd[k], "y", true));
        ctx.lineTo(x, u.valToPos(chart.y[k] + chart.sd[k], "y", true));
        ctx.stroke();
      }
      ctx.beginPath();
      if (!chart.found[k]) {
        ctx.moveTo(x - 4 * r, y - 7 * r); ctx.lineTo(x + 4 * r, y - 7 * r); ctx.lineTo(x, y); ctx.closePath(); ctx.stroke();
        return;
      }
      ctx.arc(x, y, 3.6 * r, 0, 2 * Math.PI);
      ctx.fillStyle = style(chart.same[k] ? "--curve" : "--paper"); ctx.fill();
      ctx.stroke();
    });
    if (chart.line) {
      ctx.strokeStyle = style("--out"); ctx.lineWidth = 3 * r; ctx.lineCap = "round";
      ctx.beginPath();
      ctx.moveTo(u.valToPos(chart.x[0], "x", true), u.valToPos(chart.line[0], "y", true));
      ctx.lineTo(u.valToPos(chart.x[chart.x.length - 1], "x", true), u.valToPos(chart.line[1], "y", true));
      ctx.stroke();
    }
    ctx.restore();
  }

  const words = (chart, k) => `run ${chart.run[k]}, ${day(chart.x[k])}, ${chart.job[k]}: ` + (chart.found[k] ? `${shown(chart.y[k])} ${chart.unit}` : "too small to be found");

  function options(chart, place, readout) {
    const font = "12px " + getComputedStyle(document.body).fontFamily;
    const axis = { stroke: () => style("--soft"), font, ticks: { show: false }, grid: { stroke: () => style("--rule"), width: 0.5 } };
    const reach = chart.y.flatMap((y, k) => [y - (chart.sd[k] ?? 0), y + (chart.sd[k] ?? 0)]);
    const low = 1.15 * Math.min(0, ...reach), high = 1.15 * Math.max(0, ...reach) || 0.01;
    return {
      width: place.clientWidth, height: Math.round(Math.min(240, 130 + place.clientWidth / 6)),
      padding: [8, 12, 0, 0], legend: { show: false },
      cursor: { points: { show: true }, drag: { x: false, y: false } },
      scales: { x: { time: true }, y: { range: () => [low, high] } },
      axes: [axis, { ...axis, size: 56, values: (_, ticks) => ticks.map((t) => t.toFixed(3).replace("-", "\u2212")) }],
      series: [{}, { stroke: "transparent", points: { show: false } }],
      hooks: {
        draw: [(u) => points(u, chart)],
        setCursor: [(u) => { const k = u.cursor.idx; readout.textContent = k === null || k === undefined ? "" : words(chart, k); }],
      },
    };
  }

  document.documentElement.classList.add("live");
  document.querySelectorAll("[data-chart]").forEach((place) => {
    const chart = charts[Number(place.dataset.chart)];
    const readout = place.parentElement.querySelector(".readout");
    const plot = new uPlot(options(chart, place, readout), [chart.x, chart.y], place);
    let at = chart.x.length - 1;
    place.addEventListener("keydown", (event) => {
      const step = { ArrowLeft: -1, ArrowRight: 1 }[event.key];
      if (!step) return;
      event.preventDefault();
      at = Math.max(0, Math.min(chart.x.length - 1, at + step));
      plot.setCursor({ left: plot.valToPos(chart.x[at], "x"), top: plot.valToPos(chart.y[at], "y") });
      readout.textContent = words(chart, at);
    });
    new ResizeObserver(() => plot.setSize({ width: place.clientWidth, height: plot.height })).observe(place);
  });
})();
