// Saves a form marked data-saves while it is filled in, and says so only when the server has said so.
// The server answers 200 with {"saved": "14:03:12"}, the branch's time of day. Without this script the form's button does the same.
"use strict";
(() => {
  const words = {
    unsent: "Not saved yet: no connection. Your answer is kept on this page and will be sent again.",
    signedOut: "Not saved: you are no longer signed in. Your answer is kept on this page. Sign in again in another tab and come back to this one: it is then sent again.",
    closed: "Not saved: this can no longer be changed. What was saved before is kept.",
    refused: "Not saved: the server cannot take this answer. Your answer is kept on this page. Check it, then change it once more.",
  };
  const waits = [1000, 2000, 4000, 8000, 15000, 30000];

  // What this device has not got saved: only the question's address is kept, never an answer, so that the last look can name it.
  const mark = "sootmark-unsaved ";
  const keep = (address, unsaved) => {
    try {
      if (unsaved) localStorage.setItem(mark + address, "");
      else localStorage.removeItem(mark + address);
    } catch {
      // No storage: the page itself still says that it is not saved.
    }
  };
  for (const shown of document.querySelectorAll("[data-unsaved]")) {
    const list = shown.querySelector("[data-unsaved-list]");
    const tell = () => {
      let addresses = [];
      try {
        addresses = Object.keys(localStorage).filter((key) => key.startsWith(mark)).map((key) => key.slice(mark.length));
      } catch {
        return;
      }
      const own = addresses.filter((address) => address.startsWith(shown.dataset.unsaved))
        .map((address) => Number(address.slice(shown.dataset.unsaved.length))).filter(Number.isInteger).sort((a, b) => a - b);
      list.replaceChildren(...own.map((position) => {
        const row = document.createElement("li");
        const link = row.appendChild(document.createElement("a"));
        link.href = shown.dataset.unsaved + position;
        const word = link.appendChild(document.createElement("span"));
        word.className = "for-ears";
        word.textContent = `${shown.dataset.unsavedWord || "Question"} `;
        link.append(String(position));
        return row;
      }));
      shown.hidden = own.length === 0;
    };
    addEventListener("storage", tell);
    addEventListener("pageshow", tell);
    tell();
  }

  for (const form of document.querySelectorAll("form[data-saves]")) {
    const address = new URL(form.action).pathname;
    const state = form.querySelector("[data-save-state]");
    let changed = 0; // grows with every change
    let sent = 0; // the change that the server has confirmed
    let running = false;
    let tries = 0;
    let timer = 0;
    let leaving = false;
    let signedOut = false;

    const say = (text, good) => {
      if (!state) return;
      if (state.textContent !== text) state.textContent = text;
      state.classList.toggle("not-saved", !good);
    };
    const later = (wait) => {
      clearTimeout(timer);
      timer = setTimeout(send, wait);
    };
    const again = () => {
      say(words.unsent, false);
      later(waits[Math.min(tries, waits.length - 1)]);
      tries += 1;
    };

    async function send() {
      if (running || leaving || sent === changed || !form.isConnected) return;
      running = true;
      const sending = changed;
      let after = again;
      try {
        const reply = await fetch(form.action, {
          method: "POST",
          body: new URLSearchParams(new FormData(form)),
          headers: { Accept: "application/json" },
          credentials: "same-origin",
          redirect: "manual", // a page of sign-in is not a saved answer
          signal: AbortSignal.timeout(20000),
        });
        if (reply.status === 200) {
          const saved = (await reply.json()).saved;
          if (typeof saved !== "string") throw new TypeError("the reply does not say when it was saved");
          sent = sending;
          tries = 0;
          after = () => {
            if (sent !== changed) return later(0);
            keep(address, false);
            say(`Saved ${saved}`, true);
            for (const other of document.querySelectorAll("[data-once-saved]")) other.textContent = other.dataset.onceSaved;
          };
        } else if (reply.type === "opaqueredirect" || [401, 403, 404].includes(reply.status)) {
          signedOut = true;
          after = () => say(words.signedOut, false);
        } else if (reply.status === 409 || reply.status === 410) {
          keep(address, false);
          after = () => say(words.closed, false);
        } else if (reply.status < 500 && reply.status !== 408 && reply.status !== 429) {
          after = () => say(words.refused, false);
        }
      } catch {
        // No reply, or one that cannot be read: it is not known to be saved, so it is sent again.
      }
      running = false;
      after();
    }

    // A new sign-in has a new form token: take it from this page as the server now gives it, which it does only to its owner.
    async function comeBack() {
      if (!signedOut || running || !form.isConnected) return;
      try {
        const reply = await fetch(location.href, { credentials: "same-origin", redirect: "manual" });
        if (reply.status !== 200) return;
        const fresh = new DOMParser().parseFromString(await reply.text(), "text/html").querySelector("input[name=form_token]");
        if (!fresh || !fresh.value) return;
        for (const token of document.querySelectorAll("input[name=form_token]")) token.value = fresh.value;
        signedOut = false;
        later(0);
      } catch {
        // Still no connection: the next return to this tab tries once more.
      }
    }

    form.addEventListener("change", () => {
      changed += 1;
      tries = 0;
      keep(address, true);
      say("Saving.", true);
      later(150);
    });
    form.addEventListener("submit", () => {
      keep(address, false);
      leaving = true; // the form itself carries everything that was chosen
      clearTimeout(timer);
    });
    // What stands on the page now is what the server gave, unless the browser has brought an older page back.
    keep(address, false);
    addEventListener("pageshow", () => {
      leaving = false;
      keep(address, sent !== changed);
    });
    addEventListener("online", () => later(0));
    addEventListener("backinplace", () => {
      signedOut = false;
      later(0);
    });
    addEventListener("focus", comeBack);
    document.addEventListener("visibilitychange", () => { if (!document.hidden) comeBack(); });
    addEventListener("beforeunload", (event) => {
      if (!leaving && sent !== changed) event.preventDefault();
    });
  }
})();
