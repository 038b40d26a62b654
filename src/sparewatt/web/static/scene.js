/* The page of a scene: words, boxes and steps redraw it as they change, and a play-head runs over the picture.
   Without this file the same forms and links work; it only saves presses, and plays. */
(() => {
  "use strict";
  const form = document.querySelector("form[data-scene]");
  if (!form) return;
  const $ = (id) => document.getElementById(id);
  const BOXES = ["rider", "load", "gear", "effort", "cadence", "duration", "holds", "start"];
  const TYPING = 180, IDLE = 400, PATIENCE = 4000, COMPLAIN = 900; // ms
  const words = $("c-words");
  const sceneName = $("c-name");
  const box = (name) => form.elements.namedItem(name);

  for (const button of form.querySelectorAll("[data-only-plain]")) button.hidden = true;

  // ---- what is asked -----------------------------------------------------------------------------------------------

  /* The question as an address. A box is sent when somebody filled it here, or when the scene it came from is told anew. */
  function query() {
    const pairs = new URLSearchParams();
    if (sceneName.value) pairs.append("name", sceneName.value);
    else pairs.append("words", words.value);
    for (const name of BOXES) {
      const { dataset } = box(name);
      const value = dataset.exact || box(name).value;
      if (value !== "" && (dataset.own === "asked" || (dataset.own === "scene" && !sceneName.value))) pairs.append(name, value);
    }
    for (const field of form.querySelectorAll('input[type="hidden"]')) {
      if (field !== sceneName && field.value !== "") pairs.append(field.name, field.value);
    }
    return pairs;
  }

  let changes = 0;      // counts every change, so that an answer to an older one is known
  let wordsAt = 0;      // the change at which the words were last typed or rewritten
  let running = null;
  let waiting = null;   // a change made while a quick answer is on its way: only the newest is asked
  let later = 0;
  let complain = 0;
  let lastTyped = -Infinity;

  /* Something changed: one run at once, all runs when it has been quiet for a moment. */
  function changed(push) {
    changes += 1;
    clearTimeout(later);
    for (const part of document.querySelectorAll("[data-live]")) part.classList.add("waiting");
    if (running?.full) running.stop.abort();
    if (running && !running.full) {
      waiting = { push: push || waiting?.push || false };
      return;
    }
    ask(false, push);
  }

  async function ask(full, push) {
    waiting = null;
    const mine = { stop: new AbortController(), full, change: changes };
    running = mine;
    const pairs = query();
    const address = `${form.action}?${pairs}`;
    if (!full) {
      if (push) history.pushState({ live: true }, "", address);
      else history.replaceState({ live: true }, "", address);
      $("keep-query").value = String(pairs);
      pairs.append("quick", matchMedia("(max-width: 56rem)").matches ? "narrow" : "wide");
    }
    let answer = null;
    try {
      const reply = await fetch(`${form.dataset.scene}?${pairs}`, { signal: mine.stop.signal, headers: { Accept: "application/json" } });
      answer = await reply.json();
      if (running !== mine) return;
      tell(reply.ok ? "" : answer.problems.map((p) => `${p.where}: ${p.problem}${p.try ? " Try: " + p.try : ""}`).join(" "));
    } catch (reason) {
      if (reason.name === "AbortError") { if (running === mine) running = null; return; }
      if (running === mine) tell("The app did not answer. Is it still running?");
    }
    if (running !== mine) return;
    running = null;
    if (answer) show(answer, mine);
    if (waiting) ask(false, waiting.push);
    else if (!full && answer?.ok) later = setTimeout(() => ask(true, false), IDLE);
    else if (full && answer?.ok) askAgain(answer.data);
  }

  /* Where the quick way of playing is not ready yet, all runs come later. */
  function askAgain(data, wait = PATIENCE) {
    if (data?.runs === 0) later = setTimeout(() => ask(true, false), wait);
  }

  function tell(text) {
    const place = $("live-problem");
    place.textContent = text;
    place.hidden = !text;
  }

  /* Put in what came. Steps and boxes stay as they are when they were changed again since. */
  function show(answer, asked) {
    clearTimeout(complain);
    const fresh = asked.change === changes;
    if (!answer.ok) {
      if (!fresh || !answer.parts) return;
      const say = () => { $("part-wrong").innerHTML = answer.parts["part-wrong"]; words.setAttribute("aria-invalid", "true"); };
      const quiet = performance.now() - lastTyped;
      if (quiet > COMPLAIN) say();
      else complain = setTimeout(say, COMPLAIN - quiet);
      return;
    }
    const kept = focusedStep();
    const focus = document.activeElement?.id;
    for (const [id, html] of Object.entries(answer.parts)) {
      if ((id === "part-steps" || id === "part-wrong") && asked.change < wordsAt) continue;
      const place = $(id);
      if (!place) continue;
      place.innerHTML = html;
      if (fresh || !asked.full) place.classList.remove("waiting");
    }
    words.removeAttribute("aria-invalid");
    $("results").hidden = false;
    focusStep(kept);
    if (focus && document.activeElement?.id !== focus) $(focus)?.focus({ preventScroll: true });
    if (fresh) fill(answer);
    document.title = answer.title;
    for (const link of document.querySelectorAll("a[data-to]")) link.href = answer.links[link.dataset.to] || link.href;
    take(answer.data);
  }

  /* The boxes show what is in force, also where the words say it or nobody does. */
  function fill(answer) {
    for (const [name, { now, own, exact }] of Object.entries(answer.boxes)) {
      const field = box(name);
      if (own === "asked" && field.dataset.own === "asked") continue;
      field.dataset.own = own;
      if (exact) field.dataset.exact = exact;
      if (document.activeElement !== field) field.value = now;
    }
    echo();
    const more = box("more");
    const chosen = more.value;
    more.replaceChildren(more.options[0], ...answer.examples.map((text) => new Option(text, text)));
    more.value = answer.examples.includes(chosen) ? chosen : "";
  }

  function echo() {
    const slider = box("effort");
    $("effort-now").textContent = `${slider.value}\u2009W`;
    slider.setAttribute("aria-valuetext", `${slider.value} W`);
  }

  // ---- words, boxes, steps -----------------------------------------------------------------------------------------

  let typing = 0;
  let lastPush = -Infinity; // one step back undoes one go at a box or slider, however many keys it took
  const freshGo = () => {
    const now = performance.now();
    const first = now - lastPush > 1500;
    lastPush = now;
    return first;
  };

  words.addEventListener("input", () => {
    sceneName.value = "";
    unmark();
    wordsAt = changes + 1;
    lastTyped = performance.now();
    for (const button of $("part-steps").querySelectorAll("button")) button.disabled = true; // they are of other words now
    clearTimeout(typing);
    typing = setTimeout(() => changed(freshGo()), TYPING);
  });

  form.addEventListener("input", (event) => {
    const name = event.target.name;
    if (!BOXES.includes(name)) return;
    own(event.target);
    if (name === "effort") { delete event.target.dataset.exact; echo(); }
    clearTimeout(typing);
    const slow = event.target.tagName === "INPUT" && event.target.type !== "range";
    if (slow) lastTyped = performance.now();
    if (slow) typing = setTimeout(() => changed(freshGo()), TYPING);
    else changed(freshGo());
  });

  /* A box changed by hand goes before the words: they keep their steps, and the boxes hold what they said. */
  function own(field) {
    if (field.dataset.own === "words") tellSteps();
    field.dataset.own = "asked";
  }

  const steps = () => [...$("part-steps").querySelectorAll("li[data-at]")];

  function tellSteps() {
    const list = $("part-steps").querySelector("ol");
    if (list && list.querySelector("button:disabled")) return; // the words were typed over since
    const lead = list?.dataset.lead;
    const told = steps().sort((one, other) => one.dataset.at - other.dataset.at); // those of one moment stay in their order
    words.value = [...(lead ? [lead] : []), ...told.map((row) => `at ${row.dataset.at} s ${row.dataset.text}`)].join("; ");
    sceneName.value = "";
    unmark();
    wordsAt = changes + 1;
    for (const name of BOXES) if (box(name).dataset.own === "words") box(name).dataset.own = "asked";
  }

  const unmark = () => document.querySelector(".scenes [aria-current]")?.removeAttribute("aria-current");
  const seconds = (value) => String(+value.toFixed(3));

  form.addEventListener("submit", (event) => {
    const edit = event.submitter?.dataset.edit;
    if (!edit) {
      const other = box("other");
      if (other && other.value && box("other_key").value) { // a design is set beside: let the page load with all that is set
        event.preventDefault();
        const pairs = query();
        pairs.append("beside", `${box("other_key").value} = ${other.value}`);
        location.assign(`${form.action}?${pairs}`);
        return;
      }
      event.preventDefault();
      changed(true);
      return;
    }
    event.preventDefault();
    if (edit === "add") add();
    else move(event.submitter.closest("li"), edit);
  });

  function move(row, edit) {
    const by = Number($("part-steps").querySelector("ol").dataset.by);
    if (edit === "out") {
      const next = row.nextElementSibling || row.previousElementSibling;
      row.remove();
      (next?.querySelector('[data-edit="out"]') || words).focus({ preventScroll: true });
    } else {
      const at = Number(row.dataset.at) + (edit === "later" ? by : -by);
      row.dataset.at = seconds(Math.min(Math.max(at, 0), reel.duration));
      row.querySelector("output").textContent = `${row.dataset.at}\u2009s`;
    }
    tellSteps();
    changed(freshGo());
  }

  function add() {
    const when = box("when");
    const more = box("more");
    if (!more.value) { more.focus(); return; }
    const list = $("part-steps").querySelector("ol");
    const last = Math.max(0, ...steps().map((row) => Number(row.dataset.at)));
    const typed = Number(when.value.replace(",", "."));
    const by = Number(list?.dataset.by || 1);
    const at = when.value && Number.isFinite(typed) && typed >= 0 ? typed : Math.min(last + 5 * by, reel.duration);
    tellSteps();
    words.value = `${words.value}${words.value.trim() ? "; " : ""}at ${seconds(at)} s ${more.value}`;
    when.value = "";
    more.value = "";
    changed(true);
  }

  /* A step keeps the focus although its row is drawn again, also when it has passed another one. */
  function focusedStep() {
    const button = document.activeElement?.closest?.("#part-steps [data-edit]");
    const row = button?.closest("li");
    return row ? { at: row.dataset.at, text: row.dataset.text, edit: button.dataset.edit } : null;
  }
  function focusStep(kept) {
    if (!kept || document.activeElement?.closest?.("#part-steps")) return;
    const row = steps().find((one) => one.dataset.at === kept.at && one.dataset.text === kept.text)
      || steps().find((one) => one.dataset.text === kept.text);
    row?.querySelector(`[data-edit="${kept.edit}"]`)?.focus({ preventScroll: true });
  }

  addEventListener("popstate", () => location.reload()); // the address is the whole state

  // ---- the play-head -----------------------------------------------------------------------------------------------

  const picture = $("part-picture");
  const scrub = $("scrub");
  const pace = $("pace");
  const play = $("play");
  const still = matchMedia("(prefers-reduced-motion: reduce)");
  let reel = JSON.parse($("scene-data").textContent) || { duration: 0, every: 1, hands: [], happens: [] };
  let t = 0;
  let used = false;      // the head is shown from the first time it is moved
  let frame = 0;
  let clockAt = 0, placedAt = 0, readAt = 0, heardAt = 0;
  let passed = 0;        // happenings before the head

  const playing = () => frame !== 0;

  /* New numbers for the same clock: the head stays at its second. */
  function take(data) {
    const first = reel.duration !== data.duration;
    reel = data;
    $("player").hidden = !reel.hands.length;
    if (first) paces();
    scrub.max = String(reel.duration);
    scrub.step = String(reel.duration / 1000 || 1);
    t = Math.min(t, reel.duration);
    makeHands();
    makeMoments();
    place();
    read();
  }

  function paces() {
    const known = [[1, "as it is"], [4, "4 times"], [10, "10 times"], [60, "60 times"], [600, "600 times"]];
    const some = known.filter(([n], k) => k < 3 || reel.duration / n >= 3);
    pace.replaceChildren(...some.map(([n, text]) => new Option(text, n)));
    pace.value = String((some.find(([n]) => reel.duration / n <= 75) || some[some.length - 1])[0]);
  }

  function makeHands() {
    const list = $("hands");
    if (list.childElementCount === reel.hands.length && [...list.querySelectorAll("dt")].every((dt, k) => dt.textContent === reel.hands[k].words)) return;
    list.replaceChildren(...reel.hands.map((hand) => {
      const pair = document.createElement("div");
      const term = document.createElement("dt");
      term.textContent = hand.words;
      pair.append(term, document.createElement("dd"));
      return pair;
    }));
  }

  /* The times in the list of what happens become buttons that move the head there. */
  function makeMoments() {
    for (const when of $("part-happens").querySelectorAll("span.when")) {
      const button = document.createElement("button");
      button.type = "button";
      button.className = "when";
      button.dataset.at = when.dataset.at;
      button.textContent = when.textContent;
      when.replaceWith(button);
    }
  }

  $("part-happens").addEventListener("click", (event) => {
    const button = event.target.closest("button.when");
    if (button) to(Number(button.dataset.at));
  });

  function place() {
    $("player").classList.toggle("used", used);
    for (const svg of picture.querySelectorAll("svg[data-x0]")) {
      const { x0, x1, t0, t1 } = svg.dataset;
      const head = svg.querySelector("[data-head]");
      if (!head || !(t1 > t0)) continue;
      head.setAttribute("transform", `translate(${(+x0 + (x1 - x0) * (t - t0) / (t1 - t0)).toFixed(2)} 0)`);
      if (used) head.removeAttribute("visibility");
    }
    scrub.value = String(t);
  }

  const time = (s) => {
    if (reel.duration <= 180) return `${s.toFixed(1)}\u2009s`;
    const whole = Math.round(s), h = Math.floor(whole / 3600), m = Math.floor(whole / 60) % 60;
    return `${h ? `${h}\u2009h ` : ""}${h || m ? `${m}\u2009min ` : ""}${h ? "" : `${whole % 60}\u2009s`}`.trim();
  };
  const shown = (hand) => {
    const value = hand.values[Math.min(Math.round(t / reel.every), hand.values.length - 1)];
    return value === null || value === undefined ? "\u2013" : `${value.toFixed(hand.digits).replace("-", "\u2212")}${hand.unit ? `\u2009${hand.unit}` : ""}`;
  };

  function read() {
    $("clock").textContent = `${time(t)} of ${time(reel.duration)}`;
    [...$("hands").querySelectorAll("dd")].forEach((place, k) => { place.textContent = shown(reel.hands[k]); });
    passed = reel.happens.filter((one) => one.at <= t + 1e-6).length;
    const last = reel.happens[passed - 1];
    $("just").textContent = last ? `${last.number}. At ${last.when}: ${last.says}` : "Nothing has happened yet.";
    const told = reel.hands.slice(0, 2).map((hand) => `${shown(hand)} ${hand.words}`).join(", ");
    scrub.setAttribute("aria-valuetext", `${time(t)}; ${told}`);
    $("part-happens").querySelectorAll("li").forEach((row, k) => row.classList.toggle("now", used && k === passed - 1));
  }

  function to(second) {
    t = Math.min(Math.max(second, 0), reel.duration);
    used = true;
    place();
    read();
  }

  function step(now) {
    t += (now - clockAt) / 1000 * Number(pace.value);
    clockAt = now;
    const over = t >= reel.duration;
    if (over) t = reel.duration;
    if (over || !still.matches || now - placedAt > 1000) { // who wants little motion sees it jump once a second
      place();
      placedAt = now;
    }
    const before = passed;
    if (over || now - readAt > 200) { read(); readAt = now; }
    else passed = reel.happens.filter((one) => one.at <= t).length;
    if (passed > before && now - heardAt > 2500) { // one sentence at a time for those who listen
      $("heard").textContent = reel.happens[passed - 1].says;
      heardAt = now;
    }
    frame = over ? 0 : requestAnimationFrame(step);
    if (over) name();
  }

  function toggle() {
    if (playing()) { cancelAnimationFrame(frame); frame = 0; read(); name(); return; }
    if (t >= reel.duration) t = 0;
    used = true;
    clockAt = performance.now();
    placedAt = readAt = heardAt = -Infinity;
    passed = reel.happens.filter((one) => one.at <= t).length;
    frame = requestAnimationFrame((now) => { clockAt = now; step(now); });
    name();
  }

  function name() {
    play.textContent = playing() ? "Pause" : "Play";
    play.setAttribute("aria-pressed", String(playing()));
  }

  play.addEventListener("click", toggle);
  scrub.addEventListener("input", () => to(Number(scrub.value)));
  document.addEventListener("visibilitychange", () => { if (document.hidden && playing()) toggle(); });

  picture.addEventListener("keydown", (event) => {
    if (event.target !== picture || event.altKey || event.ctrlKey || event.metaKey) return;
    const by = reel.duration / 100;
    const next = reel.happens.find((one) => one.at > t + 1e-3)?.at ?? reel.duration;
    const before = reel.happens.filter((one) => one.at < t - 1e-3).pop()?.at ?? 0;
    const go = { ArrowRight: t + by, ArrowLeft: t - by, PageDown: next, PageUp: before, Home: 0, End: reel.duration }[event.key];
    if (event.key === " ") toggle();
    else if (go !== undefined) to(go);
    else return;
    event.preventDefault();
  });

  let dragging = false;
  const secondAt = (event) => {
    const svg = [...picture.querySelectorAll("svg[data-x0]")].find((one) => one.getClientRects().length);
    if (!svg) return null;
    const room = svg.getBoundingClientRect();
    const x = (event.clientX - room.left) / room.width * svg.viewBox.baseVal.width;
    const { x0, x1, t0, t1 } = svg.dataset;
    return x < x0 - 12 || x > +x1 + 12 ? null : +t0 + (t1 - t0) * (x - x0) / (x1 - x0);
  };
  picture.addEventListener("pointerdown", (event) => {
    const second = event.button === 0 && event.target.closest("svg") ? secondAt(event) : null;
    if (second === null) return;
    dragging = true;
    to(second);
  });
  addEventListener("pointermove", (event) => {
    const second = dragging ? secondAt(event) : null;
    if (second !== null) to(second);
  });
  for (const end of ["pointerup", "pointercancel"]) addEventListener(end, () => { dragging = false; });

  if (reel.hands.length) { paces(); take(reel); }
  askAgain(reel, 0);
})();
