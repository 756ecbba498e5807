// Drawings to scale: the section before and after, along the edge, and from the side.
"use strict";
(() => {
  const { html, svg, dot, path, bounds, roundLength, lengthText, shape, picture, label, scaleBar, legend, widthOf } = preview;

  const wide = (low, high, share) => [low - share * (high - low), high + share * (high - low)];

  // Wider where it would otherwise be taller than it is wide.
  function notTaller(left, right, tall) {
    const lack = Math.max(tall - (right - left), 0) / 2;
    return [left - lack, right + lack];
  }

  function drawSection(host, section) {
    const key = "section";
    const width = Math.min(widthOf(host), 900);
    const [low, bottom, high, top] = bounds([...section.before, ...section.after]);
    const [left, right] = wide(low, high, 0.03);
    const scale = width / (right - left);
    const height = Math.round((top - bottom) * scale + 64);
    const place = ([y, z]) => [(y - left) * scale, 22 + (top - z) * scale];
    const long = roundLength((0.25 * width) / scale);
    const under = 22 + (top - bottom) * scale;
    host.replaceChildren(
      picture(
        key, width, height, "The section before and after, to scale",
        ...shape(key, "steel", path(section.after, place)),
        svg("path", { d: path(section.before, place), class: "before", fill: "none" }),
        label(place([low, 0])[0], under + 18, "edge"),
        label(place([high, 0])[0], under + 18, "spine", { "text-anchor": "end" }),
        label(width / 2, 14, "face A", { "text-anchor": "middle" }),
        label(width / 2, under + 18, "face B", { "text-anchor": "middle" }),
        ...scaleBar(place([low, 0])[0], height - 12, long * scale, lengthText(long)),
      ),
      html("figcaption", {}, "To scale, as the programs leave it at the middle of the edge.",
        legend(key, [[{ hatch: "steel" }, "after"], [{ line: "before" }, "before"]])),
    );
  }

  // Looking along the edge, as it is clamped: the infeed up, the cross axis to the right.
  function drawAlong(host, setup, index, whole) {
    const key = "along";
    const width = widthOf(host);
    const { read } = setup.passes[index];
    const view = (point) => [dot(point, setup.origin, read.cross_dir), dot(point, setup.origin, read.infeed_dir)];
    const [cross, infeed] = view(read.wheel);
    const tool = ([u, v]) => [u + cross, v + infeed];
    const blade = bounds(setup.before, view);
    const things = setup.things.filter((t) => t.name !== "blade");
    const named = [...new Map(things.map((t) => [t.name, t])).values()];
    // What stands past the ends of the blade is drawn as a line: the wheel may be in front of it.
    const ends = setup.things.filter((t) => t.name === "blade").map((t) => t.traverse);
    const beside = (t) => ends.some(([from, to]) => t.traverse[0] < to && t.traverse[1] > from);
    const past = named.filter((t) => !beside(t));
    let [left, low, right, high] = blade;
    if (whole) {
      const all = setup.parts.map((part) => bounds(part.along_edge, tool));
      left = Math.min(left, ...all.map((b) => b[0]));
      low = Math.min(low, ...all.map((b) => b[1]));
      right = Math.max(right, ...all.map((b) => b[2]));
      high = Math.max(high, ...all.map((b) => b[3]));
    } else {
      high += 0.35 * (right - left);
    }
    low -= 0.08 * (right - left); // room for the scale
    [low, high] = wide(low, high, 0.06);
    [left, right] = notTaller(...wide(left, right, 0.06), high - low);
    const scale = width / (right - left);
    const height = Math.round((high - low) * scale);
    const put = ([u, v]) => [(u - left) * scale, (high - v) * scale];
    const steel = (point) => put(view(point));
    const carried = setup.parts.filter((part) => part.name !== "wheel");
    const long = roundLength((0.25 * width) / scale);
    host.replaceChildren(
      picture(
        key, width, height, `Along the edge, to scale: wheel, blade and what stands in the way, set-up ${setup.name}`,
        ...named.filter(beside).flatMap((t) => shape(key, "thing", path(t.outline, steel))),
        ...shape(key, "steel", path(read.left, steel)),
        ...shape(key, "wheel", path([setup.wheel_uv.map(tool)], put)),
        ...carried.map((part) => svg("path", { d: path(part.along_edge.map((r) => r.map(tool)), put), class: "carried", fill: "none" })),
        ...past.map((t) => svg("path", { d: path(t.outline, steel), class: "past", fill: "none" })),
        ...shape(key, "cut", path(read.cut, steel)),
        svg("g", { class: "halo" }, ...scaleBar(12, height - 14, long * scale, lengthText(long))),
      ),
      html("figcaption", {}, "Along the edge, to scale, as clamped: infeed up, cross to the right.",
        standing(key, named.filter(beside), carried, past)),
    );
  }

  function standing(key, named, carried, past = []) {
    const items = [[{ hatch: "steel" }, "blade"], [{ hatch: "wheel" }, "wheel"]];
    if (named.length) items.push([{ hatch: "thing" }, named.map((t) => t.name).join(", ")]);
    if (carried.length) items.push([{ line: "carried" }, carried.map((p) => p.name).join(", ")]);
    if (past.length) items.push([{ line: "past" }, `${past.map((t) => t.name).join(", ")}, past the ends of the blade`]);
    return legend(key, items);
  }

  // From the side: the traverse to the right, the infeed up; where the pass starts and ends.
  function drawBeside(host, setup, index, whole) {
    const key = "beside";
    const width = widthOf(host);
    const { read } = setup.passes[index];
    const up = (point) => dot(point, setup.origin, read.infeed_dir);
    const heightOf = (rings) => {
      const [low, , high] = bounds(rings, (p) => [up(p), 0]);
      return [low, high];
    };
    const infeed = up(read.wheel);
    const [from, to] = read.traverse;
    const blades = setup.things.filter((t) => t.name === "blade");
    const things = setup.things.filter((t) => t.name !== "blade" && t.outline.length);
    const wheel = setup.parts.find((p) => p.name === "wheel");
    const carried = setup.parts.filter((p) => p.name !== "wheel");
    const box = bounds(wheel.across_edge);
    let left = Math.min(from, to, ...blades.map((b) => b.traverse[0])) + box[0];
    let right = Math.max(from, to, ...blades.map((b) => b.traverse[1])) + box[2];
    let [low, high] = heightOf(setup.before);
    if (whole) {
      const all = setup.parts.map((p) => bounds(p.across_edge));
      left = Math.min(left, ...all.map((b) => Math.min(from, to) + b[0]));
      right = Math.max(right, ...all.map((b) => Math.max(from, to) + b[2]));
      high = Math.max(high, ...all.map((b) => b[3] + infeed));
    } else {
      high += 0.3 * (right - left);
    }
    [low, high] = wide(low, high, 0.08);
    [left, right] = notTaller(...wide(left, right, 0.03), high - low);
    const scale = width / (right - left);
    const run = runOff(setup, read, blades);
    // Two run-offs that would stand in each other's way stand under each other.
    const stacked = run.length > 1 && (run[1].high - run[0].low) * scale < 230;
    const height = Math.round((high - low) * scale + (stacked ? 74 : 58));
    const put = ([x, v]) => [(x - left) * scale, (high - v) * scale];
    const block = (t) => {
      const [bottom, top] = heightOf(t.outline);
      return [t.traverse[0], t.traverse[1]].flatMap((x, n) => (n ? [[x, top], [x, bottom]] : [[x, bottom], [x, top]]));
    };
    const at = (part, traverse) => part.across_edge.map((r) => r.map(([x, v]) => [x + traverse, v + infeed]));
    const [bottom, top] = heightOf(read.left);
    const base = (high - low) * scale;
    const arrow = to > from ? -7 : 7;
    const [x0, x1] = [put([from, 0])[0], put([to, 0])[0]];
    host.replaceChildren(
      picture(
        key, width, height, `From the side, to scale: the wheel's way along the edge and its run-off, set-up ${setup.name}`,
        svg("svg", { width, height: base.toFixed(1) },
          ...shape(key, "thing", path(things.map(block), put)),
          ...blades.flatMap((b) =>
            shape(key, "steel", path([[[b.traverse[0], bottom], [b.traverse[1], bottom], [b.traverse[1], top], [b.traverse[0], top]]], put))),
          ...shape(key, "wheel", path(at(wheel, from), put)),
          svg("path", { d: path(at(wheel, to), put), class: "later", fill: "none" }),
          ...carried.map((p) => svg("path", { d: path(at(p, from), put), class: "carried", fill: "none" })),
        ),
        svg("path", { d: `M${x0},${base + 10}H${x1}m${arrow},-4l${-arrow},4l${arrow},4`, class: "way" }),
        ...ends(setup, blades).map(([x, text, anchor]) =>
          label(put([x, 0])[0], base + 28, text, { "text-anchor": anchor })),
        ...run.flatMap(({ low: a, high: b, text, anchor }, n) => {
          const [p, q] = [put([a, 0])[0], put([b, 0])[0]];
          return [
            svg("path", { d: `M${p},${base + 32}v8M${p},${base + 36}H${q}M${q},${base + 32}v8`, class: "bar" }),
            label(anchor === "start" ? p : q, base + 53 + (stacked && n ? 16 : 0), text, { "text-anchor": anchor }),
          ];
        }),
      ),
      html("figcaption", {}, "From the side, to scale: traverse to the right, infeed up",
        setup.laid_straight ? ", the edge laid out straight. " : ". ",
        "The wheel where the pass starts, dashed where it ends.",
        standing(key, [...new Map(things.map((t) => [t.name, t])).values()], carried)),
    );
  }

  // How far the wheel is clear of the blades where it turns round, at either end of the pass.
  function runOff(setup, read, blades) {
    const ends = [Math.min(...read.traverse), Math.max(...read.traverse)];
    const first = Math.min(...blades.map((b) => b.traverse[0]));
    const last = Math.max(...blades.map((b) => b.traverse[1]));
    const reach = setup.reach_mm;
    return [
      { low: ends[0] + reach, high: first, anchor: "start" },
      { low: last, high: ends[1] - reach, anchor: "end" },
    ]
      .filter((r) => r.high > r.low)
      .map((r) => ({ ...r, text: `run-off ${(r.high - r.low).toFixed(1)} mm` }));
  }

  function ends(setup, blades) {
    const first = Math.min(...blades.map((b) => b.traverse[0]));
    const last = Math.max(...blades.map((b) => b.traverse[1]));
    const names = setup.x_per_traverse > 0 ? ["heel", "tip"] : ["tip", "heel"];
    return [[first, names[0], "start"], [last, names[1], "end"]];
  }

  Object.assign(preview, { drawSection, drawAlong, drawBeside });
})();
