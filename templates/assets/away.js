// Puts a page away when somebody signs out or in in another tab, so that the next at this desk finds nothing of it, and brings it
// back with what was typed when its reader is there again. Without this script a page stays until its tab is closed.
// Other tabs are told that it happens, never who it is.
"use strict";
(() => {
  const whose = (page) => page.querySelector("[data-person]")?.dataset.person;
  const person = whose(document);
  const tabs = new BroadcastChannel("sootmark-sign-in");
  for (const form of document.querySelectorAll('form[action="/sign-in"], form[action="/sign-out"]')) {
    form.addEventListener("submit", () => tabs.postMessage(""));
  }
  if (!person) return;
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
    const lead = made("p", part, "In another tab somebody signed out, or somebody else signed in.");
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

  tabs.addEventListener("message", () => { if (!card) put(); });
  addEventListener("focus", comeBack);
  addEventListener("pageshow", comeBack);
  document.addEventListener("visibilitychange", comeBack);
})();
