// Elements, patterns, scales and words that every drawing of the preview uses.
"use strict";
const preview = {};

(() => {
  const SPACE = "http://www.w3.org/2000/svg";

  function filled(element, attributes, children) {
    for (const [name, value] of Object.entries(attributes || {})) {
      if (value !== null && value !== undefined) element.setAttribute(name, value);
    }
    element.append(...children); // a string becomes text, never markup
    return element;
  }
  const html = (tag, attributes, ...children) =>
    filled(document.createElement(tag), attributes, children);
  const svg = (tag, attributes, ...children) =>
    filled(document.createElementNS(SPACE, tag), attributes, children);

  // A figure with its unit; the element's value is plan.json's own number.
  function figure(value, digits, unit, scale = 1) {
    if (value === null || value === undefined) return html("span", {}, "none");
    const text = (value * scale).toFixed(digits);
    return html("data", { value: String(value) }, unit ? `${text} ${unit}` : text);
  }

  function timeText(seconds) {
    if (seconds < 60) return `${seconds.toFixed(1)} s`;
    const tenths = Math.round(seconds * 10);
    return `${Math.floor(tenths / 600)} min ${((tenths % 600) / 10).toFixed(1)} s`;
  }

  const KINDS = { rough: "rough", finish: "finish", spark_out: "spark-out" };
  const OPERATIONS = { bevel: "bevel", relief: "relief", lands: "lands" };

  const dot = (point, origin, direction) =>
    (point[0] - origin[0]) * direction[0] + (point[1] - origin[1]) * direction[1];

  function path(rings, place) {
    return rings
      .map((ring) => {
        const corners = ring.map((point) => place(point).map((v) => v.toFixed(2)).join(","));
        return `M${corners.join("L")}Z`;
      })
      .join("");
  }

  // [low x, low y, high x, high y] of rings, each corner put in its place first.
  function bounds(rings, place = (point) => point) {
    const found = [Infinity, Infinity, -Infinity, -Infinity];
    for (const ring of rings) {
      for (const point of ring) {
        const [x, y] = place(point);
        found[0] = Math.min(found[0], x);
        found[1] = Math.min(found[1], y);
        found[2] = Math.max(found[2], x);
        found[3] = Math.max(found[3], y);
      }
    }
    return found;
  }

  // The largest of 1, 2, 5 times a power of ten that is not above a length.
  function roundLength(most) {
    const power = 10 ** Math.floor(Math.log10(most));
    return [5, 2, 1].map((n) => n * power).find((n) => n <= most * (1 + 1e-9));
  }
  const lengthText = (mm) => `${Number(mm.toPrecision(1))} mm`;

  // Hatches tell materials apart without colour. Names are per drawing: ids are of the page.
  const HATCHES = {
    steel: { size: 8, lines: ["M-2,2L2,-2M0,8L8,0M6,10L10,6"] },
    cut: { size: 4, lines: ["M-1,3L1,5M0,0L4,4M3,-1L5,1"] },
    wheel: { size: 7, dots: [[2, 2], [5.5, 5.5]] },
    thing: { size: 7, lines: ["M0,0L7,7M7,0L0,7"] },
  };

  function patterns(key) {
    return svg(
      "defs",
      {},
      ...Object.entries(HATCHES).map(([name, { size, lines, dots }]) =>
        svg(
          "pattern",
          { id: `${key}-${name}`, width: size, height: size, patternUnits: "userSpaceOnUse" },
          ...(lines || []).map((d) => svg("path", { d, class: `ink-${name}`, fill: "none" })),
          ...(dots || []).map(([cx, cy]) => svg("circle", { cx, cy, r: 0.9, class: `ink-${name} dot` })),
        ),
      ),
    );
  }

  // A shape twice: its ground, then its hatch and outline.
  function shape(key, name, d) {
    return [
      svg("path", { d, class: `ground ${name}`, "fill-rule": "evenodd" }),
      svg("path", { d, class: `outline ${name}`, fill: `url(#${key}-${name})`, "fill-rule": "evenodd" }),
    ];
  }

  function picture(key, width, height, title, ...children) {
    return svg(
      "svg",
      { viewBox: `0 0 ${width} ${height}`, role: "img", "aria-labelledby": `${key}-title`, class: "picture" },
      svg("title", { id: `${key}-title` }, title),
      patterns(key),
      ...children,
    );
  }

  const label = (x, y, text, attributes) =>
    svg("text", { x: x.toFixed(1), y: y.toFixed(1), ...attributes }, text);

  // A bar that is as long as the length it names, along x or along y.
  function scaleBar(x, y, pixels, text, upright = false) {
    const d = upright
      ? `M${x - 4},${y}h8M${x},${y}v${-pixels}M${x - 4},${y - pixels}h8`
      : `M${x},${y - 4}v8M${x},${y}h${pixels}M${x + pixels},${y - 4}v8`;
    const at = upright ? [x + 8, y - pixels / 2 + 4] : [x + pixels + 8, y + 4];
    return [svg("path", { d, class: "bar" }), label(...at, text)];
  }

  // What the hatches and lines of a drawing stand for.
  function legend(key, items) {
    return html(
      "ul",
      { class: "legend" },
      ...items.map(([swatch, text]) => {
        const mark = swatch.line
          ? [svg("path", { d: "M0,8H28", class: swatch.line, fill: "none" })]
          : shape(key, swatch.hatch, "M1,1H27V15H1Z");
        return html("li", {}, svg("svg", { viewBox: "0 0 28 16", "aria-hidden": "true" }, ...mark), text);
      }),
    );
  }

  const widthOf = (element) => Math.max(Math.round(element.clientWidth), 280);

  Object.assign(preview, {
    html, svg, figure, timeText, KINDS, OPERATIONS, dot, path, bounds, roundLength, lengthText,
    shape, picture, label, scaleBar, legend, widthOf,
  });
})();
