"use strict";
// Lets a lap be brought forward and read along the corner. The page is complete without it.
(() => {
  const SVG = "http://www.w3.org/2000/svg";

  function made(name, properties) {
    return Object.assign(document.createElement(name), properties);
  }

  function words(data, lap, i) {
    const steps = lap.r.length - 1;
    const at = Math.round(data.from + ((data.to - data.from) * i) / steps);
    const where = at < 0 ? `${-at} ${data.length} before turn-in` : `${at} ${data.length} after turn-in`;
    if (lap.r[i] === null) return `${where}: not logged.`;
    const bend = lap.r[i] >= 999 ? "nearly straight" : `radius ${lap.r[i]} ${data.length}`;
    const other = data.turn === "left" ? "right" : "left";
    const lean = `lean ${Math.abs(lap.a[i])}° to the ${lap.a[i] < 0 ? other : data.turn}`;
    const parts = [bend, `${lap.v[i]} ${data.speed}`, lean];
    if (lap.w[i] !== null) {
      const side = lap.w[i] < 0 ? "inside" : "wide of";
      parts.push(`${Math.abs(lap.w[i]).toFixed(1)} ${data.length} ${side} the marker line`);
    }
    return `${where}: ${parts.join(", ")}.`;
  }

  function bringForward(svg, data, chosen) {
    svg.querySelectorAll(".chosen").forEach((e) => e.remove());
    const asDrawn = chosen < 0 || chosen === data.spoken;
    svg.classList.toggle("picked", !asDrawn);
    if (asDrawn) return;
    const paths = [...svg.querySelectorAll(".laps path")];
    for (let i = chosen; i < paths.length; i += data.laps.length) {
      const copy = paths[i].cloneNode();
      copy.setAttribute("class", "chosen");
      svg.append(copy);
    }
  }

  function showPlace(svg, share, data, chosen) {
    svg.querySelectorAll(".place").forEach((e) => e.remove());
    if (chosen < 0) return;
    const along = svg.parentNode.classList.contains("plan");
    const mark = document.createElementNS(SVG, along ? "circle" : "line");
    if (along) {
      const path = svg.querySelectorAll(".laps path")[chosen];
      if (!path) return;
      const point = path.getPointAtLength(share * path.getTotalLength());
      for (const [k, v] of Object.entries({ cx: point.x, cy: point.y, r: 6 })) mark.setAttribute(k, v);
    } else {
      const x = data.left + share * (data.right - data.left);
      const size = svg.viewBox.baseVal;
      for (const [k, v] of Object.entries({ x1: x, x2: x, y1: 40, y2: size.height - 26 })) mark.setAttribute(k, v);
    }
    mark.setAttribute("class", "place");
    svg.append(mark);
  }

  function tapped(svg, event) {
    const near = [0, -4, 4, -8, 8, -12, 12];
    for (const dy of near) {
      for (const dx of near) {
        const hit = document.elementFromPoint(event.clientX + dx, event.clientY + dy);
        const path = hit && hit.closest(".laps path");
        if (path && svg.contains(path)) return [...svg.querySelectorAll(".laps path")].indexOf(path);
      }
    }
    return -1;
  }

  function reader(section, data) {
    const named = section.querySelector("h2 bdi").textContent;
    const box = made("div", { className: "reader", role: "group", ariaLabel: `One lap through ${named}` });
    const lap = made("select", {});
    data.laps.forEach((l, i) => lap.append(made("option", { value: i, textContent: `run ${l.run}, lap ${l.lap}` })));
    if (data.spoken === null) lap.prepend(made("option", { value: -1, textContent: "none" }));
    lap.value = data.spoken === null ? -1 : data.spoken;
    const hint = "Tap a lap or choose one, then drag along the corner.";
    const place = made("input", { type: "range", min: 0, max: data.laps[0].r.length - 1, value: 0, ariaValueText: hint });
    // Whoever listens hears the place itself told in these words; told here as well, every step would be heard twice.
    const said = made("output", { textContent: hint, ariaLive: "off" });
    for (const [name, control] of [["Lap", lap], ["Place", place]]) {
      const label = made("label", { textContent: name });
      label.append(control);
      box.append(label);
    }
    const done = made("button", { type: "button", textContent: "Done" });
    box.append(done, said);
    section.querySelector(".pictures").after(box);
    const drawings = section.querySelectorAll(".pictures figure > svg");

    function show() {
      const chosen = Number(lap.value);
      box.classList.add("on");
      drawings.forEach((svg) => {
        bringForward(svg, data, chosen);
        showPlace(svg, place.value / place.max, data, chosen);
      });
      said.textContent = chosen < 0 ? "" : words(data, data.laps[chosen], Number(place.value));
      place.ariaValueText = said.textContent || "no lap";
    }

    done.addEventListener("click", () => {
      lap.value = data.spoken === null ? -1 : data.spoken;
      place.value = 0;
      drawings.forEach((svg) => {
        bringForward(svg, data, -1);
        showPlace(svg, 0, data, -1);
      });
      said.textContent = hint;
      place.ariaValueText = hint;
      box.classList.remove("on");
      lap.focus({ preventScroll: true });
    });
    lap.addEventListener("change", show);
    place.addEventListener("input", show);
    drawings.forEach((svg) => {
      svg.addEventListener("click", (event) => {
        const path = tapped(svg, event);
        if (path < 0) return;
        lap.value = path % data.laps.length;
        show();
      });
      if (svg.parentNode.classList.contains("plan")) return;
      const drag = (event) => {
        if (event.type === "pointermove" && !event.buttons) return;
        const box = svg.getBoundingClientRect();
        const x = ((event.clientX - box.left) / box.width) * svg.viewBox.baseVal.width;
        const share = Math.min(1, Math.max(0, (x - data.left) / (data.right - data.left)));
        place.value = Math.round(share * place.max);
        show();
      };
      svg.addEventListener("pointerdown", drag);
      svg.addEventListener("pointermove", drag);
    });
  }

  for (const section of document.querySelectorAll("section.corner")) {
    const block = section.querySelector("script[type='application/json']");
    if (block) reader(section, JSON.parse(block.textContent));
  }
})();
