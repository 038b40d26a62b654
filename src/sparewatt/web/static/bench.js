/* A procedure: Enter writes the row down and the page redraws in place, with the next empty box ready for typing.
   Without this file the form is posted as it is, and the same page comes back whole. */
(() => {
  "use strict";
  let running = null;

  const tell = (text) => {
    const box = document.getElementById("said");
    if (box) box.textContent = text;
  };

  const show = (text) => {
    const page = new DOMParser().parseFromString(text, "text/html");
    const fresh = page.getElementById("live");
    const live = document.getElementById("live");
    if (!fresh || !live) return false;
    const open = [...live.querySelectorAll("details[open][id]")].map((one) => one.id);
    const at = document.activeElement?.id;
    const top = document.getElementById("panel")?.scrollTop || 0;
    const words = fresh.querySelector("#said")?.textContent || "";
    live.replaceChildren(...fresh.childNodes);
    for (const id of open) document.getElementById(id)?.setAttribute("open", "");
    const next = live.querySelector("[autofocus]") || (at ? document.getElementById(at) : null) || document.getElementById("said");
    next.focus({ preventScroll: true });
    if (next.id !== "said") next.scrollIntoView({ block: "nearest" });
    document.getElementById("panel").scrollTop = top;
    tell(""); // so that the words are new to whoever listens
    requestAnimationFrame(() => tell(words));
    return true;
  };

  const send = async (form, by) => {
    running?.abort();
    const mine = (running = new AbortController());
    const body = new URLSearchParams(new FormData(form, by));
    document.getElementById("panel")?.classList.add("waiting");
    try {
      const reply = await fetch(form.action, { method: "POST", body, signal: mine.signal, headers: { Accept: "text/html", "X-Live": "1" } });
      const text = await reply.text();
      if (running !== mine) return;
      if (!show(text)) tell("That did not work; what you typed is still here. Press the button again.");
    } catch (reason) {
      if (reason.name === "AbortError") return;
      tell("The app did not answer; what you typed is still here. Is it still running?");
    }
    if (running === mine) running = null;
    document.getElementById("panel")?.classList.remove("waiting");
  };

  document.addEventListener("submit", (event) => {
    if (event.target.id !== "steps") return;
    event.preventDefault();
    if (running) return; // one at a time: the mark of the file comes back with each answer
    send(event.target, event.submitter);
  });

  // The unit chosen in one row is the unit of the empty rows below.
  document.addEventListener("change", (event) => {
    const what = event.target.dataset?.unitOf;
    if (!what) return;
    const all = [...document.querySelectorAll("select[data-unit-of]")].filter((one) => one.dataset.unitOf === what);
    for (const one of all.slice(all.indexOf(event.target) + 1)) {
      if (!one.parentElement.querySelector("input")?.value) one.value = event.target.value;
    }
  });
})();
