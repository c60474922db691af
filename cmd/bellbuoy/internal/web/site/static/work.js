// What is ticked on a visit's list is kept in the browser until the shop has it: by
// visit, with the form's own key, so that what is sent twice counts once. Nothing
// depends on it; without this the list is an ordinary form.
const place = visit => "bellbuoy work " + visit;
const read = visit => JSON.parse(localStorage.getItem(place(visit)) || "null");
const kept = () => Object.keys(localStorage).filter(k => k.startsWith(place(""))).map(k => k.slice(place("").length));
const say = words => {
  const p = document.getElementById("kept");
  p.textContent = words;
  p.hidden = !words;
};

// What the shop has is kept no longer: its answer leads to an address that names
// the form's key.
const dropSaved = address => {
  const saved = new URL(address, location).searchParams.get("saved");
  const gone = saved && kept().filter(v => read(v).form === saved);
  if (!gone) return false;
  gone.forEach(v => localStorage.removeItem(place(v)));
  return gone.length > 0;
};

// Send what waits for a connection.
const sendAll = async () => {
  for (const visit of kept()) {
    const work = read(visit);
    if (!work.waits) continue;
    try {
      const answer = await fetch(work.action, { method: "POST", body: new URLSearchParams(work.fields) });
      if (dropSaved(answer.url)) say(work.title + ": what was ticked is saved.");
      else say(work.title + ": what was ticked could not be saved as it is. Open its list and save again.");
    } catch {
      say(work.title + ": kept in this browser. It is sent when there is a connection.");
    }
  }
};

dropSaved(location.href);
const form = document.querySelector("form[data-keep]");
if (form) {
  const visit = form.dataset.keep;
  const keep = waits => {
    const fields = Array.from(new FormData(form)).map(([name, value]) => [name, String(value)]);
    localStorage.setItem(place(visit), JSON.stringify({ form: form.elements.form.value, action: form.action, title: form.dataset.title, fields, waits }));
  };
  const old = read(visit);
  if (old && !("refused" in form.dataset)) {
    for (const field of form.querySelectorAll("input, select, textarea")) {
      const values = old.fields.filter(([name]) => name === field.name).map(([, value]) => value);
      if (field.type === "checkbox" || field.type === "radio") field.checked = values.includes(field.value);
      else if (values.length > 0) field.value = values[0];
    }
  }
  form.addEventListener("input", () => keep(false));
  form.addEventListener("submit", event => {
    keep(true);
    if (navigator.onLine) return;
    event.preventDefault();
    say("No connection: kept in this browser. It is sent when there is one.");
  });
}
addEventListener("online", sendAll);
if (!form) sendAll();
