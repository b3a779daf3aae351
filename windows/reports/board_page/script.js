// The evening board: scheme, filters, hour strips on demand, and, where served, a look for news.
// Every text goes in as text, never as markup.
"use strict";
(() => {
  const root = document.documentElement;
  const SCHEME = "dewgap-scheme", OPEN = "dewgap-open";
  const POLL_MS = 4000;

  // Storage may be forbidden, as it is for files in some browsers.
  const kept = (store, key) => {
    try { return window[store].getItem(key); } catch { return null; }
  };
  const keep = (store, key, value) => {
    try { window[store].setItem(key, value); } catch { /* it is then not remembered */ }
  };

  const scheme = kept("localStorage", SCHEME);
  if (scheme === "light" || scheme === "dark") root.dataset.scheme = scheme;
  root.classList.add("scripted");

  const one = (query, from = document) => from.querySelector(query);
  const all = (query, from = document) => [...from.querySelectorAll(query)];
  const made = (tag, text = "", names = "") => {
    const element = document.createElement(tag);
    if (text) element.textContent = text;
    if (names) element.className = names;
    return element;
  };

  const narrow = window.matchMedia("(max-width: 760px)");
  const darkWish = window.matchMedia("(prefers-color-scheme: dark)");
  let data = null;

  // ---- the strip of a day ----
  const STATES = {
    o: ["●", "OK"], b: ["✕", "blocked"], u: ["?", "not known"],
  };

  const cell = (shown, said = "", names = "", hint = "") => ({ shown, said, names, hint });

  // A number of several hours is one cell over them: it is not that of each hour.
  // What is blocked has no chance to hold, which is known.
  function spans(numbers, states) {
    const cells = [];
    numbers.forEach((number, n) => {
      const wide = number.includes("\u00a0");
      if (wide && number === numbers[n - 1]) {
        cells.push(null);
        cells.findLast(Boolean).hours += 1;
        return;
      }
      const none = states[n] === "b" ? cell("", "none") : cell("?", "not known");
      const told = number === "-" ? none : cell(number.replaceAll("\u00a0", " "));
      cells.push({ ...told, hours: 1, names: wide ? "wide" : "" });
    });
    return cells;
  }

  function linesOf(strip, plan) {
    const states = [...strip.s];
    const why = strip.w.map((n) => data.why[n]);
    const lines = [["State", "OK?", states.map((letter, n) =>
      cell(STATES[letter][0], STATES[letter][1], `s-${letter}`, why[n]))]];
    if (!narrow.matches) {
      lines.push(["Crew may work", "", [...strip.c].map((yes) =>
        yes === "1" ? cell("■", "yes") : cell("", "no"))]);
    }
    if (plan?.some(Boolean)) {
      lines.push(["Planned layer", "Lay", states.map((_, n) =>
        plan[n] ? cell(plan[n], "", "plan") : cell("", "none"))]);
    }
    for (const [key, label, short] of data.lines) {
      lines.push([label, short, spans(strip[key].split(" "), key === "k" ? states : [])]);
    }
    return lines;
  }

  function filled(tag, given) {
    const element = made(tag, "", given.names);
    if (given.said && given.shown) {
      const mark = made("span", given.shown);
      mark.setAttribute("aria-hidden", "true");
      element.append(mark);
    } else {
      element.textContent = given.shown;
    }
    if (given.said) element.append(made("span", given.said, "vh"));
    if (given.hint) element.title = given.hint;
    return element;
  }

  function heading(text, scope, names = "") {
    const element = made("th", text, names);
    element.scope = scope;
    return element;
  }

  function stripTable(number, plan) {
    const strip = data.strips[number];
    const hours = data.clocks[strip.l];
    const lines = linesOf(strip, plan);
    const table = made("table", "", narrow.matches ? "hours tall" : "hours");
    table.append(made("caption", strip.t));
    const head = made("tr"), body = made("tbody");
    const crew = (n) => (strip.c[n] === "1" ? "crew" : "");
    head.append(heading("Hour", "col"));
    if (narrow.matches) {
      lines.forEach(([label, short]) => head.append(heading(short || label, "col")));
      hours.forEach((hour, n) => {
        const row = made("tr");
        const first = heading(hour, "row", crew(n));
        if (crew(n)) first.append(made("span", ", crew may work", "vh"));
        row.append(first);
        for (const [, , cells] of lines) {
          if (!cells[n]) continue;
          const filling = filled("td", cells[n]);
          if (cells[n].hours > 1) filling.rowSpan = cells[n].hours;
          row.append(filling);
        }
        body.append(row);
      });
    } else {
      hours.forEach((hour, n) => head.append(heading(hour, "col", crew(n))));
      for (const [label, , cells] of lines) {
        const row = made("tr");
        row.append(heading(label, "row"));
        for (const each of cells.filter(Boolean)) {
          const filling = filled("td", each);
          if (each.hours > 1) filling.colSpan = each.hours;
          row.append(filling);
        }
        body.append(row);
      }
    }
    const top = made("thead");
    top.append(head);
    table.append(top, body);
    return table;
  }

  function draw(place) {
    data ??= JSON.parse(one("#hours").textContent);
    const plans = place.dataset.plan?.split(" ") ?? [];
    place.replaceChildren(...place.dataset.strip.split(" ").map((number, n) =>
      stripTable(number, n in plans ? data.plans[plans[n]] : null)));
  }

  // ---- what is open ----
  const keyOf = (details) => details.dataset.key ?? "";

  function closeVisit(details) {
    details.open = false;
    one("summary", details).focus();
  }

  function opened(details) {
    if (details.open) {
      all(".strip", details).forEach(draw);
      if (details.matches(".visit-more")) {
        if (!one(".close", details)) {
          const button = made("button", "Close", "close");
          button.type = "button";
          button.addEventListener("click", () => closeVisit(details));
          one(".more", details).prepend(button);
        }
        all("details.visit-more[open]").forEach((other) => {
          if (other !== details) other.open = false;
        });
        one("summary", details).scrollIntoView({ block: "nearest", inline: "nearest" });
      }
    }
    const open = all("details[data-key][open]").map(keyOf);
    keep("sessionStorage", OPEN, JSON.stringify(open));
    remember();
  }

  // ---- filters, kept in the address ----
  const choice = (name) => one(`#pick-${name}`)?.value ?? "";

  function remember() {
    const parts = new URLSearchParams();
    for (const name of ["crew", "site"]) if (choice(name)) parts.set(name, choice(name));
    const visit = one("details.visit-more[open]");
    if (visit) parts.set("open", keyOf(visit));
    const told = parts.toString();
    const address = `${location.pathname}${location.search}${told ? `#${told}` : ""}`;
    try { history.replaceState(null, "", address); } catch { /* some forbid it for files */ }
  }

  function filter() {
    const crew = choice("crew"), site = choice("site");
    const fits = (element) =>
      (!crew || !("crew" in element.dataset) || element.dataset.crew === crew) &&
      (!site || !("site" in element.dataset) || element.dataset.site === site);
    const told = [];
    for (const [name, query] of [["visits", ".visit"], ["deadlines", "tr.deadline"],
      ["sites", ".sites > li"], ["layers not done", "tr.undone"], ["", "tr.moved"]]) {
      const found = all(query);
      const shown = found.filter(fits);
      found.forEach((each) => each.classList.toggle("gone", !shown.includes(each)));
      if (name && found.length) told.push(`${shown.length} of ${found.length} ${name}`);
    }
    for (const section of all("#deadlines, #kept, #undone, #moved")) {
      const rows = all("tbody tr", section);
      const left = rows.filter((row) => !row.matches(".gone")).length;
      section.classList.toggle("gone", rows.length > 0 && left === 0);
      const head = one("h2", section);
      head.dataset.whole ??= head.textContent;
      head.textContent = left === rows.length ? head.dataset.whole
        : head.dataset.whole.replace(/\(\d+\)$/, `(${left} of ${rows.length})`);
    }
    // Paper has no filters: it says what it leaves out.
    const label = (name) => one(`#pick-${name}`).selectedOptions[0].textContent;
    const picked = ["crew", "site"].filter(choice).map((name) => `${name} ${label(name)}`);
    one("#shown").textContent = picked.length
      ? `Shown: ${picked.join(", ")} only. The figures at the top are of the whole board.` : "";
    const slots = all(".slot");
    const busy = new Set();
    for (const slot of slots) {
      const visits = all(".visit", slot);
      const left = visits.filter((each) => !each.classList.contains("gone"));
      const on = fits(slot) && (site ? left.length > 0 : true);
      slot.classList.toggle("off", !on);
      if (on) busy.add(slot.dataset.crew);
    }
    // A crew with nothing to show gives its row away; every day has the crews in one order.
    const kept = (name) => (!crew && !site) || busy.has(name);
    for (const slot of [...slots, ...all(".crews li")]) {
      slot.classList.toggle("gone", !kept(slot.dataset.crew));
    }
    for (const day of all(".day:not(.crews)")) {
      day.classList.toggle("bare", !one(".slot:not(.off):not(.gone)", day));
    }
    all("details.visit-more[open]").forEach((each) => {
      if (!fits(each.closest(".visit"))) each.open = false;
    });
    one("#count").textContent = `Shown: ${told.join(", ")}.`;
    remember();
  }

  // ---- light or dark ----
  const isDark = () => (root.dataset.scheme ?? (darkWish.matches ? "dark" : "light")) === "dark";

  function nameScheme() {
    one("#scheme").textContent = isDark() ? "Light scheme" : "Dark scheme";
  }

  // ---- news, where the page is served ----
  async function lookForNews(known) {
    let version = known;
    try {
      const answer = await fetch("version", { cache: "no-store" });
      if (!answer.ok) throw new Error(String(answer.status));
      version = (await answer.text()).trim();
      one("#news").textContent = "";
      if (known !== null && version !== known) {
        location.reload();
        return;
      }
    } catch {
      one("#news").textContent = "This board is no longer served: it stays as it was.";
    }
    setTimeout(lookForNews, POLL_MS, version);
  }

  document.addEventListener("DOMContentLoaded", () => {
    document.addEventListener("toggle", (event) => opened(event.target), true);
    document.addEventListener("keydown", (event) => {
      if (event.key !== "Escape") return;
      const within = document.activeElement?.closest("details[open]");
      const open = one("details.visit-more[open]") ?? within;
      if (open) closeVisit(open);
    });
    narrow.addEventListener("change", () => all("details[open] .strip").forEach(draw));
    darkWish.addEventListener("change", nameScheme);
    one("#scheme").addEventListener("click", () => {
      root.dataset.scheme = isDark() ? "light" : "dark";
      keep("localStorage", SCHEME, root.dataset.scheme);
      nameScheme();
    });
    nameScheme();

    const asked = new URLSearchParams(location.hash.slice(1));
    for (const name of ["crew", "site"]) {
      const select = one(`#pick-${name}`);
      if ([...select.options].some((each) => each.value === asked.get(name))) {
        select.value = asked.get(name);
      }
      select.addEventListener("change", filter);
    }
    const open = new Set([asked.get("open")]);
    if (root.dataset.refresh) {
      try { JSON.parse(kept("sessionStorage", OPEN) ?? "[]").forEach((key) => open.add(key)); }
      catch { /* not ours */ }
    }
    if (choice("crew") || choice("site")) filter();
    for (const details of all("details[data-key]")) {
      if (open.has(keyOf(details)) && !details.closest(".gone")) details.open = true;
    }
    if (root.dataset.refresh) lookForNews(one('meta[name="version"]')?.content ?? null);
  });
})();
