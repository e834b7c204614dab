"use strict";
// The desk's own script: send forms and files with the header that nobody else can send, and say what came of it.
(() => {
  const $ = (id) => document.getElementById(id);

  async function post(address, body, more) {
    const kind = body instanceof Blob ? "application/octet-stream" : "application/json";
    const headers = Object.assign({ "X-Crabline-Desk": "1", "Content-Type": kind }, more || {});
    let answer;
    try {
      answer = await fetch(address, { method: "POST", headers, body: body instanceof Blob ? body : JSON.stringify(body) });
    } catch {
      return { wrong: true, line: "The desk does not answer; it may have been closed." };
    }
    const told = await answer.json().catch(() => ({}));
    return answer.ok ? told : { wrong: true, line: told.line || "This could not be done." };
  }

  function say(node, text, wrong) {
    if (!node) return;
    node.textContent = text;
    node.classList.toggle("wrong", Boolean(wrong));
  }

  function fieldsOf(form) {
    const fields = {};
    for (const [name, value] of new FormData(form)) {
      if (name === "wind" || name === "jump") (fields[name] = fields[name] || []).push(value);
      else fields[name] = value;
    }
    return fields;
  }

  for (const form of document.querySelectorAll("form[data-post]")) {
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      const line = form.querySelector(".line"), button = form.querySelector("button[type=submit]");
      say(line, "Working …");
      button.disabled = true;
      const told = await post(form.dataset.post, fieldsOf(form));
      button.disabled = false;
      if (told.wrong) return say(line, told.line, true);
      say(line, "Saved.");
      location.assign(told.go || location.href);
    });
  }
  for (const form of document.querySelectorAll("form[data-go]")) {
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      location.assign(form.dataset.go + new FormData(form).get("other"));
    });
  }

  // --- files -----------------------------------------------------------------------------------------------

  const drop = $("drop");
  const AT_ONCE = 3, LISTED = 60;

  async function* inside(entry) {
    if (entry.isFile) {
      yield await new Promise((done, failed) => entry.file(done, failed));
    } else if (entry.isDirectory) {
      const reader = entry.createReader();
      for (;;) {
        const some = await new Promise((done, failed) => reader.readEntries(done, failed));
        if (some.length === 0) return;
        for (const one of some) yield* inside(one);
      }
    }
  }

  async function droppedFiles(transfer) {
    const entries = [...transfer.items].map((item) => item.webkitGetAsEntry && item.webkitGetAsEntry()).filter(Boolean);
    if (entries.length === 0) return [...transfer.files];
    const files = [];
    for (const entry of entries) for await (const file of inside(entry)) files.push(file);
    return files;
  }

  function note(name, text, link, wrong) {
    const list = $("progress-list");
    if (list.children.length >= LISTED && !wrong) return;
    const item = document.createElement("li"), bold = document.createElement("b");
    bold.textContent = name;
    item.append(bold, `: ${text} `);
    if (link) {
      const a = document.createElement("a");
      a.href = link;
      a.textContent = "read the debrief";
      item.append(a);
    }
    list.append(item);
  }

  const many = (n, what) => `${n} ${what}${n === 1 ? "" : "s"}`;

  async function bring(files) {
    if (files.length === 0) return;
    $("progress").hidden = false;
    $("progress-list").replaceChildren();
    const line = $("progress-line"), bar = $("progress-bar");
    const taken = new Map(), waiting = [...files];
    let sent = 0, refused = 0;
    bar.max = 2 * files.length;
    const carry = async () => {
      for (let file = waiting.shift(); file; file = waiting.shift()) {
        const told = await post("/tracks", file, { "X-Name": encodeURIComponent(file.name) });
        if (told.wrong) {
          refused++;
          note(file.name, told.line, null, true);
        } else taken.set(told.content, told);
        bar.value = ++sent;
        say(line, `Taken in: ${sent} of ${files.length}`);
      }
    };
    await Promise.all(Array.from({ length: AT_ONCE }, carry));
    if (taken.size === 0) return say(line, "Nothing could be taken in.", true);
    const begun = await post("/debrief", Object.assign(fieldsOf($("who")), { contents: [...taken.keys()] }));
    if (begun.wrong) return say(line, begun.line, true);
    await follow(taken, line, bar, sent, refused);
  }

  async function follow(taken, line, bar, sent, refused) {
    const open = new Set(taken.keys());
    let links = [], failed = 0;
    for (;;) {
      const told = await post("/progress", { contents: [...taken.keys()] });
      if (told.wrong) return say(line, told.line, true);
      for (const content of [...open]) {
        const found = told.files[content];
        if (!found || (told.running && !found.failed && taken.size === 1)) continue;
        open.delete(content);
        const name = taken.get(content).name;
        if (found.failed !== undefined) {
          failed++;
          note(name, found.failed, null, true);
        } else {
          links = links.concat(found.jumps);
          note(name, taken.get(content).known ? "known already;" : "done;", found.jumps[0]);
        }
      }
      bar.value = sent + taken.size - open.size;
      say(line, `Debriefed: ${taken.size - open.size} of ${taken.size}${failed ? `, ${failed} gave nothing` : ""}`);
      if (told.error) return say(line, told.error, true);
      if (!told.running) break;
      await new Promise((done) => setTimeout(done, 250));
    }
    if (sent === 1 && links.length > 0) return location.assign(links[links.length - 1]);
    const nothing = failed + refused;
    say(line, `${many(links.length, "jump")} from ${many(sent, "file")}${nothing ? `; ${many(nothing, "file")} gave nothing, the list says why` : ""}.`);
  }

  if (drop) {
    drop.addEventListener("dragover", (event) => { event.preventDefault(); drop.classList.add("over"); });
    drop.addEventListener("dragleave", () => drop.classList.remove("over"));
    drop.addEventListener("drop", async (event) => {
      event.preventDefault();
      drop.classList.remove("over");
      bring(await droppedFiles(event.dataTransfer));
    });
    for (const id of ["files", "folder"]) {
      $(id).addEventListener("change", () => { bring([...$(id).files]); $(id).value = ""; });
    }
    $("who").addEventListener("submit", (event) => event.preventDefault());
  }

  // --- the target by a click on the plan view ---------------------------------------------------------------

  const pick = $("pick-target");
  const map = document.querySelector('[data-figure="plan-view"]');
  if (pick && !map) pick.closest("p").hidden = true;
  if (pick && map) {
    const on = () => pick.getAttribute("aria-pressed") === "true";
    const set = (value) => {
      pick.setAttribute("aria-pressed", String(value));
      document.documentElement.classList.toggle("picking", value);
      if (value) map.scrollIntoView({ block: "center" });
    };
    pick.addEventListener("click", () => set(!on()));
    document.addEventListener("keydown", (event) => { if (event.key === "Escape" && on()) set(false); });
    map.addEventListener("click", (event) => {
      const layout = map._fullLayout;
      if (!on() || !layout) return;
      const box = map.getBoundingClientRect(), si = PAGE.systems[state.units].distance.si;
      const x = layout.xaxis.p2d(event.clientX - box.left - layout._size.l) * si;
      const y = layout.yaxis.p2d(event.clientY - box.top - layout._size.t) * si;
      const up = state.up === "wind" && PAGE.up ? PAGE.up.deg : 0;
      const a = (-up * Math.PI) / 180;
      const east = x * Math.cos(a) - y * Math.sin(a), north = x * Math.sin(a) + y * Math.cos(a);
      set(false);
      const form = pick.closest("form");
      form.elements.clicked.value = `${east.toFixed(2)},${north.toFixed(2)}`;
      form.requestSubmit();
      form.elements.clicked.value = "";
      form.scrollIntoView({ block: "center" });
    }, true);
  }

  // --- an aerial picture, placed by two clicks -----------------------------------------------------------------

  const chosen = $("picture-file"), aerial = $("aerial");
  if (chosen) {
    chosen.addEventListener("change", async () => {
      if (chosen.files.length === 0) return;
      say($("picture-line"), "Working …");
      const told = await post("/field/picture", chosen.files[0]);
      if (told.wrong) say($("picture-line"), told.line, true);
      else location.assign(told.go);
    });
  }
  if (aerial) {
    const form = document.querySelector('form[data-post="/field/place"]');
    const mark = (i) => {
      const spot = $(`spot${i}`), [column, row] = form.elements[`pixel${i}`].value.split(/[,;\s]+/).map(Number);
      spot.hidden = !(column >= 0 && row >= 0);
      spot.style.left = `${(100 * column) / aerial.naturalWidth}%`;
      spot.style.top = `${(100 * row) / aerial.naturalHeight}%`;
    };
    aerial.addEventListener("click", (event) => {
      const box = aerial.getBoundingClientRect(), i = Number(form.elements.which.value);
      const column = ((event.clientX - box.left) / box.width) * aerial.naturalWidth - 0.5;
      const row = ((event.clientY - box.top) / box.height) * aerial.naturalHeight - 0.5;
      form.elements[`pixel${i}`].value = `${Math.max(column, 0).toFixed(1)}, ${Math.max(row, 0).toFixed(1)}`;
      mark(i);
      form.elements[`place${i}`].focus();
      if (i === 1) form.elements.which.value = "2";
    });
    for (const i of [1, 2]) form.elements[`pixel${i}`].addEventListener("input", () => mark(i));
  }

  // --- units, sign of life, print, close --------------------------------------------------------------------

  // A cookie, not the browser's store: the desk makes its pages and reads its forms in these units, and the port changes every evening.
  function inUnits(input, from, to) {
    const quantity = input.dataset.quantity, typed = input.value.trim();
    if (typed === "" || !isFinite(typed)) return;
    const exact = typed === input.dataset.shown;
    const si = exact ? Number(input.dataset.si) : Number(typed) * PAGE.systems[from][quantity].si;
    input.value = input.dataset.shown = String(Number((si / PAGE.systems[to][quantity].si).toFixed(2)));
    input.dataset.si = si;
  }
  document.addEventListener("units-changed", () => {
    document.cookie = `crabline-units=${state.units}; path=/; max-age=31536000; samesite=strict`;
    for (const kept of document.querySelectorAll("form input[type=hidden][name=units]")) {
      if (kept.value === state.units) continue;
      for (const input of kept.form.querySelectorAll("[data-quantity]")) inUnits(input, kept.value, state.units);
      kept.value = state.units;
    }
  });
  const units = document.querySelector("select[name=units]"), remembered = (document.cookie.match(/(?:^|; )crabline-units=(\w+)/) || [])[1];
  if (remembered in PAGE.systems && remembered !== state.units) {
    if (units) units.value = remembered;
    chooseUnits(remembered);
  }

  setInterval(() => post("/alive", {}), 60000);
  if ($("desk-print")) $("desk-print").addEventListener("click", () => window.print());
  const ending = $("desk-close");
  if (ending) {
    ending.addEventListener("click", async () => {
      await post("/close", {});
      const said = document.createElement("p");
      said.className = "wrap lead";
      said.setAttribute("role", "status");
      said.textContent = "The desk is closed. This page can be closed too.";
      document.body.replaceChildren(said);
    });
  }
})();
