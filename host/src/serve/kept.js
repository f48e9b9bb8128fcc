// Shows cows as they leave and the plates now, and keeps what is entered at the crush while the network is away, and sends it when it is back. The program takes the same
// form twice as one, so nothing is lost or doubled. Without this script the form works as any form does.
"use strict";
(() => {
  const place = "fourplate-waiting";
  const waiting = () => JSON.parse(localStorage.getItem(place) || "[]");
  const keep = (all) => localStorage.setItem(place, JSON.stringify(all));
  const note = document.getElementById("waiting");
  const form = document.getElementById("case");
  const token = () => document.querySelector("[name=token]")?.value || "";
  const show = () => {
    const all = waiting();
    if (!note) return;
    note.hidden = all.length === 0;
    note.querySelector("b").textContent = all.length;
    const asks = all.some((one) => one.asks);
    note.querySelectorAll("button").forEach((button) => { button.hidden = !asks; });
  };
  const send = (body) => {
    const fresh = new URLSearchParams(body);
    fresh.set("token", token());
    const given = { method: "POST", body: fresh, signal: AbortSignal.timeout(8000) };
    return fetch("/case", given);
  };
  let busy = false;
  const deliver = async () => {
    if (busy || !token()) return;
    busy = true;
    for (const one of waiting().filter((one) => !one.asks)) {
      let answer;
      try { answer = await send(one.body); } catch { break; }
      if (answer.status >= 500 || answer.status === 403) break;
      const rest = waiting();
      const at = rest.findIndex((other) => other.body === one.body);
      if (answer.ok) rest.splice(at, 1); else rest[at].asks = true;
      keep(rest);
    }
    busy = false;
    show();
  };
  form?.addEventListener("submit", async (event) => {
    event.preventDefault();
    const body = new URLSearchParams(new FormData(form)).toString();
    try {
      const answer = await send(body);
      if (answer.ok && answer.redirected) { location.href = answer.url; return; }
      if (answer.status < 500) { form.submit(); return; }
    } catch { /* away: kept below */ }
    keep([...waiting().filter((one) => one.body !== body), { body }]);
    form.reset();
    show();
    note?.scrollIntoView();
  });
  // What the program asks about goes to it as a form, so that the person sees the question. It stays here until the
  // program has it: sent again, it is then known.
  const [ask, drop] = note ? note.querySelectorAll("button") : [];
  const first = (change) => {
    const all = waiting();
    const at = all.findIndex((one) => one.asks);
    if (at < 0) return null;
    const one = all[at];
    change(all, at);
    keep(all);
    show();
    return one;
  };
  ask?.addEventListener("click", () => {
    const one = first((all, at) => { delete all[at].asks; });
    if (!one) return;
    const asked = document.createElement("form");
    asked.method = "post";
    asked.action = "/case";
    const values = new URLSearchParams(one.body);
    values.set("token", token());
    for (const [name, value] of values) {
      const field = document.createElement("input");
      field.type = "hidden"; field.name = name; field.value = value;
      asked.append(field);
    }
    document.body.append(asked);
    asked.submit();
  });
  drop?.addEventListener("click", () => first((all, at) => all.splice(at, 1)));
  if (document.getElementById("live")) {
    new EventSource("/live/events").addEventListener("message", () => location.reload());
  }
  const plates = document.getElementById("plates");
  if (plates) {
    const put = (name, texts) => plates.querySelectorAll(`[data-now=${name}]`).forEach((place, i) => { place.textContent = [texts].flat()[i]; });
    new EventSource("/plates/events?lane=" + plates.dataset.lane).addEventListener("message", (event) => {
      const now = JSON.parse(event.data);
      if (now.steps !== plates.dataset.steps) { location.reload(); return; }
      for (const name of ["kg", "noise", "total", "said"]) put(name, now[name]);
      plates.querySelectorAll(".load").forEach((bar, i) => bar.setAttribute("width", now.bars[i]));
    });
  }
  addEventListener("online", deliver);
  setInterval(deliver, 15000);
  show();
  deliver();
})();
