/* Sliders redraw, the room can be walked with arrow keys, and the choices of units and room stay on this device.
   Every page works without this file: it only saves a press of a button. */
(() => {
  "use strict";
  const root = document.documentElement;

  // Before the page is painted: the light or dark room and the units this device chose last.
  const store = (name, value) => {
    try {
      if (value === undefined) return localStorage.getItem(name);
      localStorage.setItem(name, value);
    } catch { /* storage is shut: the address still carries the choice */ }
    return null;
  };
  const here = new URL(location.href);
  for (const name of ["room", "units"]) if (here.searchParams.has(name)) store(name, here.searchParams.get(name));
  if (!here.searchParams.has("room")) {
    const room = store("room");
    if (room === "light" || room === "dark") root.dataset.room = room;
  }
  if (!here.searchParams.has("units") && store("units") === "inch" && root.dataset.units === "metric") {
    here.searchParams.set("units", "inch");
    location.replace(here);
    return;
  }

  const ready = (job) => (document.readyState === "loading" ? document.addEventListener("DOMContentLoaded", job) : job());

  ready(() => {
    document.querySelector(".strip a[aria-current]")?.scrollIntoView({ block: "nearest", inline: "center" });
    markRoom();
    const form = document.querySelector("form[data-part]");
    if (form) live(form);
    numberLines();
    keepFolds();
  });

  /* The rig page is replaced when a box is written: what was unfolded stays so, and the lines are numbered again. */
  function keepFolds() {
    let open = [];
    document.addEventListener("htmx:beforeSwap", () => { open = [...document.querySelectorAll("details[open][id]")].map((d) => d.id); });
    document.addEventListener("htmx:afterSwap", () => {
      for (const id of open) document.getElementById(id)?.setAttribute("open", "");
      numberLines();
    });
  }

  /* The foot names the light in use, also when this device chose it and not the address. */
  function markRoom() {
    const now = root.dataset.room || "auto";
    for (const link of document.querySelectorAll("[data-room-choice]")) {
      if (link.dataset.roomChoice === now) link.setAttribute("aria-current", "true");
      else link.removeAttribute("aria-current");
      link.addEventListener("click", (event) => {
        event.preventDefault();
        const choice = link.dataset.roomChoice;
        store("room", choice);
        if (choice === "auto") delete root.dataset.room;
        else root.dataset.room = choice;
        const url = new URL(location.href);
        url.searchParams.delete("room");
        history.replaceState(history.state, "", url);
        markRoom();
      }, { once: true });
    }
  }

  /* The match page: ask again on each change, replace what came, keep the old picture greyed until then. */
  function live(form) {
    let running = null;

    const query = () => {
      const pairs = new URLSearchParams();
      for (const [name, value] of new FormData(form)) if (value !== "" && name !== "key" && name !== "value") pairs.append(name, value);
      return pairs;
    };

    const show = (answer) => {
      const focus = document.activeElement?.id;
      for (const [id, html] of Object.entries(answer.parts)) {
        const box = document.getElementById(id);
        if (box) box.innerHTML = html;
        box?.classList.remove("waiting");
      }
      for (const [name, value] of Object.entries(answer.fields)) {
        for (const field of document.querySelectorAll(`[data-echo="${name}"]`)) field.textContent = value;
      }
      if (focus && document.activeElement?.id !== focus) document.getElementById(focus)?.focus({ preventScroll: true });
      document.title = answer.title;
      for (const link of document.querySelectorAll("a[data-keep]")) link.href = answer.links[link.dataset.keep] || link.href;
    };

    // While a slider moves only what can be seen is worked out and drawn; the rest stays grey until it rests.
    const onScreen = () => [...document.querySelectorAll('[id^="part-"]')].filter((box) => {
      const { top, bottom } = box.getBoundingClientRect();
      return bottom > 0 && top < innerHeight;
    }).map((box) => box.id);

    // A quick question waits for the one before it, and only the newest waits: else a hand that keeps moving would
    // throw away every answer before it came. A full question goes ahead of all.
    let waiting = null;

    let rest = 0; // a hand that rests on the slider gets the whole answer before it lets go

    const ask = async (full, push) => {
      clearTimeout(rest);
      if (!full && running?.quick) {
        waiting = { push: push || waiting?.push || false };
        return;
      }
      running?.stop.abort();
      waiting = null;
      const mine = { stop: new AbortController(), quick: !full };
      running = mine;
      const pairs = query();
      const address = pairs.size ? `${form.action}?${pairs}` : form.action;
      if (push) history.pushState({ live: true }, "", address);
      else history.replaceState({ live: true }, "", address);
      document.getElementById("part-answer")?.setAttribute("aria-busy", "true");
      for (const box of document.querySelectorAll("[data-live]")) box.classList.add("waiting");
      if (!full) {
        pairs.append("quick", matchMedia("(max-width: 56rem)").matches ? "narrow" : "wide");
        for (const id of onScreen()) pairs.append("show", id);
      }
      try {
        const reply = await fetch(`${form.dataset.part}?${pairs}`, { signal: mine.stop.signal, headers: { Accept: "application/json" } });
        const answer = await reply.json();
        if (running !== mine) return;
        tell(answer.ok ? "" : answer.problems.map((p) => `${p.where}: ${p.problem}${p.try ? " Try: " + p.try : ""}`).join(" "));
        if (answer.ok) show(answer);
      } catch (reason) {
        if (reason.name === "AbortError") return;
        tell("The app did not answer. Is it still running?");
      }
      if (running === mine) {
        running = null;
        if (full) document.getElementById("part-answer")?.setAttribute("aria-busy", "false");
        if (full) for (const box of document.querySelectorAll(".waiting")) box.classList.remove("waiting");
        if (waiting) ask(false, waiting.push);
        else if (!full) rest = setTimeout(() => ask(true, false), 500);
      }
    };

    const tell = (text) => {
      const box = document.getElementById("live-problem");
      if (box) { box.textContent = text; box.hidden = !text; }
    };

    // A slider: quick answers while it moves (one at a time), the full spread when it is let go.
    for (const slider of form.querySelectorAll('input[type="range"]')) {
      const echo = () => {
        for (const field of document.querySelectorAll(`[data-echo="${slider.name}"]`)) field.textContent = `${slider.value}\u2009${slider.dataset.unit}`;
        slider.setAttribute("aria-valuetext", `${slider.value} ${slider.dataset.unit}`);
      };
      let last = -Infinity; // one step back undoes one go at the slider, however many keys or moves it took
      const fresh = () => {
        const now = performance.now();
        const first = now - last > 1500;
        last = now;
        return first;
      };
      slider.addEventListener("input", () => { echo(); ask(false, fresh()); });
      slider.addEventListener("change", () => ask(true, fresh()));
    }
    form.addEventListener("change", (event) => {
      if (event.target.matches('input[type="range"], [name="key"], [name="value"]')) return;
      ask(true, true);
    });
    form.addEventListener("submit", (event) => {
      const value = form.elements.namedItem("value");
      if (value && value.value) return; // a part is being changed: let the page load, the strip says so
      event.preventDefault();
      ask(true, true);
    });
    form.addEventListener("click", (event) => {
      const mark = event.target.closest("[data-effort]");
      const slider = form.elements.namedItem("effort");
      if (!mark || !slider || event.metaKey || event.ctrlKey || event.shiftKey) return;
      event.preventDefault();
      slider.value = mark.dataset.effort;
      slider.dispatchEvent(new Event("input", { bubbles: true }));
      slider.dispatchEvent(new Event("change", { bubbles: true }));
    });
    for (const button of form.querySelectorAll("[data-only-plain]")) button.hidden = true;

    // Going back shows the earlier question: the address is the whole state.
    addEventListener("popstate", () => location.reload());

    roomToRideIn(form, ask);
  }

  const visible = (shape) => shape.getClientRects().length > 0;

  /* The room to ride in: press a cell, or walk with the arrow keys, to choose gear and cadence. */
  function roomToRideIn(form, ask) {
    const choose = (cell) => {
      const gear = form.elements.namedItem("gear");
      const cadence = form.elements.namedItem("cadence");
      if (!gear || !cadence || !cell) return;
      gear.value = cell.dataset.gear;
      cadence.value = cell.dataset.cadence;
      ask(true, true);
    };
    const box = document.getElementById("part-room");
    if (!box) return;
    box.addEventListener("click", (event) => {
      const cell = event.target.closest("[data-gear][data-cadence]");
      if (cell) { choose(cell); box.querySelector("[data-walk]")?.focus({ preventScroll: true }); }
    });
    box.addEventListener("keydown", (event) => {
      const step = { ArrowLeft: [0, -1], ArrowRight: [0, 1], ArrowUp: [-1, 0], ArrowDown: [1, 0] }[event.key];
      if (!step || !event.target.closest("[data-walk]")) return;
      event.preventDefault();
      const rows = new Map();
      for (const cell of box.querySelectorAll("[data-gear][data-cadence]")) {
        if (!visible(cell)) continue; // the drawing stands here twice, wide and narrow
        if (!rows.has(cell.dataset.gear)) rows.set(cell.dataset.gear, []);
        rows.get(cell.dataset.gear).push(cell);
      }
      const names = [...rows.keys()];
      if (!names.length) return;
      const chosen = [...box.querySelectorAll("[data-chosen]")].find(visible);
      const row = chosen ? names.indexOf(chosen.dataset.gear) : 0;
      const column = chosen ? rows.get(names[row]).indexOf(chosen) : -1;
      const next = names[Math.min(names.length - 1, Math.max(0, row + step[0]))];
      const cells = rows.get(next);
      choose(cells[Math.min(cells.length - 1, Math.max(0, column + step[1]))]);
    });
  }

  /* The raw file: line numbers beside the text as it grows. */
  function numberLines() {
    const text = document.querySelector(".sheet textarea");
    const numbers = document.querySelector(".sheet .numbers");
    if (!text || !numbers) return;
    const count = () => {
      const lines = text.value.split("\n").length;
      text.rows = lines;
      numbers.textContent = Array.from({ length: lines }, (_, i) => i + 1).join("\n");
    };
    text.addEventListener("input", count);
    count();
  }
})();
