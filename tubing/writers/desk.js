"use strict";
// The desk's one script: what is typed goes to this computer's own server, and what it shows comes back.
(() => {
  const post = async (path, body) => {
    const answer = await fetch(path, {
      method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body),
    });
    const found = answer.status === 204 ? null : await answer.json();
    return { status: answer.status, found };
  };
  setInterval(() => post("/alive", {}).catch(() => {}), 20000);
  post("/alive", {}).catch(() => {});
  const here = (id) => document.getElementById(id);

  // The run in space: seen from a place that is turned about the middle of all that is drawn.
  const SVG = "http://www.w3.org/2000/svg";
  let yaw = -0.6, tip = 0.5;
  const drawTurned = (figure) => {
    const { lines, names } = JSON.parse(figure.dataset.run);
    const all = lines.flatMap((line) => line.points);
    const middle = [0, 1, 2].map((k) => (Math.min(...all.map((p) => p[k])) + Math.max(...all.map((p) => p[k]))) / 2);
    const far = Math.max(...all.map((p) => Math.hypot(...p.map((part, k) => part - middle[k]))), 1);
    const wide = 700, tall = 360, scale = Math.min(wide, tall * 1.6) / 2 / far * 0.92;
    const see = (p) => {
      const [x, y, z] = p.map((part, k) => part - middle[k]);
      const across = x * Math.cos(yaw) + y * Math.sin(yaw), along = y * Math.cos(yaw) - x * Math.sin(yaw);
      return [wide / 2 + across * scale, tall / 2 - (z * Math.cos(tip) + along * Math.sin(tip)) * scale];
    };
    const svg = document.createElementNS(SVG, "svg");
    svg.setAttribute("viewBox", `0 0 ${wide} ${tall}`);
    svg.setAttribute("role", "img");
    svg.setAttribute("aria-label", "The run in space: " + names.map((name) => name.words).join(", "));
    for (const kind of ["way", "box", "spindle", "tube"]) {
      for (const line of lines.filter((each) => each.kind === kind)) {
        const path = document.createElementNS(SVG, "polyline");
        path.setAttribute("points", line.points.map((p) => see(p).map((v) => v.toFixed(1)).join(",")).join(" "));
        path.setAttribute("class", "turn-" + kind);
        svg.append(path);
      }
    }
    for (const name of names) {
      const text = document.createElementNS(SVG, "text"), [x, y] = see(name.at);
      text.setAttribute("x", (x + 5).toFixed(1));
      text.setAttribute("y", (y - 5).toFixed(1));
      text.textContent = name.words;
      svg.append(text);
    }
    figure.querySelector("div").replaceChildren(svg);
  };
  const turnBy = (figure, dYaw, dTip) => {
    yaw += dYaw;
    tip = Math.max(-Math.PI / 2, Math.min(Math.PI / 2, tip + dTip));
    drawTurned(figure);
  };
  const STEPS = { left: [-0.15, 0], right: [0.15, 0], up: [0, 0.15], down: [0, -0.15] };
  document.addEventListener("click", (event) => {
    const step = event.target.dataset && STEPS[event.target.dataset.turn];
    if (step) turnBy(event.target.closest("figure"), ...step);
  });
  document.addEventListener("keydown", (event) => {
    const figure = event.target.closest && event.target.closest(".turned > div") && event.target.closest("figure");
    const step = STEPS[event.key.replace("Arrow", "").toLowerCase()];
    if (figure && step) { event.preventDefault(); turnBy(figure, ...step); }
  });
  let dragged = null;
  document.addEventListener("pointerdown", (event) => {
    const place = event.target.closest(".turned > div");
    if (place) { dragged = { figure: place.closest("figure"), x: event.clientX, y: event.clientY }; event.preventDefault(); place.focus(); }
  });
  document.addEventListener("pointermove", (event) => {
    if (!dragged) return;
    turnBy(dragged.figure, (event.clientX - dragged.x) / 150, (event.clientY - dragged.y) / 150);
    dragged.x = event.clientX;
    dragged.y = event.clientY;
  });
  document.addEventListener("pointerup", () => { dragged = null; });
  const shown = (html) => {
    const look = here("look");
    look.innerHTML = html;
    look.classList.remove("old");
    look.querySelectorAll(".turned").forEach(drawTurned);
  };

  const newJob = () => {
    const form = here("form"), look = here("look"), status = here("status"), working = here("working");
    let turn = 0, later = null;
    const fields = () => [...form.querySelectorAll("[data-key]")];
    const touched = new Set();  // what nobody has touched follows what is proposed
    const answers = () => Object.fromEntries(fields().filter((each) => touched.has(each.dataset.key)).map((each) => [each.dataset.key, each.value]));
    const anew = (html) => {
      const at = document.activeElement, key = at && at.dataset ? at.dataset.key : null;
      const caret = key && at.selectionStart !== undefined ? at.selectionStart : null;
      const open = [...form.querySelectorAll("details[open]")].map((each) => each.parentNode.querySelector("[data-key]").dataset.key);
      form.innerHTML = html;
      for (const each of fields()) {
        if (open.includes(each.dataset.key)) each.parentNode.querySelector("details").open = true;
        if (each.dataset.key !== key) continue;
        each.focus();
        if (caret !== null && each.setSelectionRange) each.setSelectionRange(caret, caret);
      }
    };
    const show = async () => {
      const mine = ++turn;
      const slow = setTimeout(() => { if (mine === turn) working.hidden = false; }, 400);
      look.classList.add("old");
      try {
        const { status: code, found } = await post("/new/form", { answers: answers() });
        if (mine !== turn || code === 204) return;
        if (code !== 200) { status.textContent = found.error; return; }
        const same = fields().map((each) => each.dataset.key).join() === found.rows.map((row) => row.key).join();
        if (!same) anew(found.html);
        fields().forEach((each, k) => {
          if (!touched.has(each.dataset.key) && each.value !== found.rows[k].text) each.value = found.rows[k].text;
          const wrong = found.rows[k].wrong, said = here(each.id + "-w");
          if (wrong) each.setAttribute("aria-invalid", "true"); else each.removeAttribute("aria-invalid");
          said.textContent = wrong;
          said.hidden = !wrong;
        });
        here("write").disabled = !found.whole;
        status.textContent = found.said;
        if (found.look) shown(found.look);
      } catch {
        status.textContent = "The desk does not answer: it was ended in its terminal. What you typed is still on this page.";
      } finally {
        clearTimeout(slow);
        if (mine === turn) working.hidden = true;
      }
    };
    form.addEventListener("submit", (event) => event.preventDefault());
    form.addEventListener("input", (event) => {
      if (event.target.dataset.key) touched.add(event.target.dataset.key);
      clearTimeout(later);
      later = setTimeout(show, 150);
    });
    here("stop").addEventListener("click", () => { turn++; working.hidden = true; post("/stop", {}); });
    here("write").addEventListener("click", async () => {
      const { status: code, found } = await post("/new/save", { answers: answers(), file: here("file").value })
        .catch(() => ({ status: 0, found: null }));
      if (code === 200) { written = true; location.assign("/job/" + encodeURIComponent(found.name)); }
      else status.textContent = "Not written. " + (found && found.error ? found.error : "The desk does not answer.");
    });
    let written = false;
    window.addEventListener("beforeunload", (event) => {
      if (!written && touched.size) event.preventDefault();
    });
    show();
  };
  if (document.body.dataset.new) newJob();
  const job = document.body.dataset.job;
  if (!job) return;

  const form = here("form"), look = here("look"), status = here("status"), working = here("working");
  const base = document.body.dataset.base;
  let text = here("text").value, saved = text, version = document.body.dataset.version;
  let past = [], future = [], turn = 0, later = null;

  const tell = (words) => { status.textContent = words; };
  const layout = () => (here("layout") ? here("layout").value : "");
  const buttons = () => {
    here("undo").disabled = !past.length;
    here("redo").disabled = !future.length;
    here("save").disabled = text === saved;
  };
  const fieldAt = (path) => [...form.querySelectorAll("[data-path]")].find((e) => e.dataset.path === JSON.stringify(path));
  const clear = () => {
    for (const each of form.querySelectorAll("[aria-invalid]")) each.removeAttribute("aria-invalid");
    for (const each of form.querySelectorAll(".wrong")) each.hidden = true;
  };
  const blame = (path, words) => {
    const field = path && fieldAt(path);
    if (!field) return;
    field.setAttribute("aria-invalid", "true");
    const said = here(field.id + "-w");
    said.textContent = words;
    said.hidden = false;
  };

  const show = async (change) => {
    const mine = ++turn;
    const slow = setTimeout(() => { if (mine === turn) working.hidden = false; }, 400);
    look.classList.add("old");
    try {
      const { status: code, found } = await post(base + "/look", { text, layout: layout(), change });
      if (mine !== turn || code === 204) return;
      clear();
      if (found.text !== undefined && found.text !== text) {
        past.push(text);
        future = [];
        text = found.text;
        here("text").value = text;
      }
      buttons();
      if (found.error) {
        if (found.html) shown(found.html);
        tell(found.error);
        blame(found.at, found.error);
        return;
      }
      shown(found.html);
      tell(found.said);
    } catch {
      tell("The desk does not answer: it was ended in its terminal. What you typed is still on this page.");
    } finally {
      clearTimeout(slow);
      if (mine === turn) working.hidden = true;
    }
  };
  const fieldsAnew = async () => {
    const { status: code, found } = await post(base + "/fields", { text });
    if (code === 200) form.innerHTML = found.html;
  };
  const go = async (from, to) => {
    if (!from.length) return;
    to.push(text);
    text = from.pop();
    here("text").value = text;
    buttons();
    await fieldsAnew();
    await show(null);
  };

  const changeOf = (field) => ({ path: JSON.parse(field.dataset.path), typed: field.value });
  form.addEventListener("submit", (event) => event.preventDefault());
  form.addEventListener("input", (event) => {
    if (!event.target.dataset.path) return;
    clearTimeout(later);
    later = setTimeout(() => show(changeOf(event.target)), 50);
  });
  here("text").addEventListener("input", () => {
    clearTimeout(later);
    later = setTimeout(async () => {
      past.push(text);
      future = [];
      text = here("text").value;
      buttons();
      await fieldsAnew();
      await show(null);
    }, 400);
  });
  if (here("layout")) here("layout").addEventListener("change", () => show(null));
  here("undo").addEventListener("click", () => go(past, future));
  here("redo").addEventListener("click", () => go(future, past));
  document.addEventListener("keydown", (event) => {
    if (!(event.ctrlKey || event.metaKey)) return;
    const key = event.key.toLowerCase();
    if (key === "s") { event.preventDefault(); here("save").click(); }
  });
  here("stop").addEventListener("click", () => { turn++; working.hidden = true; post("/stop", {}); tell("Stopped. The plan shown is an earlier one."); });
  here("as-text").addEventListener("click", () => {
    const side = here("text-side"), open = side.hidden;
    side.hidden = !open;
    form.hidden = open;
    here("as-text").setAttribute("aria-expanded", String(open));
  });
  here("save").addEventListener("click", async () => {
    const { status: code, found } = await post(base + "/save", { text, version }).catch(() => ({ status: 0, found: null }));
    const box = here("conflict");
    box.hidden = true;
    if (code === 200) {
      version = found.version;
      saved = text;
      buttons();
      await show(null);
      tell("Saved. " + status.textContent);
    } else if (code === 409) {
      box.textContent = "";
      box.append(found.error + " Below is what lies on disk now; your own text stays on this page. ");
      const button = document.createElement("button");
      button.type = "button";
      button.textContent = "Take the one on disk; Undo brings yours back";
      button.addEventListener("click", async () => {
        past.push(text);
        text = saved = found.text;
        version = found.version;
        here("text").value = text;
        box.hidden = true;
        buttons();
        await fieldsAnew();
        await show(null);
      });
      const theirs = document.createElement("pre");
      theirs.textContent = found.text;
      box.append(button, theirs);
      box.hidden = false;
      tell("Not saved: the file was changed on disk.");
    } else {
      tell(found && found.error ? "Not saved. " + found.error : "Not saved: the desk does not answer.");
    }
  });
  window.addEventListener("beforeunload", (event) => { if (text !== saved) event.preventDefault(); });
  buttons();
  show(null);
})();
