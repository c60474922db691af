// A button beside an address copies it, where the browser lets a page do so.
document.querySelectorAll("button[data-copy]").forEach(function (button) {
  if (!navigator.clipboard) return;
  button.hidden = false;
  button.addEventListener("click", function () {
    navigator.clipboard.writeText(button.dataset.copy).then(function () { button.textContent = "Copied"; });
  });
});

// The arrow keys move between the rows of a log: from a link or button of one
// row to the like one of the next. Nothing depends on it; Tab goes everywhere.
document.addEventListener("keydown", function (event) {
  if (event.key !== "ArrowDown" && event.key !== "ArrowUp") return;
  const here = document.activeElement.closest(".log > li");
  if (!here || document.activeElement.matches("input, select, textarea")) return;
  const rows = Array.from(document.querySelectorAll("main .log > li"));
  const next = rows[rows.indexOf(here) + (event.key === "ArrowDown" ? 1 : -1)];
  if (!next) return;
  const stops = row => Array.from(row.querySelectorAll("a, button, summary"));
  const to = stops(next)[stops(here).indexOf(document.activeElement)] || stops(next)[0];
  if (!to) return;
  event.preventDefault();
  to.focus();
});
