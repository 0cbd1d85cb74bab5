"use strict";
// Draws what the race computer sends. Text goes in as text, never as markup.
(() => {
  const at = (id) => document.getElementById(id);
  let heard = performance.now();
  let clock = null;

  const cell = (row, text, kind) => {
    const td = document.createElement("td");
    td.textContent = text;
    if (kind) td.className = kind;
    row.append(td);
    return td;
  };
  const rows = (table, list, fill) => {
    const body = table.tBodies[0];
    const fresh = document.createElement("tbody");
    for (const item of list || []) {
      const tr = document.createElement("tr");
      fill(tr, item);
      fresh.append(tr);
    }
    body.replaceWith(fresh);
  };
  const span = (ms) => {
    ms = Math.max(0, ms);
    if (clock.timed && ms < 10000) return (Math.floor(ms / 100) / 10).toFixed(1);
    const s = Math.floor(ms / 1000);
    return Math.floor(s / 60) + ":" + String(s % 60).padStart(2, "0");
  };
  const showClock = () => {
    if (!clock || (!clock.ticking && clock.shown_ms === 0)) { at("clock").textContent = ""; return; }
    let ms = clock.shown_ms;
    if (clock.ticking) {
      const driven = (performance.now() - heard) * clock.rate / 1000;
      ms = clock.timed ? ms - driven : ms + driven;
    }
    at("clock").textContent = span(ms);
  };
  const show = (v) => {
    document.title = v.title || "Race night";
    at("title").textContent = v.title;
    at("where").textContent = v.layout ? v.club + " · " + v.layout : v.club;
    at("phase").textContent = v.phase;
    at("heat").textContent = v.heat ? "heat " + v.heat : "";
    clock = v.clock;
    rows(at("lanes"), v.lanes, (tr, l) => {
      const chip = cell(tr, (l.car || l.lane) + " " + l.shape, "chip");
      chip.style.backgroundColor = l.colour;
      chip.style.color = l.ink;
      cell(tr, l.name ? (l.note ? l.name + " (" + l.note + ")" : l.name) : l.note || "-");
      cell(tr, l.laps, "laps");
      cell(tr, l.last); cell(tr, l.best); cell(tr, l.gap); cell(tr, l.place);
    });
    const ahead = at("ahead");
    ahead.replaceChildren(...(v.ahead || []).map((h) => {
      const li = document.createElement("li");
      let text = "heat " + h.heat + ": " + (h.names || []).map((n, i) => "lane " + (i + 1) + " " + (n || "-")).join(", ");
      const posts = (h.marshals || []).map((n, i) => n ? "post " + (i + 1) + " " + n : "").filter(Boolean);
      if (posts.length) text += "; marshals: " + posts.join(", ");
      li.textContent = text;
      return li;
    }));
    rows(at("standings"), v.standings, (tr, r) => {
      cell(tr, r.place); cell(tr, r.name); cell(tr, r.laps); cell(tr, r.gap); cell(tr, r.best); cell(tr, r.heats);
    });
  };
  const listen = () => {
    const live = new EventSource("/live");
    live.onmessage = (e) => { heard = performance.now(); show(JSON.parse(e.data)); showClock(); };
    // A refused connection is not tried again by the browser itself.
    live.onerror = () => { if (live.readyState === EventSource.CLOSED) setTimeout(listen, 3000); };
  };
  setInterval(() => {
    showClock();
    const silent = (performance.now() - heard) / 1000;
    const old = silent > 4;
    at("stale").hidden = !old;
    document.body.classList.toggle("old", old);
    if (old) at("age").textContent = Math.floor(silent);
  }, 100);
  listen();
})();
