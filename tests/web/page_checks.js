// What a checker of markup cannot see: read from the page as it was laid out.
(function () {
  "use strict";
  const shown = function (element) {
    if (element.closest("[inert]")) return false;
    const box = element.getBoundingClientRect();
    return box.width > 0 && box.height > 0 && element.checkVisibility({ visibilityProperty: true });
  };
  const name = function (element) {
    return element.tagName.toLowerCase() + " " + (element.getAttribute("href") || element.getAttribute("name") || "")
      + " " + (element.textContent || element.value || "").trim().slice(0, 40);
  };
  const stands_in_text = function (element) {
    // A link inside a sentence is as high as its line.
    if (getComputedStyle(element).display !== "inline") return false;
    const around = element.parentElement.textContent.trim();
    return around.length > element.textContent.trim().length + 3;
  };
  const target = function (element) {
    return element.closest("label") || element;
  };
  window.pageChecks = {
    small: function (least) {
      const found = [];
      document.querySelectorAll("a[href], button, input:not([type=hidden]), select, textarea, summary").forEach(function (element) {
        if (!shown(element) || element.closest(".skip") || stands_in_text(element)) return;
        const box = target(element).getBoundingClientRect();
        if (box.height < least - 0.5 || box.width < least - 0.5) {
          found.push(name(element) + " " + Math.round(box.width) + "x" + Math.round(box.height));
        }
      });
      return found;
    },
    wide: function () {
      const width = document.documentElement.clientWidth;
      if (document.scrollingElement.scrollWidth <= width) return [];
      const found = [];
      document.querySelectorAll("body *").forEach(function (element) {
        if (element.closest(".wide") && !element.matches(".wide")) return;
        if (shown(element) && element.getBoundingClientRect().right > width + 1) found.push(name(element));
      });
      return ["page " + document.scrollingElement.scrollWidth + " > " + width].concat(found.slice(0, 4));
    },
    clipped: function () {
      const found = [];
      document.querySelectorAll("body *").forEach(function (element) {
        const style = getComputedStyle(element);
        if (!shown(element) || element.closest("svg") || element.matches("input, select, textarea, .wide")) return;
        const cut = style.overflowX === "hidden" || style.overflowY === "hidden" || style.textOverflow === "ellipsis";
        if (cut && (element.scrollWidth > element.clientWidth + 1 || element.scrollHeight > element.clientHeight + 1)) {
          found.push(name(element));
        }
      });
      return found;
    },
    space: function () {
      // WCAG 2.2, 1.4.12.
      document.querySelectorAll("body, body *").forEach(function (element) {
        if (element.closest("svg")) return;
        element.style.setProperty("line-height", "1.5", "important");
        element.style.setProperty("letter-spacing", "0.12em", "important");
        element.style.setProperty("word-spacing", "0.16em", "important");
        if (element.matches("p")) element.style.setProperty("margin-bottom", "2em", "important");
      });
    },
    enlarge: function () {
      const root = document.documentElement;
      root.style.fontSize = 2 * parseFloat(getComputedStyle(root).fontSize) + "px";
    },
    tabbable: function () {
      const found = new Set();
      document.querySelectorAll("a[href], button, input:not([type=hidden]), select, textarea, summary, [tabindex='0']").forEach(function (element) {
        if (element.disabled || element.closest("[inert]")) return;
        if (!shown(element) && !element.matches(".skip")) return;
        // A group of choices is one stop of the tab key.
        found.add(element.type === "radio" ? "radio " + element.name : element);
      });
      return found.size;
    },
    focused: function () {
      const element = document.activeElement;
      if (!element || element === document.body) return null;
      const style = getComputedStyle(element);
      const box = element.getBoundingClientRect();
      const marked = (style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2) || style.boxShadow !== "none";
      const x = Math.min(Math.max(box.left + box.width / 2, 0), window.innerWidth - 1);
      const y = Math.min(Math.max(box.top + Math.min(box.height, window.innerHeight) / 2, 0), window.innerHeight - 1);
      const top = document.elementFromPoint(x, y);
      const seen = box.bottom > 0 && box.top < window.innerHeight && box.right > 0 && box.left < window.innerWidth;
      const free = top === element || element.contains(top) || (top && top.contains(element));
      return {
        name: name(element), marked: marked, seen: seen && Boolean(free),
        key: element.type === "radio" ? "radio " + element.name : element.tagName + " " + Math.round(box.top + window.scrollY) + " " + Math.round(box.left)
      };
    },
    shifts: function () {
      return new Promise(function (done) {
        let sum = 0;
        const watch = new PerformanceObserver(function (list) {
          list.getEntries().forEach(function (entry) { if (!entry.hadRecentInput) sum += entry.value; });
        });
        watch.observe({ type: "layout-shift", buffered: true });
        requestAnimationFrame(function () { setTimeout(function () { watch.disconnect(); done(sum); }, 0); });
      });
    }
  };
})();
