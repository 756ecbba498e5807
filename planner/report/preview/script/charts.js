// Charts by pass with their limits, and lands against tolerance; the plotting library draws them.
"use strict";
(() => {
  const { html, KINDS, widthOf } = preview;
  const SYMBOLS = { domain: Object.keys(KINDS), range: ["circle", "square", "triangle"] };

  const MARGIN = { left: 52, right: 16, top: 30, bottom: 42 };
  const HEIGHT = 230;
  const LABEL = { letter: 6.8, high: 15, off: 3 }; // pixels of a limit's name, and how far from its line

  // The library's own style sheet is taken off: the page's policy lets no style in but its own.
  function chart(figure, title, options, note) {
    const plot = Plot.plot({
      className: "chart",
      width: widthOf(figure),
      height: HEIGHT,
      marginLeft: MARGIN.left,
      marginRight: MARGIN.right,
      marginTop: MARGIN.top,
      marginBottom: MARGIN.bottom,
      ariaLabel: title,
      ...options,
    });
    for (const style of plot.querySelectorAll("style")) style.remove();
    plot.setAttribute("role", "img");
    for (const mark of plot.querySelectorAll("g[aria-label]")) {
      // A group inside of a picture has no name of its own for a screen reader.
      mark.dataset.mark = mark.getAttribute("aria-label");
      mark.removeAttribute("aria-label");
    }
    figure.append(html("h3", {}, title), plot, html("figcaption", {}, note));
  }

  // A figure's width is asked when it stands in the page.
  function newFigure(host) {
    const figure = html("figure");
    host.append(figure);
    return figure;
  }

  const within = (point, box) => point[0] > box[0] && point[0] < box[2] && point[1] > box[1] && point[1] < box[3];
  const crossed = (one, other) => one[0] < other[2] && other[0] < one[2] && one[1] < other[3] && other[1] < one[3];

  // Where a limit's name covers the least of the curves: at either end, over its line or under it.
  function quietest(limit, curves, taken, x, y) {
    const long = limit.text.length * LABEL.letter;
    const line = y(limit.value);
    const [left, right] = x.range();
    let best = null;
    for (const anchor of ["end", "start"]) {
      for (const over of [true, false]) {
        const start = anchor === "end" ? right - long : left;
        const top = over ? line - LABEL.off - LABEL.high : line + LABEL.off;
        const box = [start, top, start + long, top + LABEL.high];
        const covered = curves.filter((point) => within(point, box)).length +
          1000 * taken.filter((other) => crossed(box, other)).length;
        if (!best || covered < best.covered) best = { covered, box, anchor, over };
      }
    }
    taken.push(best.box);
    return best;
  }

  // Points along a curve, a few pixels apart.
  function along(rows, key, x, y) {
    return rows.slice(0, rows.length - 1).flatMap((row, n) => {
      const [from, to] = [row, rows[n + 1]].map((r) => [x(r.n), y(r[key])]);
      const count = Math.ceil(Math.hypot(to[0] - from[0], to[1] - from[1]) / 3) + 1;
      return d3.range(count).map((i) => [0, 1].map((k) => from[k] + ((to[k] - from[k]) * i) / count));
    }).concat(rows.slice(-1).map((r) => [x(r.n), y(r[key])]));
  }

  // One quantity by pass: curves, each with dashes and a symbol of its own, and the limits that hold.
  function overPasses(host, title, { unit, rows, here, curves, limits, note }) {
    const figure = newFigure(host);
    const [first, last] = [rows[0].n - 0.5, rows[rows.length - 1].n + 0.5];
    const highest = Math.max(...limits.map((l) => l.value), ...curves.flatMap((c) => rows.map((r) => r[c.key])));
    const domain = [0, 1.12 * highest];
    const x = d3.scaleLinear([first, last], [MARGIN.left, widthOf(figure) - MARGIN.right]);
    const y = d3.scaleLinear(domain, [HEIGHT - MARGIN.bottom, MARGIN.top]);
    const points = curves.flatMap((c) => along(rows, c.key, x, y));
    const taken = [];
    const symbols = curves.some((c) => !c.symbol) ? SYMBOLS
      : { domain: SYMBOLS.range, range: SYMBOLS.range };
    chart(figure, title, {
      symbol: symbols,
      x: { label: "pass", domain: [first, last], ticks: Math.min(rows.length, 10), tickFormat: (n) => (Number.isInteger(n) ? String(n) : "") },
      y: { label: unit, grid: true, domain, tickFormat: (v) => String(Number(v.toPrecision(3))) },
      marks: [
        Plot.ruleY([0]),
        Plot.ruleX([here], { className: "now", strokeWidth: 1.5, strokeDasharray: "1 3" }),
        ...limits.map((l) => Plot.ruleY([l.value], { strokeDasharray: l.dash, strokeWidth: 2, className: "limit" })),
        ...curves.flatMap((c) => [
          Plot.line(rows, { x: "n", y: c.key, strokeDasharray: c.dash }),
          Plot.dot(rows, { x: "n", y: c.key, symbol: c.symbol ? () => c.symbol : "kind", r: 3.5, fill: "currentColor" }),
        ]),
        ...limits.map((l) => {
          const { anchor, over } = quietest(l, points, taken, x, y);
          return Plot.text([l.value], {
            x: anchor === "end" ? last : first, y: (d) => d, text: () => l.text, textAnchor: anchor,
            dy: (over ? -1 : 1) * (LABEL.off + LABEL.high / 2), className: "limit-label",
          });
        }),
      ],
    }, `${note}. Dotted upright line: pass ${here}.`);
  }

  function byPass(host, setup, index) {
    const rows = setup.passes.map((p) => p.plan);
    const shared = { rows, here: rows[index].n };
    const { normal_force_n: force, soak_c: soak, flash_c: flash } = setup.limits;
    const target = setup.target_depth_mm;
    host.replaceChildren();
    overPasses(host, `Normal force, set-up ${setup.name}`, {
      ...shared, unit: "N",
      curves: [{ key: "normal_force_n" }],
      limits: [{ value: force, text: `limit ${force.toFixed(0)} N`, dash: "8 3" }],
      note: "Circle: rough; square: finish; triangle: spark-out",
    });
    overPasses(host, `Temperature, set-up ${setup.name}`, {
      ...shared, unit: "°C",
      curves: [
        { key: "edge_temperature_c", symbol: "circle" },
        { key: "soak_temperature_c", symbol: "square", dash: "6 3" },
        { key: "flash_temperature_c", symbol: "triangle", dash: "2 3" },
      ],
      limits: [
        { value: flash, text: `limit under the wheel ${flash.toFixed(0)} °C`, dash: "8 3 2 3" },
        { value: soak, text: `limit of blade and edge ${soak.toFixed(0)} °C`, dash: "8 3" },
      ],
      note: "Circles: the edge; squares, dashed: the hottest place of the blade; triangles, dotted: the face under the wheel",
    });
    overPasses(host, `Depth, set-up ${setup.name}`, {
      ...shared, unit: "mm",
      curves: [
        { key: "commanded_depth_mm", symbol: "square", dash: "6 3" },
        { key: "reached_depth_mm", symbol: "circle" },
      ],
      // Where the tilt is swept every facet has a target of its own.
      limits: rows[0].target_depth_mm !== undefined ? [] : [{ value: target, text: `target ${target.toFixed(4)} mm`, dash: "8 3" }],
      note: "Circles: reached; squares, dashed: set to",
    });
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
    chart(newFigure(host), "Lands measured on what the programs leave", {
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
