// Makes pages smoother: number keys, moving rows, time left, the way to a mistake. Every page works without it.
"use strict";
(() => {
  // Number keys choose an answer, unless somebody is typing.
  const typing = (target) => target.matches("textarea, select, input:not([type=radio], [type=checkbox])");
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.altKey || event.metaKey || typing(event.target) || !/^[1-9]$/.test(event.key)) return;
    const question = event.target.closest("[data-number-keys]") || document.querySelector("[data-number-keys]");
    const inputs = question ? question.querySelectorAll(".answer input") : [];
    const input = inputs[Number(event.key) - 1];
    if (!input || input.disabled) return;
    event.preventDefault();
    input.focus();
    input.click();
  });

  // The lamp panel: a lit lamp and "No lamp" contradict each other, so the later one counts.
  for (const panel of document.querySelectorAll("[data-panel]")) {
    panel.addEventListener("change", (event) => {
      if (!event.target.checked) return;
      const none = event.target.hasAttribute("data-none");
      for (const other of panel.querySelectorAll("input")) {
        if (other !== event.target && other.hasAttribute("data-none") !== none) other.checked = false;
      }
    });
  }

  // Put in order: the selects stay in the form and say what is sent; people move rows instead.
  const button = (label, about) => {
    const made = document.createElement("button");
    made.type = "button";
    made.textContent = label;
    made.setAttribute("aria-label", `${label}: ${about}`);
    return made;
  };
  for (const order of document.querySelectorAll("[data-order]")) {
    const list = order.querySelector(".order-rows");
    const said = order.querySelector("[data-order-said]");
    const rows = () => [...list.querySelectorAll("[data-order-row]")];
    const place = (row) => Number(row.querySelector("select").value);
    const text = (row) => row.querySelector(".answer-text").textContent.trim();
    const number = () => rows().forEach((row, at) => {
      row.querySelector("select").value = String(at + 1);
      row.querySelector(".order-place").textContent = String(at + 1);
      const [up, down] = row.querySelectorAll(".order-moves button");
      up.disabled = at === 0;
      down.disabled = at === rows().length - 1;
    });
    const move = (row, by) => {
      const all = rows();
      const to = all.indexOf(row) + by;
      if (to < 0 || to >= all.length) return;
      if (by < 0) list.insertBefore(row, all[to]);
      else list.insertBefore(all[to], row);
      number();
      all.forEach((other) => other.classList.toggle("has-moved", other === row));
      said.textContent = `${text(row)}: now place ${to + 1} of ${all.length}.`;
      const [up, down] = row.querySelectorAll(".order-moves button");
      const wanted = by < 0 ? up : down;
      (wanted.disabled ? (by < 0 ? down : up) : wanted).focus();
      row.querySelector("select").dispatchEvent(new Event("change", { bubbles: true }));
    };
    rows().sort((a, b) => place(a) - place(b)).forEach((row) => list.append(row));
    for (const row of rows()) {
      row.querySelector("select").hidden = true;
      const shown = document.createElement("span");
      shown.className = "order-place";
      row.prepend(shown);
      const moves = document.createElement("span");
      moves.className = "order-moves";
      const up = button("Up", text(row));
      const down = button("Down", text(row));
      up.addEventListener("click", () => move(row, -1));
      down.addEventListener("click", () => move(row, 1));
      moves.append(up, down);
      moves.addEventListener("keydown", (event) => {
        const by = { ArrowUp: -1, ArrowDown: 1 }[event.key];
        if (!by) return;
        event.preventDefault();
        move(row, by);
      });
      row.append(moves);
    }
    order.classList.add("has-moves");
    order.querySelector(".hint").textContent = "Move each step to its place, the first at the top.";
    number();
  }

  // Time left, counted from the seconds that the server gave; the server alone decides when it is over. Near the end it is said
  // politely, and stands on the page from then on.
  for (const shown of document.querySelectorAll("[data-seconds-left]")) {
    const started = performance.now();
    const given = Number(shown.dataset.secondsLeft);
    const marks = (shown.dataset.warnings || "300 60").split(" ").map(Number);
    const said = document.createElement("p");
    said.className = "deadline-warning";
    said.setAttribute("aria-live", "polite");
    shown.after(said);
    const announced = new Set();
    const words = (mark) => (mark >= 60 ? `${Math.floor(mark / 60)} min` : `${mark} s`);
    const tell = () => {
      const left = Math.max(0, Math.ceil(given - (performance.now() - started) / 1000));
      const minutes = Math.floor(left / 60);
      const seconds = String(left % 60).padStart(2, "0");
      shown.textContent = left === 0 ? "Time is over. What was saved is kept."
        : left > 300 ? `${Math.ceil(left / 60)} min left` : `${minutes}:${seconds} min left`;
      for (const mark of marks) {
        if (left > 0 && left <= mark && given > mark && !announced.has(mark)) {
          announced.add(mark);
          said.textContent = `Less than ${words(mark)} left. What is saved counts.`;
        }
      }
      if (left > 0) setTimeout(tell, 1000);
      else said.textContent = shown.textContent;
    };
    tell();
  }

  // A form that only asks: what it leads to is drawn again while somebody changes it, without leaving the page.
  for (const form of document.querySelectorAll("form[data-redraws]")) {
    const shown = document.getElementById(form.dataset.redraws);
    let running;
    let waiting;
    const redraw = async () => {
      running?.abort();
      running = new AbortController();
      const query = new URLSearchParams(new FormData(form)).toString();
      try {
        const reply = await fetch(`${form.action}?${query}`, { signal: running.signal, credentials: "same-origin" });
        // A number that is half typed is no mistake yet; the button says what is wrong with it.
        if (!reply.ok || reply.redirected) return;
        const page = new DOMParser().parseFromString(await reply.text(), "text/html");
        const drawn = page.getElementById(form.dataset.redraws);
        if (!drawn) return;
        shown.replaceChildren(...drawn.childNodes);
        history.replaceState(history.state, "", `?${query}`);
      } catch (error) {
        if (error.name !== "AbortError") return;
      }
    };
    form.addEventListener("input", () => {
      clearTimeout(waiting);
      waiting = setTimeout(redraw, 150);
    });
  }

  // A form that was wrong: begin at the list of what to put right.
  document.querySelector("[data-summary]")?.focus();
})();
