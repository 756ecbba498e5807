// Figures, tables and cautions: everything that is read, not looked at.
"use strict";
(() => {
  const { html, figure, timeText, KINDS } = preview;

  function table(heads, rows) {
    return html("table", {},
      html("thead", {}, html("tr", {}, ...heads.map((h) => html("th", { scope: "col" }, h)))),
      html("tbody", {}, ...rows.map((cells) =>
        html("tr", {}, ...cells.map((cell, n) => html(n ? "td" : "th", n ? {} : { scope: "row" }, cell))))),
    );
  }

  // Deflection is what the wheel is set to less what it reaches, both as in plan.json.
  const deflection = (plan) => plan.commanded_depth_mm - plan.reached_depth_mm;

  function showFigures(host, setup, index) {
    const { plan, read } = setup.passes[index];
    const done = html("data", { value: String(setup.before_s + read.ends_s) }, timeText(setup.before_s + read.ends_s));
    const rows = [
      ["pass", `${plan.n} of ${setup.passes[setup.passes.length - 1].plan.n}, ${KINDS[plan.kind]}`],
      ["force", figure(plan.normal_force_n, 2, "N"), `limit ${setup.limits.normal_force_n.toFixed(0)} N`],
      ["deflection", figure(deflection(plan), 2, "µm", 1000), "wheel, machine and blade give way"],
      ["reached depth", figure(plan.reached_depth_mm, 4, "mm"), `set to ${plan.commanded_depth_mm.toFixed(4)}, target ${(plan.target_depth_mm ?? setup.target_depth_mm).toFixed(4)} mm`],
      ["edge temperature", figure(plan.edge_temperature_c, 0, "°C"), `hottest place of the blade ${plan.soak_temperature_c.toFixed(0)}, limit ${setup.limits.soak_c.toFixed(0)} °C`],
      ["under the wheel", figure(plan.flash_temperature_c, 0, "°C"), `limit ${setup.limits.flash_c.toFixed(0)} °C`],
      ["elapsed", done, "by the programs, without what hands do"],
      ["steel taken", figure(plan.removed_area_mm2, 4, "mm²"), "of the section"],
      ["feed", figure(plan.feed_mm_min, 0, "mm/min"), plan.bound_by ? `held by: ${plan.bound_by}` : ""],
    ];
    if (plan.tilt_deg !== undefined) rows.splice(1, 0, ["tilt", figure(plan.tilt_deg, 3, "°")]);
    if (plan.pause_kind) rows.splice(1, 0, ["before it", `${plan.pause_kind}, ${timeText(plan.pause_before_s)}`]);
    host.replaceChildren(...rows.flatMap(([name, value, more]) => [
      html("dt", {}, name),
      html("dd", { "data-figure": name }, value, ...(more ? [html("small", {}, ` ${more}`)] : [])),
    ]));
  }

  function showPasses(host, setups) {
    const rows = setups.flatMap((s) => s.passes.map(({ plan, read }) => [
      `${s.name}, ${plan.n}`, KINDS[plan.kind], figure(plan.commanded_depth_mm, 4), figure(plan.reached_depth_mm, 4),
      figure(read.reached_depth_mm, 4), figure(deflection(plan), 2, "", 1000), figure(plan.normal_force_n, 2),
      figure(read.normal_force_n, 2), figure(plan.edge_temperature_c, 0), figure(plan.soak_temperature_c, 0),
      timeText(s.before_s + read.ends_s),
    ]));
    host.replaceChildren(table(
      ["set-up, pass", "kind", "set to", "reached", "read back", "deflection", "force", "read back", "edge", "hottest", "elapsed"], rows));
  }

  function markPass(host, number) {
    host.querySelectorAll("tbody tr").forEach((row, n) => {
      if (n === number) row.setAttribute("aria-current", "true");
      else row.removeAttribute("aria-current");
    });
  }

  function showLands(host, setups) {
    for (const { name, lands } of setups.filter((s) => s.lands)) {
      const within = (value, wanted) => Math.abs(value - wanted) <= lands.tolerance_mm + 1e-6;
      const caption = `Set-up ${name}: edge land ${lands.edge_land_mm.toFixed(3)}, shoulder land ` +
        `${lands.shoulder_land_mm.toFixed(3)}, each within ${lands.tolerance_mm.toFixed(3)} mm`;
      host.append(scroll(caption, table(["at", "edge land", "shoulder land", "depth", "in tolerance"],
        lands.measured.map((m) => [
          m.station, figure(m.edge_land_mm, 3), figure(m.shoulder_land_mm, 3), figure(m.depth_mm, 4),
          within(m.edge_land_mm, lands.edge_land_mm) && within(m.shoulder_land_mm, lands.shoulder_land_mm) ? "yes" : "no",
        ]))));
    }
    for (const { name, bevels } of setups.filter((s) => s.bevels.length)) {
      const caption = `Set-up ${name}: the bevel, mm; the other face at its target`;
      const bulges = bevels[0].ridge_mm !== undefined;
      const columns = ["at", "edge thickness", "most above its plane", "least", ...(bulges ? ["ridges over the arc"] : [])];
      host.append(scroll(caption, table(columns, bevels.map((b) => [
        b.station, figure(b.edge_thickness_mm, 4), figure(b.highest_mm, 4), figure(b.lowest_mm, 4),
        ...(bulges ? [figure(b.ridge_mm, 4)] : []),
      ]))));
    }
  }

  // A table that may be wider than the page, under its name.
  const scroll = (name, child) => html("div", {}, html("h3", {}, name),
    html("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": name }, child));

  function showCautions(host, cautions) {
    host.replaceChildren(...cautions.map((c) =>
      html("li", {}, html("strong", { class: `level ${c.level}` }, `${c.level}: ${c.topic.replaceAll("_", " ")}`), ` ${c.text} `,
        html("small", {}, `(${c.basis})`))));
    if (!cautions.length) host.replaceChildren(html("li", {}, "None follow from this plan."));
  }

  function showPrograms(host, programs) {
    host.replaceChildren(table(["program", "what", "SHA-256"],
      programs.map((p) => [p.program, p.kind, html("code", {}, p.sha256)])));
  }

  Object.assign(preview, { showFigures, showPasses, markPass, showLands, showCautions, showPrograms });
})();
