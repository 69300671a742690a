// A permission holds for the minute it was made in. After ten minutes without the server it covers
// itself; coming back to the page loads it again.
(function () {
  "use strict";
  const made = performance.now();
  const heldMs = 10 * 60 * 1000;
  const parts = document.querySelectorAll("[data-permission]");
  if (!parts.length) return;
  let wallMade = Date.now();
  function cover() {
    // A telephone that slept counts no time of its own: its wall clock does.
    const passed = Math.max(performance.now() - made, Date.now() - wallMade);
    if (passed < heldMs && Date.now() >= wallMade) return;
    parts.forEach(function (part) {
      part.querySelectorAll(":scope > :not(.until)").forEach(function (line) { line.hidden = true; });
    });
  }
  window.setInterval(cover, 5000);
  document.addEventListener("visibilitychange", function () {
    if (document.visibilityState !== "visible") return;
    cover();
    if (performance.now() - made > 60 * 1000 && navigator.onLine) window.location.reload();
  });
  window.addEventListener("pageshow", function (event) {
    if (event.persisted) window.location.reload();
  });
})();
