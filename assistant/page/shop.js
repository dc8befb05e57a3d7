// The page's own script: nothing needs it. It narrows long lists while one types, keeps text that was not sent yet,
// and puts the focus on what went wrong. It makes elements from plain text only, and asks no server for anything.
"use strict";
(() => {
  const LONG = 12; // rows from which a list is worth narrowing
  const main = document.getElementById("main");
  const rows = [...main.querySelectorAll("tbody tr, .cards li, .told li")];
  const forms = [...main.querySelectorAll("form[method=post]")];

  function fold(text) {
    return text.normalize("NFKD").replace(/\p{M}/gu, "").toLowerCase();
  }

  function wordsOf(text) {
    return fold(text).split(/[^\p{L}\p{N}-]+/u).filter(Boolean); // a date stays one word
  }

  function begins(word, start) {
    const isNumberForDate = /^\d{1,3}$/.test(start) && /^\d{4}-/.test(word);
    return word.startsWith(start) && !isNumberForDate;
  }

  function textOf(row) {
    const cells = [...row.querySelectorAll("th, td:not(.num)")];
    return cells.length ? cells.map((cell) => cell.textContent).join(" ") : row.textContent;
  }

  function narrow(wanted, status) {
    let shown = 0;
    for (const row of rows) {
      const words = wordsOf(textOf(row));
      row.hidden = !wanted.every((start) => words.some((word) => begins(word, start)));
      shown += row.hidden ? 0 : 1;
    }
    for (const section of main.querySelectorAll("section")) {
      const own = rows.filter((row) => section.contains(row));
      section.hidden = own.length > 0 && own.every((row) => row.hidden) && !section.querySelector("form");
    }
    status.textContent = wanted.length ? `${shown} of ${rows.length} shown` : "";
  }

  function offerNarrowing() {
    if (rows.length <= LONG || main.querySelector("figure")) return; // figures belong to their pictures
    const field = document.createElement("div");
    const label = document.createElement("label");
    const input = document.createElement("input");
    const status = document.createElement("small");
    field.className = "field narrow unprinted";
    label.textContent = "Show only lines with";
    label.htmlFor = input.id = "narrow";
    input.type = "search";
    status.setAttribute("role", "status");
    field.append(label, input, status);
    const heading = main.querySelector("h1");
    (heading.closest(".head") || heading).after(field);
    input.addEventListener("input", () => narrow(wordsOf(input.value), status));
  }

  function nameOf(form) {
    const fixed = [...form.querySelectorAll("input[type=hidden]:not([name=token])")].map((each) => each.value);
    return ["unsent", form.getAttribute("action"), ...fixed].join(" ");
  }

  function written(form) {
    return [...form.querySelectorAll("input:not([type=hidden]):not([type=password]):not([type=radio]), textarea")];
  }

  function keepUnsent(form) {
    const name = nameOf(form);
    const texts = Object.fromEntries(written(form).map((each) => [each.name, each.value]));
    const changed = written(form).some((each) => each.value !== each.defaultValue);
    if (changed) sessionStorage.setItem(name, JSON.stringify(texts));
    else sessionStorage.removeItem(name);
  }

  function bringBack(form) {
    const kept = JSON.parse(sessionStorage.getItem(nameOf(form)) || "{}");
    for (const each of written(form)) {
      if (each.name in kept && each.value === each.defaultValue) each.value = kept[each.name];
    }
    const details = form.closest("details");
    if (details && written(form).some((each) => each.value !== each.defaultValue)) details.open = true;
  }

  function forget(form) {
    if (form.getAttribute("action") === "/leave") sessionStorage.clear();
    else sessionStorage.removeItem(nameOf(form));
  }

  offerNarrowing();
  for (const form of forms) {
    bringBack(form);
    form.addEventListener("input", () => keepUnsent(form));
  }
  // what was sent is drawn again by the server where it was refused
  document.addEventListener("submit", (event) => forget(event.target));
  const problem = main.querySelector(".problem");
  if (problem) {
    problem.tabIndex = -1;
    problem.focus();
  }
})();
