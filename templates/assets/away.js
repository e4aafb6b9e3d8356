// Puts a page away when the session changes in another tab, so that the next at this desk finds nothing of it, and brings it back
// with what was typed when its reader is there again; what was typed by somebody else is not given back with a page of the history.
// Without this script a page stays until its tab is closed. Forms marked data-session begin, replace or end a session. Other tabs
// are told that it happens, never who it is.
"use strict";
(() => {
  const whose = (page) => page.querySelector("[data-person]")?.dataset.person;
  const person = whose(document);
  const tabs = new BroadcastChannel("sootmark-sign-in");
  let sent = false;
  for (const form of document.querySelectorAll("form[data-session]")) {
    form.addEventListener("submit", () => {
      sent = true;
      tabs.postMessage("sent");
    });
  }
  // This page gives way once the answer is there. Whoever came back to another tab meanwhile did so on the session before.
  addEventListener("pagehide", () => {
    if (sent) tabs.postMessage("answered");
    sent = false;
  });
  if (!person) return;

  // Browsers give what was typed back with a page of their history, whoever is there by then: each entry says whose it is.
  const stamp = () => history.replaceState({ ...history.state, person }, "");
  const before = history.state?.person;
  if (before && before !== person) {
    const reset = () => { for (const form of document.forms) form.reset(); };
    reset();
    // Some give it back only now.
    addEventListener("pageshow", () => {
      reset();
      stamp();
    }, { once: true });
  } else {
    stamp();
  }
  addEventListener("hashchange", stamp);

  const title = document.title;
  let away = []; // what was taken out, each with what holds its place
  let card;

  const made = (name, within, text) => {
    const element = document.createElement(name);
    if (text) element.textContent = text;
    within.append(element);
    return element;
  };
  const put = () => {
    card = document.createElement("main");
    card.id = "content";
    card.tabIndex = -1;
    const sheet = made("article", card);
    sheet.className = "card";
    const head = made("header", sheet);
    head.className = "card-head";
    made("h1", head, "This page is put away");
    const part = made("section", sheet);
    part.className = "part";
    const lead = made("p", part, "In another tab somebody signed out or in, or changed how they sign in.");
    lead.className = "lead";
    made("p", part, "Sign in as yourself and come back to this tab: it is as you left it, with what you typed.");
    const way = made("a", made("p", part), "Sign in in a new tab");
    way.href = "/sign-in";
    way.target = "_blank";
    way.className = "main";

    const parts = [...document.querySelectorAll(".places, .person, main")];
    away = parts.map((taken) => {
      const place = document.createComment("");
      taken.replaceWith(place);
      return [taken, place];
    });
    document.querySelector(".bottom").before(card);
    document.title = "Put away - Sootmark";
  };

  // Who is signed in stands on a page of theirs that everybody has, whatever form led to this one. A new sign-in has a new form token.
  async function comeBack() {
    if (!card || document.hidden) return;
    let page;
    try {
      const reply = await fetch("/account", { credentials: "same-origin", redirect: "manual" });
      if (reply.status !== 200) return;
      page = new DOMParser().parseFromString(await reply.text(), "text/html");
    } catch {
      return; // No connection: the next return to this tab tries once more.
    }
    const fresh = page.querySelector("input[name=form_token]")?.value;
    if (!card || !fresh || whose(page) !== person) return;
    card.remove();
    card = undefined;
    for (const [taken, place] of away) {
      for (const token of taken.querySelectorAll("input[name=form_token]")) token.value = fresh;
      place.replaceWith(taken);
    }
    away = [];
    document.title = title;
    dispatchEvent(new Event("backinplace"));
  }

  tabs.addEventListener("message", (event) => {
    if (!card) put();
    if (event.data === "answered") comeBack();
  });
  addEventListener("focus", comeBack);
  addEventListener("pageshow", comeBack);
  document.addEventListener("visibilitychange", comeBack);
})();
