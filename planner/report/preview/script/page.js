// The page: which pass is shown, and what the keys and controls do.
"use strict";
(() => {
  const data = JSON.parse(document.getElementById("data").textContent);
  const at = (id) => document.getElementById(id);
  const { html, KINDS, FACTORS, factorText } = preview;
  const steps = data.setups.flatMap((setup, s) => setup.passes.map((_, p) => [s, p]));
  const state = { step: 0, factor: "fit", whole: false };

  function about() {
    document.title = `${data.title}: preview`;
    at("title").textContent = data.title;
    const goesOn = data.restart ? ` Goes on from pass ${data.restart.from_pass} of set-up ${data.restart.setup}.` : "";
    at("about").textContent = `Job ${data.job.file}; machine: ${data.machine.title} (${data.machine.file}). ` +
      `${steps.length} passes in ${data.setups.length} set-up${data.setups.length > 1 ? "s" : ""}.${goesOn}`;
  }

  function controls() {
    at("setup").replaceChildren(...data.setups.map((s, n) => html("option", { value: String(n) }, s.name)));
    at("factor").replaceChildren(
      html("option", { value: "fit" }, "to fit"),
      ...FACTORS.map((f) => html("option", { value: String(f) }, factorText(f))),
    );
    at("scrub").max = String(steps.length);
    at("scrub").addEventListener("input", (e) => go(Number(e.target.value) - 1));
    at("back").addEventListener("click", () => go(state.step - 1));
    at("next").addEventListener("click", () => go(state.step + 1));
    at("setup").addEventListener("change", (e) => go(steps.findIndex(([s]) => s === Number(e.target.value))));
    at("factor").addEventListener("change", (e) => { state.factor = e.target.value; draw(); });
    at("whole").addEventListener("change", (e) => { state.whole = e.target.checked; draw(); });
    document.addEventListener("keydown", (event) => {
      // Sliders, lists and what scrolls have arrow keys of their own.
      if (event.altKey || event.ctrlKey || event.metaKey || event.target.closest("input, select, .scroll")) return;
      const by = { ArrowLeft: -1, ArrowRight: 1 }[event.key];
      if (!by) return;
      event.preventDefault();
      go(state.step + by);
    });
  }

  function go(step) {
    const to = Math.min(Math.max(step, 0), steps.length - 1);
    if (to === state.step) return;
    state.step = to;
    draw();
  }

  function draw() {
    const [s, p] = steps[state.step];
    const setup = data.setups[s];
    const { plan } = setup.passes[p];
    const factor = state.factor === "fit"
      ? preview.fittingFactor(setup, preview.widthOf(at("flat"))) : Number(state.factor);
    const where = `Set-up ${setup.name}, pass ${plan.n} of ${setup.passes[setup.passes.length - 1].plan.n}, ${KINDS[plan.kind]}`;
    at("scrub").value = String(state.step + 1);
    at("scrub").setAttribute("aria-valuetext", where);
    at("where").textContent = where;
    at("setup").value = String(s);
    at("factor").options[0].textContent = `to fit: ${factorText(preview.fittingFactor(setup, preview.widthOf(at("flat"))))}`;
    // Not disabled: a button that is would lose the keyboard's focus.
    at("back").setAttribute("aria-disabled", String(state.step === 0));
    at("next").setAttribute("aria-disabled", String(state.step === steps.length - 1));
    preview.drawFlat(at("flat"), setup, p, factor);
    preview.showFigures(at("figures"), setup, p);
    preview.drawAlong(at("along"), setup, p, state.whole);
    preview.drawBeside(at("beside"), setup, p, state.whole);
    preview.byPass(at("charts"), setup, p);
    preview.markPass(at("table"), state.step);
  }

  // The last operation on each face is what the lands come out of.
  function lastOfEachFace() {
    return [...new Map(data.setups.filter((s) => s.lands).map((s) => [s.face, s])).values()];
  }

  function still() {
    preview.drawSection(at("section"), data.section);
    at("lands").replaceChildren();
    preview.landsChart(at("lands"), lastOfEachFace());
  }

  about();
  controls();
  preview.showLands(at("measured"), data.setups);
  preview.showPasses(at("table"), data.setups);
  preview.showCautions(at("cautions"), data.cautions);
  preview.showPrograms(at("programs"), data.programs);
  still();
  draw();
  const onPaper = (paper) => () => {
    document.body.classList.toggle("paper", paper);
    still();
    draw();
  };
  addEventListener("beforeprint", onPaper(true));
  addEventListener("afterprint", onPaper(false));
  let width = document.documentElement.clientWidth;
  addEventListener("resize", () => {
    if (document.documentElement.clientWidth === width) return;
    width = document.documentElement.clientWidth;
    still();
    draw();
  });
})();
