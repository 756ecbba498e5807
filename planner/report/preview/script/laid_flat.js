// The face laid flat: places along it to scale, depths below it drawn larger.
"use strict";
(() => {
  const { html, svg, dot, path, bounds, roundLength, lengthText, shape, picture, label, scaleBar, legend, widthOf } = preview;
  const FACTORS = [1, 2, 5, 10, 20, 50, 100, 200];
  const KEY = "flat";

  // [place along the face from the edge, depth below it]
  const onFace = (frame) => (point) => [
    dot(point, frame.corner, frame.along),
    -dot(point, frame.corner, frame.normal),
  ];

  function layout(setup, width) {
    const frame = setup.face_frame;
    const margin = 0.08 * frame.width_mm + 0.2;
    const height = Math.round(Math.min(Math.max(0.62 * width, 240), 400));
    const taken = bounds(setup.passes.flatMap((p) => p.read.cut), onFace(frame));
    const [shallow, deep] = Number.isFinite(taken[1]) ? [taken[1], taken[3]] : [0, 0.01];
    return { frame, margin, width, height, shallow, deep, scale: width / (frame.width_mm + 2 * margin) };
  }

  // The largest factor at which the steel taken in this set-up stays within half of the drawing.
  function fittingFactor(setup, width) {
    const { height, shallow, deep, scale } = layout(setup, width);
    const most = (0.5 * height) / (Math.max(deep - shallow, 1e-4) * scale);
    return FACTORS.filter((f) => f <= most).pop() || 1;
  }

  const factorText = (factor) => (factor === 1 ? "to scale" : `${factor} times larger`);

  function drawFlat(host, setup, index, factor) {
    const { frame, margin, width, height, shallow, deep, scale } = layout(setup, widthOf(host));
    const middle = (shallow + deep) / 2;
    const flat = onFace(frame);
    const place = (point) => {
      const [along, depth] = flat(point);
      return [(along + margin) * scale, height * 0.55 + (depth - middle) * scale * factor];
    };
    const { read } = setup.passes[index];
    const done = setup.passes[setup.passes.length - 1].read.left;
    const wheel = setup.wheel_uv.map(([u, v]) => [
      read.wheel[0] + u * read.cross_dir[0] + v * read.infeed_dir[0],
      read.wheel[1] + u * read.cross_dir[1] + v * read.infeed_dir[1],
    ]);
    const [left, right] = [margin * scale, (margin + frame.width_mm) * scale];
    const long = roundLength((0.25 * width) / scale);
    const down = roundLength((0.25 * height) / (scale * factor));
    host.replaceChildren(
      picture(
        KEY, width, height,
        `Face ${setup.face} laid flat, depth drawn ${factorText(factor)}: the wheel and the steel it takes`,
        ...shape(KEY, "steel", path(read.left, place)),
        ...shape(KEY, "wheel", path([wheel], place)),
        svg("path", { d: path(setup.before, place), class: "before", fill: "none" }),
        ...shape(KEY, "cut", path(read.cut, place)),
        svg("path", { d: path(done, place), class: "done", fill: "none" }),
        svg("path", { d: `M${left},0V${height}M${right},0V${height}`, class: "guide" }),
        label(left + 4, 16, "edge", { class: "halo" }),
        label(right - 4, 16, "shoulder", { "text-anchor": "end", class: "halo" }),
        svg("g", { class: "halo" },
          ...scaleBar(left + 10, height - 12, long * scale, lengthText(long)),
          ...scaleBar(left + 10, height - 26, down * scale * factor, `${lengthText(down)} deep`, true),
        ),
      ),
      html("figcaption", {},
        `Face ${setup.face} laid flat; depth drawn ${factorText(factor)}`,
        factor === 1 ? ", like lengths along the face." : " than lengths along the face, the wheel too.",
        legend(KEY, [
          [{ hatch: "steel" }, "steel left"],
          [{ hatch: "cut" }, read.cut.length ? "taken in this pass" : "taken in this pass: nothing"],
          [{ hatch: "wheel" }, "wheel"],
          [{ line: "before" }, "before this set-up"],
          [{ line: "done" }, "after it"],
        ]),
      ),
    );
  }

  Object.assign(preview, { FACTORS, fittingFactor, factorText, drawFlat });
})();
