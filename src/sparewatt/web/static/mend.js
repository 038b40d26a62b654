/* The fault-finder's page: what is typed is judged at once. Without this file the button does the same. */
(() => {
  "use strict";
  const form = document.querySelector("form[data-mend]");
  if (!form) return;
  const TYPING = 350; // ms
  let later = 0;
  let running = null;

  const query = () => {
    const pairs = new URLSearchParams();
    for (const [name, value] of new FormData(form)) if (value !== "") pairs.append(name, value);
    return pairs;
  };

  const tell = (text) => {
    const box = document.getElementById("live-problem");
    if (box) { box.textContent = text; box.hidden = !text; }
  };

  async function ask() {
    running?.abort();
    const mine = new AbortController();
    running = mine;
    const pairs = query();
    history.replaceState({ live: true }, "", pairs.size ? `${form.action}?${pairs}` : form.action);
    document.getElementById("part-answer").setAttribute("aria-busy", "true");
    for (const box of document.querySelectorAll("[data-live]")) box.classList.add("waiting");
    try {
      const reply = await fetch(`${form.dataset.mend}?${pairs}`, { signal: mine.signal, headers: { Accept: "application/json" } });
      const answer = await reply.json();
      if (running !== mine) return;
      const open = [...document.querySelectorAll("details[open][id]")].map((d) => d.id);
      for (const [id, html] of Object.entries(answer.parts || {})) {
        const box = document.getElementById(id);
        if (box && box.innerHTML !== html) box.innerHTML = html;
      }
      for (const id of open) document.getElementById(id)?.setAttribute("open", "");
      if (answer.json) document.getElementById("as-json").href = answer.json;
      tell(answer.parts ? "" : (answer.problems || []).map((p) => `${p.where}: ${p.problem}${p.try ? " Try: " + p.try : ""}`).join(" "));
    } catch (reason) {
      if (reason.name === "AbortError") return;
      tell("The app did not answer. Is it still running?");
    }
    if (running !== mine) return;
    running = null;
    document.getElementById("part-answer").setAttribute("aria-busy", "false");
    for (const box of document.querySelectorAll(".waiting")) box.classList.remove("waiting");
  }

  const soon = (wait) => {
    clearTimeout(later);
    later = setTimeout(ask, wait);
  };
  // What would help most depends on who rides and what runs: then the whole page is asked again.
  form.addEventListener("change", (event) => {
    if (event.target.matches("[data-whole]")) form.requestSubmit();
    else soon(0);
  });
  form.addEventListener("input", (event) => { if (event.target.matches("input:not([type=checkbox])")) soon(TYPING); });
})();
