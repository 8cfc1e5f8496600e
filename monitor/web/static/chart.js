// Lets a reader look closer at a chart: zoom and read single values. Without it the drawing stays.
"use strict";
(() => {
  const place = new URL("vendor/uplot/", document.currentScript.src);
  const HOUR = 3600;
  let library = null;

  function loadLibrary() {
    library ??= new Promise((done, failed) => {
      const style = document.createElement("link");
      style.rel = "stylesheet";
      style.href = new URL("uPlot.min.css", place);
      const script = document.createElement("script");
      script.src = new URL("uPlot.iife.min.js", place);
      script.onload = () => done(window.uPlot);
      script.onerror = () => { library = null; failed(new Error("the chart's program did not load")); };
      document.head.append(style, script);
    });
    return library;
  }

  // One column of times for all lines; where a line says nothing, its value is null.
  function joined(told) {
    const times = new Set([told.now, told.until]);
    for (const line of told.lines) for (const at of line.at) times.add(at);
    for (const low of told.lows) times.add(low.at);
    const at = [...times].sort((a, b) => a - b);
    const columns = told.lines.map((line) => {
      const by = new Map(line.at.map((t, n) => [t, line.value[n]]));
      // A time that is only another line's breaks nothing: undefined is bridged, null is a gap.
      return at.map((t) => by.has(t) ? by.get(t) : undefined);
    });
    const coming = told.lows.flatMap((low) => [0, 1, 2].map((n) =>
      at.map((t) => t === low.at ? low.values[n] : null)));
    const limits = told.limits.map((limit) => at.map(() => limit.value));
    return [at, ...columns, ...coming, ...limits];
  }

  function seriesOf(told, ink, water) {
    const written = (_, value) => value == null ? "–" : `${value.toFixed(1)} ${told.unit}`.replace("-", "−");
    const dashes = { dew: [5, 3], inside: [2, 3] };
    return [
      {},
      ...told.lines.map((line) => ({
        label: line.name, stroke: line.key === "dew" ? water : ink, value: written,
        width: line.key === "air" ? 2 : 1.5, dash: dashes[line.key], points: { show: false },
      })),
      ...told.lows.flatMap(() => ["cold end", "coming low", "mild end"].map((label, n) => ({
        label, stroke: ink, paths: () => null, value: written,
        points: { show: true, size: n === 1 ? 9 : 6, fill: n === 1 ? ink : "transparent" },
      }))),
      ...told.limits.map((limit) => ({
        label: limit.name, stroke: ink, width: 2, dash: [9, 3], value: written, points: { show: false },
      })),
    ];
  }

  async function lookCloser(figure, button) {
    const uPlot = await loadLibrary();
    const told = JSON.parse(figure.querySelector("script").textContent);
    const look = getComputedStyle(document.documentElement);
    const ink = look.getPropertyValue("--ink").trim(), hair = look.getPropertyValue("--hair").trim();
    const water = look.getPropertyValue("--water").trim();
    const data = joined(told);
    const box = document.createElement("div");
    box.className = "closer";
    const bar = document.createElement("p");
    bar.className = "moves";
    box.append(bar);
    figure.querySelector("figcaption").before(box);
    const axis = { stroke: ink, grid: { stroke: hair, width: 1 }, ticks: { stroke: hair } };
    const plot = new uPlot({
      width: box.clientWidth, height: 320,
      tzDate: (s) => uPlot.tzDate(new Date(s * 1000), told.zone),
      scales: { x: { time: true } }, axes: [axis, { ...axis, size: 48 }],
      series: seriesOf(told, ink, water), cursor: { drag: { x: true, y: false } },
    }, data, box);
    const ends = [data[0][0], data[0].at(-1)];
    const go = (share, scale) => {
      const { min, max } = plot.scales.x;
      const wide = Math.min(Math.max((max - min) * scale, 3 * HOUR), ends[1] - ends[0]);
      let from = (min + max) / 2 + share * (max - min) - wide / 2;
      from = Math.min(Math.max(from, ends[0]), ends[1] - wide);
      plot.setScale("x", { min: from, max: from + wide });
    };
    for (const [name, act] of [
      ["Closer", () => go(0, 0.5)], ["Wider", () => go(0, 2)],
      ["Earlier", () => go(-0.5, 1)], ["Later", () => go(0.5, 1)],
      ["Tonight", () => plot.setScale("x", { min: told.now - 2 * HOUR, max: told.until })],
      ["All", () => plot.setScale("x", { min: ends[0], max: ends[1] })],
    ]) {
      const one = document.createElement("button");
      one.type = "button";
      one.className = "zoom";
      one.textContent = name;
      one.addEventListener("click", act);
      bar.append(one);
    }
    button.hidden = true;
    bar.querySelector("button").focus();
    addEventListener("resize", () => plot.setSize({ width: box.clientWidth, height: 320 }));
  }

  for (const button of document.querySelectorAll(".night-chart > .zoom")) {
    button.hidden = false;
    button.addEventListener("click", () => {
      lookCloser(button.closest(".night-chart"), button).catch((problem) => {
        button.textContent = `It stays as it is: ${problem.message}.`;
      });
    });
  }
})();
