// What a page of Work or Check does without is left out here: the reading's field has the cursor, and a number that
// lies out of bounds is not sent twice by a double tap.
"use strict";
(() => {
  const field = document.querySelector("#value");
  if (field && window.matchMedia("(pointer: fine)").matches) {
    field.focus();
  }
  for (const form of document.querySelectorAll("form[method=post]")) {
    form.addEventListener("submit", (event) => {
      if (form.dataset.sent) {
        event.preventDefault();
        return;
      }
      form.dataset.sent = "yes";
      form.setAttribute("aria-busy", "true");
    });
  }
  // A page that comes back from the browser's memory may be sent again.
  window.addEventListener("pageshow", () => {
    for (const form of document.querySelectorAll("form[data-sent]")) {
      delete form.dataset.sent;
      form.removeAttribute("aria-busy");
    }
  });
})();
