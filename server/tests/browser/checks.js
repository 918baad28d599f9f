// What axe-core does not see, asked of the page that is shown. Each function gives a list of words
// that tell where something is wrong; an empty list is a pass.
"use strict";

window.checks = (() => {
  const TARGETS = "a[href], button, input:not([type=hidden]), select, textarea, summary, [tabindex='0']";

  /** How a person finds the element in the page. */
  function place(element) {
    const id = element.id ? `#${element.id}` : "";
    const kind = element.getAttribute("class") ? `.${element.getAttribute("class").trim().replace(/\s+/g, ".")}` : "";
    const words = (element.textContent || element.value || "").trim().replace(/\s+/g, " ").slice(0, 40);
    const parent = element.parentElement ? `${element.parentElement.localName} > ` : "";
    return `${parent}${element.localName}${id}${kind} “${words}”`;
  }

  function isSeen(element) {
    return element.checkVisibility({ visibilityProperty: true, opacityProperty: true });
  }

  /** Whether something around it scrolls or cuts by itself, so that the page does not. */
  function isHeld(element) {
    for (let at = element.parentElement; at && at !== document.body; at = at.parentElement) {
      if (getComputedStyle(at).overflowX !== "visible") return true;
    }
    return false;
  }

  /** Success criterion 1.4.10: the page itself never scrolls sideways. */
  function sideways() {
    const room = document.documentElement.clientWidth;
    if (document.documentElement.scrollWidth <= room) return [];
    const out = [...document.querySelectorAll("body *")].filter(
      (element) => isSeen(element) && element.getBoundingClientRect().right > room + 1 && !isHeld(element),
    );
    const wide = document.documentElement.scrollWidth;
    return [`scrolls sideways, ${wide} of ${room} px`, ...out.slice(-3).map(place)];
  }

  let spacing;
  /** The spacing that a reader may ask for, success criterion 1.4.12. */
  function space(isOn) {
    spacing ??= new CSSStyleSheet();
    spacing.replaceSync(
      "* { line-height: 1.5 !important; letter-spacing: 0.12em !important; word-spacing: 0.16em !important; } p { margin-bottom: 2em !important; }",
    );
    document.adoptedStyleSheets = isOn ? [spacing] : [];
  }

  let laid;
  /** Lays everything beside each other: nothing scrolls by itself, nothing stays in view. */
  function flat(isOn) {
    laid ??= new CSSStyleSheet();
    laid.replaceSync(
      ".wide { overflow: visible !important; max-height: none !important; } th, td { position: static !important; } .wide, main, body { width: max-content !important; max-width: none !important; min-width: 100% !important; }",
    );
    document.adoptedStyleSheets = isOn ? [laid] : [];
  }

  function channels(color) {
    const [red, green, blue, alpha = 1] = color.match(/[\d.]+/g).map(Number);
    return { rgb: [red, green, blue], alpha };
  }

  function over(above, below, alpha) {
    return above.map((channel, at) => channel * alpha + below[at] * (1 - alpha));
  }

  /** Relative luminance as WCAG 2.2 defines it. */
  function luminance(rgb) {
    const [red, green, blue] = rgb.map((channel) => {
      const share = channel / 255;
      return share <= 0.04045 ? share / 12.92 : ((share + 0.055) / 1.055) ** 2.4;
    });
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue;
  }

  /** The color behind what stands in an element. */
  function ground(element, known) {
    if (!element) return [255, 255, 255];
    if (!known.has(element)) {
      const style = getComputedStyle(element);
      const own = channels(style.backgroundColor);
      known.set(element, own.alpha === 1 ? own.rgb : over(own.rgb, ground(element.parentElement, known), own.alpha));
    }
    return known.get(element);
  }

  function contrast(one, other) {
    const [light, dark] = [luminance(one), luminance(other)].sort((a, b) => b - a);
    return (light + 0.05) / (dark + 0.05);
  }

  /** Success criterion 1.4.11: edges of controls, and what drawings tell by lines and marks. */
  function faint() {
    const known = new Map(), faint = [];
    const check = (element, color, alpha) => {
      const behind = ground(element.parentElement, known);
      const ratio = contrast(over(color.rgb, behind, color.alpha * alpha), behind);
      if (ratio < 3) faint.push(`${place(element)} has an edge or line of contrast ${ratio.toFixed(2)}, least 3`);
    };
    for (const control of document.querySelectorAll("input:not([type=hidden], [type=checkbox], [type=radio]), select, textarea, .button")) {
      if (isSeen(control)) check(control, channels(getComputedStyle(control).borderTopColor), 1);
    }
    for (const line of document.querySelectorAll("svg :is(.run:not(.none), .limit, .curve, .conductor, .share, .meter-limit)")) {
      const style = getComputedStyle(line);
      if (style.stroke !== "none") check(line, channels(style.stroke), Number(style.opacity));
    }
    for (const mark of document.querySelectorAll("svg :is(.mark, .dot, .bar, .meter-value)")) {
      check(mark, channels(getComputedStyle(mark).fill), 1);
    }
    return faint;
  }

  /** Success criterion 1.4.3 for every text, what stands in fields, single letters and drawings too. */
  function pale() {
    const known = new Map(), pale = [];
    const check = (element, ink) => {
      const behind = ground(element, known);
      let alpha = ink.alpha;
      for (let at = element; at; at = at.parentElement) alpha *= Number(getComputedStyle(at).opacity);
      const ratio = contrast(over(ink.rgb, behind, alpha), behind);
      if (ratio < 4.5) pale.push(`${place(element)} has a contrast of ${ratio.toFixed(2)}, least 4.5`);
    };
    const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    while (walk.nextNode()) {
      const element = walk.currentNode.parentElement;
      if (!walk.currentNode.data.trim() || element.closest(".unseen, .skip, title, desc, script, datalist") || !isSeen(element)) continue;
      const style = getComputedStyle(element);
      check(element, channels(element.closest("svg") ? style.fill : style.color));
    }
    for (const field of document.querySelectorAll("input:not([type=hidden], [type=checkbox], [type=radio])")) {
      if (isSeen(field)) check(field, channels(getComputedStyle(field).color));
    }
    return pale;
  }

  /** Text that is cut off where nobody can scroll to it. */
  function lost() {
    const cut = [...document.querySelectorAll("body *")].filter((element) => {
      if (element.closest("svg, .unseen") || !element.clientWidth || !isSeen(element)) return false;
      if (element.matches("input, select, textarea")) return false;
      const style = getComputedStyle(element);
      const hides = (overflow) => overflow === "hidden" || overflow === "clip";
      return (hides(style.overflowX) && element.scrollWidth > element.clientWidth + 1)
        || (hides(style.overflowY) && element.scrollHeight > element.clientHeight + 1);
    });
    return cut.map(place);
  }

  /** Whether the target stands in a line of text, whose height it keeps. */
  function isInText(element) {
    if (element.closest("svg")) return true;
    if (getComputedStyle(element).display !== "inline") return false;
    const line = element.closest("p, li, td, th, dd, dt, caption, figcaption, output");
    return Boolean(line) && line.textContent.trim().length > element.textContent.trim().length;
  }

  /** Success criterion 2.5.8 without its way out by spacing: no target is smaller than this. */
  function targets(least) {
    const small = [];
    for (const element of document.querySelectorAll(TARGETS)) {
      if (!isSeen(element) || isInText(element) || element.matches(".skip")) continue;
      let { width, height } = element.getBoundingClientRect();
      if (element.matches("[type=checkbox], [type=radio]")) {
        for (const label of element.labels) {
          const of = label.getBoundingClientRect();
          width = Math.max(width, of.width);
          height = Math.max(height, of.height);
        }
      }
      if (Math.min(width, height) < least - 0.5) {
        small.push(`${place(element)} is ${Math.round(width)} × ${Math.round(height)} px, least ${least}`);
      }
    }
    return small;
  }

  /** What of its look may change with the focus. */
  function look(element) {
    return [element, ...element.querySelectorAll("*")].slice(0, 4).map((each) => {
      const style = getComputedStyle(each);
      const outline = style.outlineStyle === "none" ? "none" : style.outlineWidth + style.outlineColor;
      return [outline, style.stroke, style.strokeWidth, style.boxShadow].join();
    }).join(";");
  }

  /** Whether a part of it can be seen: nothing sticky lies over all of it. */
  function isUncovered(element) {
    const clip = { left: 0, top: 0, right: innerWidth, bottom: innerHeight };
    for (const box of element.getClientRects()) {
      const left = Math.max(box.left, clip.left), right = Math.min(box.right, clip.right);
      const top = Math.max(box.top, clip.top), bottom = Math.min(box.bottom, clip.bottom);
      if (left >= right || top >= bottom) continue;
      for (const [x, y] of [[0.5, 0.5], [0.1, 0.5], [0.9, 0.5], [0.5, 0.1], [0.5, 0.9]]) {
        const hit = document.elementFromPoint(left + (right - left) * x, top + (bottom - top) * y);
        if (hit && (element.contains(hit) || hit.contains(element) && hit.localName !== "body" && hit.localName !== "html")) return true;
      }
    }
    return [...element.getClientRects()].length > 0 && element.matches("svg a");
  }

  /** What is wrong with the element that has the focus: success criteria 2.4.7 and 2.4.11. */
  function focused(element, before) {
    const wrong = [];
    if (before !== undefined && look(element) === before) wrong.push(`${place(element)} looks the same with the focus`);
    if (!element.matches(":focus-visible")) wrong.push(`${place(element)} does not show that it has the focus`);
    if (!isUncovered(element)) wrong.push(`${place(element)} is covered when it has the focus`);
    return wrong;
  }

  /** Gives the focus to each target after the other. */
  function focus() {
    const wrong = [];
    for (const element of document.querySelectorAll(TARGETS)) {
      if (!isSeen(element) || element.disabled || element.tabIndex < 0) continue;
      const before = look(element);
      element.focus({ focusVisible: true });
      if (document.activeElement !== element) wrong.push(`${place(element)} takes no focus`);
      else wrong.push(...focused(element, before));
      element.blur();
    }
    scrollTo(0, 0);
    return wrong;
  }

  function openAll() {
    for (const details of document.querySelectorAll("details")) details.open = true;
  }

  return { place, sideways, space, flat, pale, faint, lost, targets, look, focused, focus, openAll };
})();
