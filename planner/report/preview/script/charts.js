// Charts by pass with their limits, and lands against tolerance; the plotting library draws them.
"use strict";
(() => {
  const { html, svg, KINDS, widthOf } = preview;
  const SYMBOLS = { domain: Object.keys(KINDS), range: ["circle", "square", "triangle"] };

  // The library's own style sheet is taken off: the page's policy lets no style in but its own.
  function chart(host, title, options, note) {
    const figure = html("figure", {}, html("h3", {}, title));
    host.append(figure);
    const plot = Plot.plot({
      className: "chart",
      width: widthOf(figure),
      height: 230,
      marginLeft: 52,
      marginRight: 16,
      marginTop: 30,
      marginBottom: 42,
      ariaLabel: title,
      ...options,
    });
    for (const style of plot.querySelectorAll("style")) style.remove();
    plot.setAttribute("role", "img");
    figure.append(plot, html("figcaption", {}, note));
  }

  function series(rows, key, dash, symbol) {
    const line = { x: "n", y: key, strokeDasharray: dash };
    const dots = symbol
      ? Plot.dot(rows, { x: "n", y: key, symbol: () => symbol, r: 3.5, fill: "currentColor" })
      : Plot.dot(rows, { x: "n", y: key, symbol: "kind", r: 3.5, fill: "currentColor" });
    return [Plot.line(rows, line), dots];
  }

  const limit = (value, text, n, dash = "8 3", under = false) => [
    Plot.ruleY([value], { strokeDasharray: dash, strokeWidth: 2, className: "limit" }),
    Plot.text([value], { x: n, y: (d) => d, text: () => text, textAnchor: "end", dy: under ? 9 : -7, className: "limit-label" }),
  ];

  function byPass(host, setup, index) {
    const rows = setup.passes.map((p) => p.plan);
    const here = rows[index].n;
    const [first, last] = [rows[0].n, rows[rows.length - 1].n];
    const x = { label: "pass", domain: [first - 0.5, last + 0.5], ticks: Math.min(rows.length, 10), tickFormat: (n) => (Number.isInteger(n) ? String(n) : "") };
    const now = Plot.ruleX([here], { className: "now", strokeWidth: 1.5, strokeDasharray: "1 3" });
    const limits = setup.limits;
    const top = (...values) => [0, 1.12 * Math.max(...values)];
    const edge = last + 0.5;
    host.replaceChildren(); // a figure's width is asked when it stands in the page
    const legendOf = (...words) => words.join("; ") + `. Dotted upright line: pass ${here}.`;
    chart(host, `Normal force, set-up ${setup.name}`, {
      x, symbol: SYMBOLS,
      y: { label: "N", grid: true, domain: top(limits.normal_force_n, ...rows.map((r) => r.normal_force_n)) },
      marks: [Plot.ruleY([0]), now, ...limit(limits.normal_force_n, `limit ${limits.normal_force_n.toFixed(0)} N`, edge), ...series(rows, "normal_force_n", null)],
    }, legendOf("Circle: rough", "square: finish", "triangle: spark-out"));
    chart(host, `Temperature, set-up ${setup.name}`, {
      x, symbol: { domain: ["circle", "square", "triangle"], range: ["circle", "square", "triangle"] },
      y: { label: "°C", grid: true, domain: top(limits.flash_c, limits.soak_c, ...rows.map((r) => r.flash_temperature_c)) },
      marks: [Plot.ruleY([0]), now,
        ...limit(limits.soak_c, `limit of blade and edge ${limits.soak_c.toFixed(0)} °C`, edge, "8 3", limits.soak_c <= limits.flash_c),
        ...limit(limits.flash_c, `limit under the wheel ${limits.flash_c.toFixed(0)} °C`, edge, "8 3 2 3"),
        ...series(rows, "edge_temperature_c", null, "circle"),
        ...series(rows, "soak_temperature_c", "6 3", "square"),
        ...series(rows, "flash_temperature_c", "2 3", "triangle")],
    }, legendOf("Circles: the edge", "squares, dashed: the hottest place of the blade", "triangles, dotted: the face under the wheel"));
    chart(host, `Depth, set-up ${setup.name}`, {
      x, symbol: { domain: ["circle", "square"], range: ["circle", "square"] },
      y: { label: "mm", grid: true, domain: top(setup.target_depth_mm, ...rows.map((r) => r.commanded_depth_mm)), tickFormat: (v) => String(Number(v.toPrecision(3))) },
      marks: [Plot.ruleY([0]), now,
        ...limit(setup.target_depth_mm, `target ${setup.target_depth_mm.toFixed(4)} mm`, edge),
        ...series(rows, "commanded_depth_mm", "6 3", "square"),
        ...series(rows, "reached_depth_mm", null, "circle")],
    }, legendOf("Circles: reached", "squares, dashed: set to"));
  }

  // Every land as its distance from what is wanted, in one row each.
  function landsChart(host, setups) {
    const rows = setups.filter((s) => s.lands).flatMap((s) =>
      [["edge_land", "edge land"], ["shoulder_land", "shoulder land"]].map(([key, name]) => ({
        land: `${s.name} ${name}`,
        wanted: s.lands[`${key}_mm`],
        tolerance: s.lands.tolerance_mm,
        sd: s.lands[`${key}_sd_mm`],
        measured: s.lands.measured.map((m) => m[`${key}_mm`]),
        middle: d3.mean(s.lands.measured, (m) => m[`${key}_mm`]) - s.lands[`${key}_mm`],
      })),
    );
    if (!rows.length) return;
    const dots = rows.flatMap((r) => r.measured.map((m) => ({ land: r.land, off: m - r.wanted })));
    const most = 1.15 * Math.max(...rows.map((r) => Math.max(r.tolerance, Math.abs(r.middle) + 2 * r.sd)), ...dots.map((d) => Math.abs(d.off)));
    const ticked = (rows, place) => Plot.tickX(rows, { y: "land", x: place, strokeWidth: 2, className: "limit" });
    chart(host, "Lands measured on what the programs leave", {
      height: 66 + 44 * rows.length,
      marginLeft: 20,
      marginRight: 20,
      marginTop: 8,
      y: { axis: null, domain: rows.map((r) => r.land), padding: 0.45 },
      x: { label: "off what is wanted, mm", domain: [-most, most], grid: true, tickFormat: (v) => (v > 0 ? `+${v}` : String(v)) },
      marks: [
        Plot.ruleX([0]),
        Plot.barX(rows, { y: "land", x1: (r) => -r.tolerance, x2: (r) => r.tolerance, className: "band", fill: "none", stroke: "currentColor", strokeDasharray: "8 3", insetTop: 0, insetBottom: 0 }),
        ticked(rows, (r) => -r.tolerance), ticked(rows, (r) => r.tolerance),
        Plot.ruleY(rows, { y: "land", x1: (r) => r.middle - 2 * r.sd, x2: (r) => r.middle + 2 * r.sd, strokeWidth: 3, className: "spread" }),
        Plot.dot(dots, { y: "land", x: "off", symbol: "diamond", r: 6, fill: "currentColor" }),
        Plot.text(rows, { y: "land", x: -most, text: "land", textAnchor: "start", dy: -19, dx: -8, className: "row-label" }),
      ],
    }, "Dashed frame: tolerance. Diamonds: measured at five places along the edge. Thick line: from there two standard deviations either way, as predicted.");
  }

  Object.assign(preview, { byPass, landsChart });
})();
