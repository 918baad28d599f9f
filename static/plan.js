// Pointing at the plan without going back to the server: what is clicked, dragged or moved with
// the arrows fills the form, which is saved as any other. The page is complete without it.
"use strict";

const sheet = document.getElementById("plan-sheet");
const form = document.getElementById("fields");
const readout = document.getElementById("readout");

if (sheet && form) {
  const svg = sheet.querySelector("svg");
  const doing = form.dataset.doing;
  const step = Number(sheet.dataset.step);
  const unit = sheet.dataset.unit;
  const perUnit = unit === "in" ? 25.4 : 1;
  const MM_PER_PIXEL = 12;
  const TREMBLE = 4; // pixels that a hand moves without meaning to

  const field = (name) => form.elements.namedItem(name);
  const set = (name, value) => { const one = field(name); if (one) one.value = value; };
  const points = [...svg.querySelectorAll("a[data-point]")];
  const circles = (link) => link.querySelectorAll("circle");
  const center = (link) => {
    const circle = link.querySelector("circle");
    return { x: Number(circle.getAttribute("cx")), y: Number(circle.getAttribute("cy")) };
  };
  // As the server writes a number in a field.
  const shown = (mm) => String(Number((mm / perUnit).toPrecision(7)));

  const zones = [...svg.querySelectorAll("polygon[data-zone]")];

  // The smallest zone whose outline holds a place of the sheet: one may lie inside another.
  function zoneAt(at) {
    const place = svg.createSVGPoint();
    place.x = at.x; place.y = at.y;
    return zones.filter((zone) => zone.isPointInFill(place))
      .sort((a, b) => Number(a.dataset.area) - Number(b.dataset.area))[0];
  }

  // A place of the boat at the nearest step, with its place on the sheet.
  function placeAt(at) {
    const zone = zoneAt(at);
    if (!zone) return null;
    const left = Number(zone.dataset.x), top = Number(zone.dataset.y);
    const x = Math.round((at.x * MM_PER_PIXEL + left) / step) * step;
    const y = Math.round((at.y * MM_PER_PIXEL + top) / step) * step;
    return {
      zone, x, y,
      at: { x: (x - left) / MM_PER_PIXEL, y: (y - top) / MM_PER_PIXEL },
    };
  }

  const words = (place) => place
    ? `${place.zone.dataset.title}: ${shown(place.x)} ${unit} forward, ${shown(place.y)} ${unit} to starboard`
    : "Outside of every zone";
  const tell = (text) => { readout.textContent = text; };

  function onSheet(event) {
    const box = svg.getBoundingClientRect();
    return { x: event.clientX - box.left, y: event.clientY - box.top };
  }

  function fill(place) {
    set("x_mm", shown(place.x));
    set("y_mm", shown(place.y));
    set("zone", place.zone.dataset.zone);
  }

  let mark = svg.querySelectorAll("line.place");
  function cross(at) {
    for (const line of mark) line.remove();
    mark = [[8, 0], [0, 8]].map(([dx, dy]) => {
      const line = document.createElementNS("http://www.w3.org/2000/svg", "line");
      const ends = { x1: at.x - dx, y1: at.y - dy, x2: at.x + dx, y2: at.y + dy };
      for (const [name, value] of Object.entries(ends)) line.setAttribute(name, value);
      line.setAttribute("class", "place");
      line.setAttribute("stroke-width", "2");
      svg.append(line);
      return line;
    });
  }

  function draw(link, at) {
    for (const circle of circles(link)) {
      circle.setAttribute("cx", at.x);
      circle.setAttribute("cy", at.y);
    }
    for (const run of svg.querySelectorAll("line[data-from]")) {
      for (const [end, n] of [["from", "1"], ["to", "2"]]) {
        if (run.dataset[end] !== link.dataset.point) continue;
        for (const line of run.parentNode.querySelectorAll("line")) {
          line.setAttribute("x" + n, at.x);
          line.setAttribute("y" + n, at.y);
        }
      }
    }
  }

  // Where points were when the page came: a point that is left goes back, since only the one in
  // the form is saved.
  const homes = new Map(points.map((link) => [link, center(link)]));
  const chosen = () => points.find((link) => link.dataset.point === field("point")?.value);

  function choose(link) {
    const before = chosen();
    if (before === link && field("shown").value === link.dataset.point) return;
    if (before) draw(before, homes.get(before));
    for (const line of mark) line.remove();
    for (const other of points) {
      other.querySelector(".point").classList.toggle("lit", other === link);
      other.removeAttribute("aria-current");
    }
    link.setAttribute("aria-current", "true");
    const data = link.dataset;
    set("point", data.point);
    set("shown", data.point);
    set("x_mm", shown(Number(data.x)));
    set("y_mm", shown(Number(data.y)));
    set("z_mm", data.z === "" ? "" : shown(Number(data.z)));
    set("zone", data.zone);
    tell(`${link.getAttribute("aria-label")} chosen`);
  }

  function move(link, place) {
    draw(link, place.at);
    fill(place);
    tell(words(place));
  }

  function end(link) {
    const name = field("from").value === "" || field("to").value !== "" ? "from" : "to";
    if (name === "from") set("to", "");
    set(name, link.dataset.point);
    tell(name === "from"
      ? `From ${link.getAttribute("aria-label")}: now the other end`
      : `From ${field("from").value} to ${field("to").value}: save the run`);
    for (const other of points) {
      const id = other.dataset.point;
      const is_end = id === field("from").value || id === field("to").value;
      other.querySelector(".point").classList.toggle("lit", is_end);
    }
  }

  for (const link of points) {
    let from = null, dragged = false;
    link.addEventListener("dragstart", (event) => event.preventDefault());
    link.addEventListener("pointerdown", (event) => {
      if (doing !== "move" || event.button !== 0) return;
      from = { x: event.clientX, y: event.clientY };
      dragged = false;
      link.setPointerCapture(event.pointerId);
    });
    link.addEventListener("pointermove", (event) => {
      if (!from) return;
      const far = Math.hypot(event.clientX - from.x, event.clientY - from.y);
      if (!dragged && far < TREMBLE) return;
      if (!dragged) choose(link);
      dragged = true;
      const place = placeAt(onSheet(event));
      if (place) move(link, place); else tell(words(null));
    });
    // Let go outside of every zone, or taken away by the system: the last good place stands.
    for (const name of ["pointerup", "pointercancel"]) link.addEventListener(name, () => { from = null; });
    link.addEventListener("click", (event) => {
      event.preventDefault();
      if (dragged) { dragged = false; return; }
      if (doing === "move") choose(link); else if (doing === "run") end(link);
    });
    link.addEventListener("keydown", (event) => {
      if (doing !== "move") return;
      const ways = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
      const way = ways[event.key];
      if (way) {
        event.preventDefault();
        choose(link);
        const at = center(link);
        const to = { x: at.x + way[0] * step / MM_PER_PIXEL, y: at.y + way[1] * step / MM_PER_PIXEL };
        const place = placeAt(to);
        if (place) move(link, place); else tell("No zone there: the point stays");
      } else if (event.key === "Enter" && chosen() === link) {
        event.preventDefault();
        form.requestSubmit(form.querySelector("button.button"));
      } else if (event.key === "Escape" && chosen() === link) {
        set("shown", "");
        draw(link, homes.get(link));
        choose(link);
      }
    });
  }

  const button = sheet.querySelector("input[type=image]");
  button.addEventListener("click", (event) => {
    // By keyboard nothing is pointed at: the form is for typing then.
    event.preventDefault();
    if (event.detail === 0) { field("x_mm")?.focus(); return; }
    const at = onSheet(event);
    if (doing === "run") { tell("Choose points: a run leads from one to another"); return; }
    const link = chosen();
    if (doing === "move" && !link) { tell("Choose first the point that is to be moved"); return; }
    const place = placeAt(at);
    if (!place) { tell("Outside of every zone: nothing was taken"); return; }
    if (link) move(link, place); else { fill(place); cross(place.at); tell(words(place)); }
  });
  sheet.addEventListener("pointermove", (event) => {
    if (event.buttons === 0 && event.pointerType === "mouse" && !event.target.closest("a")) {
      readout.setAttribute("aria-live", "off");
      tell(words(placeAt(onSheet(event))));
      readout.removeAttribute("aria-live");
    }
  });
  field("point")?.addEventListener("change", () => {
    const link = chosen();
    if (link) { const id = link.dataset.point; set("shown", ""); set("point", id); choose(link); }
  });
}
