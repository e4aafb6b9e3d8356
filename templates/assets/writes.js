// Keeps a form marked data-writes while somebody types, and draws its findings and its preview again. Without this script
// the form's buttons do the same. What may be drawn again is marked data-redrawn and has an id.
"use strict";
(() => {
  const words = {
    unsent: "Not kept yet: no connection. Your text stays on this page and is sent again.",
    signedOut: "Not kept: you are no longer signed in. Your text stays on this page. Sign in again in another tab and come back to this one.",
    elsewhere: "Not kept: another window kept this draft meanwhile. Press Keep to see both texts and choose.",
    refused: "Not kept yet. Press Keep to see why.",
  };

  for (const form of document.querySelectorAll("form[data-writes]")) {
    const text = form.querySelector("textarea");
    const state = form.querySelector("[data-save-state]");
    let changed = 0; // grows with every change
    let sent = 0; // the change that the server has kept
    let timer = 0;
    let running = false;
    let stopped = false;
    let signedOut = false;
    let leaving = false;

    const say = (said, good) => {
      if (state.textContent !== said) state.textContent = said;
      state.classList.toggle("not-saved", !good);
    };
    const later = (wait) => {
      clearTimeout(timer);
      timer = setTimeout(() => send("look"), wait);
    };

    // Long lines wrap; each number is as high as its line. A copy of each line in the text's own width gives the height.
    const copy = document.createElement("div");
    copy.className = "line-copies";
    copy.setAttribute("aria-hidden", "true");
    text.after(copy);
    text.wrap = "soft";
    const number = () => {
      if (!form.isConnected) return; // put away: nothing has a size
      const lines = text.value.split("\n");
      const list = form.querySelector("#line-numbers");
      while (list.children.length > lines.length) list.lastElementChild.remove();
      while (list.children.length < lines.length) {
        const made = document.createElement("li");
        made.id = `line-${list.children.length + 1}`;
        made.textContent = String(list.children.length + 1);
        list.append(made);
      }
      copy.style.width = `${text.clientWidth}px`;
      copy.replaceChildren(...lines.map((line) => {
        const made = document.createElement("div");
        made.textContent = line || " ";
        return made;
      }));
      [...copy.children].forEach((made, at) => { list.children[at].style.height = `${made.getBoundingClientRect().height}px`; });
      text.style.height = `${copy.offsetHeight + 40}px`;
    };

    // Within the form, which may be put away meanwhile: the revision is taken over all the same.
    const redraw = (page) => {
      for (const shown of form.querySelectorAll("[data-redrawn]")) {
        const drawn = page.getElementById(shown.id);
        if (drawn) shown.replaceWith(document.adoptNode(drawn));
      }
      number();
    };

    async function send(deed) {
      if (running || stopped || leaving || !form.isConnected) return;
      running = true;
      const sending = changed;
      const body = new URLSearchParams(new FormData(form));
      body.set("deed", deed);
      try {
        const reply = await fetch(form.action, { method: "POST", body, credentials: "same-origin", redirect: "manual", signal: AbortSignal.timeout(20000) });
        if (reply.status === 200) {
          const page = new DOMParser().parseFromString(await reply.text(), "text/html");
          if (deed === "another") form.elements.seed.value = page.getElementById("seed").value;
          redraw(page);
          sent = sending;
          say(form.querySelector("#kept").textContent, true);
        } else if (reply.status === 422) {
          const page = new DOMParser().parseFromString(await reply.text(), "text/html");
          stopped = page.getElementById("theirs") !== null;
          say(stopped ? words.elsewhere : words.refused, false);
        } else if (reply.type === "opaqueredirect" || [401, 403, 404].includes(reply.status)) {
          signedOut = true;
          say(words.signedOut, false);
        } else {
          say(words.unsent, false);
          later(8000);
        }
      } catch {
        // No reply: it is not known to be kept, so it is sent again.
        say(words.unsent, false);
        later(8000);
      }
      running = false;
      if (sent !== changed && !stopped && !signedOut && sending !== changed) later(600);
    }

    // A new sign-in has a new form token, which the server gives only to the draft's owner.
    async function comeBack() {
      if (!signedOut || running || !form.isConnected) return;
      try {
        const reply = await fetch(location.href, { credentials: "same-origin", redirect: "manual" });
        if (reply.status !== 200) return;
        const fresh = new DOMParser().parseFromString(await reply.text(), "text/html").querySelector("main input[name=form_token]");
        if (!fresh || !fresh.value) return;
        for (const token of document.querySelectorAll("input[name=form_token]")) token.value = fresh.value;
        signedOut = false;
        later(0);
      } catch {
        // Still no connection: the next return to this tab tries once more.
      }
    }

    form.addEventListener("input", () => {
      changed += 1;
      number();
      if (stopped || signedOut) return;
      say("Keeping.", true);
      later(600);
    });
    form.addEventListener("submit", (event) => {
      const deed = event.submitter?.value;
      if (!stopped && !signedOut && (deed === "look" || deed === "another")) {
        event.preventDefault();
        clearTimeout(timer);
        send(deed);
        return;
      }
      leaving = true; // the form itself carries everything that was typed
      clearTimeout(timer);
    });
    // A finding leads to its place in the text, ready to be mended.
    form.addEventListener("click", (event) => {
      const { line: number, column } = event.target.closest?.("[data-line]")?.dataset ?? {};
      const line = Number(number);
      if (!line) return;
      event.preventDefault();
      const lines = text.value.split("\n");
      const at = lines.slice(0, line - 1).reduce((sum, before) => sum + before.length + 1, 0);
      text.focus();
      // A column counts characters, a selection counts their halves.
      const before = [...lines[line - 1]].slice(0, Number(column ?? 1) - 1).join("").length;
      text.setSelectionRange(at + before, at + lines[line - 1].length);
      document.getElementById(`line-${line}`)?.scrollIntoView({ block: "center" });
    });
    addEventListener("pageshow", () => { leaving = false; });
    addEventListener("online", () => { if (sent !== changed) later(0); });
    addEventListener("backinplace", () => {
      signedOut = false;
      number();
      if (sent !== changed) later(0);
    });
    addEventListener("focus", comeBack);
    addEventListener("resize", number);
    document.addEventListener("visibilitychange", () => { if (!document.hidden) comeBack(); });
    addEventListener("beforeunload", (event) => {
      if (!leaving && sent !== changed) event.preventDefault();
    });
    document.fonts.ready.then(number);
    number();
  }
})();
