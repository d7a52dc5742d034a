"use strict";
(function () {
  const SVG = "http://www.w3.org/2000/svg";
  const STACK = 12; // curves in the stacked view; more are too low to read
  const ROW = 124; // least height of a stacked curve: lines of one proton are seen beside those of nine
  const STEPS = [0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10];
  const traces = new Map();

  /* Reads a spectrum: base64, seven bits a byte, zigzag differences of whole steps. */
  function trace(index) {
    if (!traces.has(index)) {
      const t = JSON.parse(document.getElementById("t" + index).textContent);
      const bytes = atob(t.data);
      const y = new Float64Array(t.points);
      let sum = 0, part = 0, weight = 1, at = 0;
      for (let i = 0; i < bytes.length; i += 1) {
        const b = bytes.charCodeAt(i);
        part += (b & 127) * weight;
        weight *= 128;
        if (b < 128) {
          sum += part % 2 ? -(part + 1) / 2 : part / 2;
          y[at] = sum * t.unit;
          at += 1;
          part = 0;
          weight = 1;
        }
      }
      t.y = y;
      t.index = index;
      traces.set(index, t);
    }
    return traces.get(index);
  }

  function make(parent, name, attributes, text) {
    const node = document.createElementNS(SVG, name);
    for (const key in attributes) { node.setAttribute(key, attributes[key]); }
    if (text !== undefined) { node.textContent = text; }
    parent.appendChild(node);
    return node;
  }

  /* One chart of one or several spectra on a common shift axis. */
  class Chart {
    constructor(box, indices) {
      this.box = box;
      this.taller = 1;
      this.width = 1000;
      box.hidden = false;
      const bar = document.createElement("div");
      bar.className = "bar";
      this.says = document.createElement("span");
      this.says.className = "says";
      this.says.setAttribute("aria-live", "polite");
      const acts = [
        ["Zoom in", () => this.zoom(0.5)], ["Zoom out", () => this.zoom(2)],
        ["Left", () => this.pan(0.3)], ["Right", () => this.pan(-0.3)],
        ["Taller", () => this.grow(2)], ["Lower", () => this.grow(0.5)],
        ["Whole", () => this.whole()],
      ];
      for (const [word, act] of acts) {
        const button = document.createElement("button");
        button.type = "button";
        button.textContent = word;
        button.addEventListener("click", act);
        bar.appendChild(button);
      }
      bar.appendChild(this.says);
      box.appendChild(bar);
      this.svg = make(box, "svg", { tabindex: "0", role: "application" });
      this.svg.setAttribute("aria-label", "Spectrum. Arrow left and right move, arrow up and down change the " +
        "height, plus and minus zoom, 0 shows the whole, N and P go to the next and previous signal.");
      this.show(indices);
      this.listen();
      new ResizeObserver(() => this.draw()).observe(box);
    }

    show(indices) {
      this.traces = indices.map(trace);
      this.one = this.traces.length === 1;
      this.whole();
    }

    whole() {
      this.taller = 1;
      this.top = Math.max(...this.traces.map((t) => t.high));
      this.foot = Math.min(...this.traces.map((t) => t.low));
      this.set(this.top, this.foot);
    }

    set(high, low) {
      if (high - low < 0.004) { const mid = (high + low) / 2; high = mid + 0.002; low = mid - 0.002; }
      const first = Math.max(...this.traces.map((t) => t.first));
      const last = Math.min(...this.traces.map((t) => t.first + t.step * (t.points - 1)));
      const span = Math.min(high - low, first - last);
      this.high = Math.min(Math.max(high, last + span), first);
      this.low = this.high - span;
      this.box.dataset.high = this.high.toFixed(4);
      this.box.dataset.low = this.low.toFixed(4);
      this.draw();
    }

    zoom(factor, at) {
      const mid = at === undefined ? (this.high + this.low) / 2 : at;
      this.set(mid + (this.high - mid) * factor, mid - (mid - this.low) * factor);
    }

    pan(share) {
      const by = (this.high - this.low) * share;
      this.set(this.high + by, this.low + by);
    }

    grow(factor) {
      this.taller = Math.min(Math.max(this.taller * factor, 0.25), 65536);
      this.draw();
    }

    go(ppm) {
      this.set(ppm + 0.15, ppm - 0.15);
      const t = this.traces[0];
      const mark = t.marks.find((m) => Math.abs(m.ppm - ppm) < 0.001);
      const peak = this.highest(t, ppm + 0.02, ppm - 0.02);
      if (peak > 0) { this.taller = Math.min(Math.max(0.7 * t.full / peak, 0.25), 65536); }
      this.draw();
      this.light(mark ? mark.row : null, mark);
    }

    highest(t, high, low) {
      let best = 0;
      for (let i = this.at(t, high); i <= this.at(t, low); i += 1) { best = Math.max(best, t.y[i]); }
      return best;
    }

    at(t, ppm) {
      return Math.min(Math.max(Math.round((ppm - t.first) / t.step), 0), t.points - 1);
    }

    x(ppm) { return (this.high - ppm) / (this.high - this.low) * this.width; }
    ppm(x) { return this.high - x / this.width * (this.high - this.low); }

    draw() {
      this.width = Math.max(this.box.clientWidth - 2, 300);
      const band = this.one ? 330 : Math.max(ROW, Math.min(160, 560 / this.traces.length));
      const height = band * this.traces.length + 52;
      const svg = this.svg;
      svg.setAttribute("viewBox", `0 0 ${this.width} ${height}`);
      svg.setAttribute("height", height);
      svg.replaceChildren();
      this.axis(height - 48);
      this.traces.forEach((t, k) => this.curve(t, band * k, band));
    }

    axis(y) {
      const span = this.high - this.low;
      const step = STEPS.find((s) => span / s <= this.width / 70) || 20;
      const places = Math.max(0, Math.ceil(-Math.log10(step) - 1e-9));
      make(this.svg, "path", { class: "axis", d: `M0 ${y}H${this.width}` });
      for (let k = Math.ceil(this.low / step); k <= this.high / step; k += 1) {
        const x = this.x(k * step);
        make(this.svg, "path", { class: "axis", d: `M${x} ${y}v6` });
        if (x > 16 && x < this.width - 16) {
          const word = (k * step).toFixed(places).replace("-", "\u2212");
          make(this.svg, "text", { x, y: y + 21, "text-anchor": "middle" }, word);
        }
      }
      make(this.svg, "text", { x: this.width / 2, y: y + 41, "text-anchor": "middle" }, "\u03b4(\u00b9H) / ppm");
    }

    /* Lowest and highest point of every pixel column, so that no line is lost. */
    curve(t, top, band) {
      const base = top + band - 16, rise = band - 40;
      const y = (v) => base - Math.min(Math.max(v * this.taller / t.full, -0.03), 1.06) * rise;
      this.marks(t, top, base, y);
      const start = Math.max(0, Math.floor((this.high - t.first) / t.step));
      const end = Math.min(t.points - 1, Math.ceil((this.low - t.first) / t.step));
      const columns = Math.ceil(this.width);
      let d = "";
      if (end - start <= 2 * columns) {
        for (let i = start; i <= end; i += 1) { d += `${d ? "L" : "M"}${this.x(t.first + t.step * i).toFixed(1)} ${y(t.y[i]).toFixed(1)}`; }
      } else {
        for (let c = 0; c < columns; c += 1) {
          const from = start + Math.floor((end - start) * c / columns);
          const to = start + Math.floor((end - start) * (c + 1) / columns);
          let low = from, high = from;
          for (let i = from; i <= to; i += 1) {
            if (t.y[i] < t.y[low]) { low = i; }
            if (t.y[i] > t.y[high]) { high = i; }
          }
          for (const i of low < high ? [low, high] : [high, low]) {
            d += `${d ? "L" : "M"}${this.x(t.first + t.step * i).toFixed(1)} ${y(t.y[i]).toFixed(1)}`;
          }
        }
      }
      make(this.svg, "path", { class: "curve", d });
      if (!this.one) { make(this.svg, "text", { x: 8, y: top + 16 }, `${t.name}: ${t.verdict}`); }
    }

    marks(t, top, base, y) {
      for (const mark of t.marks) {
        if (mark.high < this.low || mark.low > this.high) { continue; }
        const left = Math.max(this.x(mark.high), 0), right = Math.min(this.x(mark.low), this.width);
        const group = make(this.svg, "g", { class: mark.kind, "data-row": mark.row });
        if (mark.row === this.lit && this.one) { group.classList.add("lit"); }
        make(group, "rect", { class: "band", x: left - 3, y: top, width: right - left + 6, height: base - top + 12 });
        if (mark.kind === "product") {
          make(group, "path", { class: "tip", d: `M${left - 1} ${base + 8}H${right + 1}` });
        } else {
          const peak = this.highest(t, mark.high, mark.low);
          this.tip(group, mark.kind, Math.min(Math.max(this.x(mark.ppm), 5), this.width - 5), Math.max(y(peak) - 9, top + 26));
        }
      }
    }

    tip(group, kind, x, y) {
      const shapes = {
        volatile: `M${x - 5} ${y - 5}h10l-5 9z`,
        unexplained: `M${x} ${y - 6}l5 5l-5 5l-5 -5z`,
        aside: `M${x - 4} ${y - 1}a4 4 0 1 0 8 0a4 4 0 1 0 -8 0z`,
      };
      make(group, "path", { class: "tip", d: shapes[kind] });
    }

    /* Row and signal light up together. */
    light(row, mark) {
      this.lit = row;
      for (const g of this.svg.querySelectorAll("g")) {
        g.classList.toggle("lit", row !== null && g.dataset.row === row);
      }
      const sheet = this.box.closest("article");
      if (sheet) {
        for (const tr of sheet.querySelectorAll("tr[data-row]")) { tr.classList.toggle("lit", tr.dataset.row === row); }
      }
      const label = mark ? mark.label : "";
      if (this.says.textContent !== label) { this.says.textContent = label; }
    }

    under(event) {
      const box = this.svg.getBoundingClientRect();
      const ppm = this.ppm((event.clientX - box.left) / box.width * this.width);
      const reach = 6 / this.width * (this.high - this.low);
      const near = this.traces[0].marks.filter((m) => ppm <= m.high + reach && ppm >= m.low - reach);
      near.sort((a, b) => Math.abs(a.ppm - ppm) - Math.abs(b.ppm - ppm));
      return { ppm, mark: this.one ? near[0] : undefined };
    }

    step(by) {
      const places = this.traces[0].marks.filter((m) => m.kind !== "product").sort((a, b) => b.ppm - a.ppm);
      if (!places.length) { return; }
      this.place = ((this.place === undefined ? (by > 0 ? -1 : 0) : this.place) + by + places.length) % places.length;
      this.go(places[this.place].ppm);
    }

    key(event) {
      const acts = {
        ArrowLeft: () => this.pan(0.15), ArrowRight: () => this.pan(-0.15),
        ArrowUp: () => this.grow(1.5), ArrowDown: () => this.grow(1 / 1.5),
        "+": () => this.zoom(0.6), "=": () => this.zoom(0.6), "-": () => this.zoom(1 / 0.6),
        0: () => this.whole(), Home: () => this.whole(), n: () => this.step(1), p: () => this.step(-1),
      };
      const act = acts[event.key];
      if (!act || event.ctrlKey || event.metaKey || event.altKey) { return; }
      event.preventDefault();
      act();
    }

    listen() {
      const svg = this.svg;
      let from = null;
      svg.addEventListener("keydown", (event) => this.key(event));
      svg.addEventListener("wheel", (event) => {
        // The page scrolls as usual until the chart has the focus.
        if (document.activeElement !== svg) { return; }
        event.preventDefault();
        if (event.shiftKey) { this.grow(event.deltaY < 0 ? 1.25 : 0.8); return; }
        this.zoom(event.deltaY < 0 ? 0.8 : 1.25, this.under(event).ppm);
      }, { passive: false });
      svg.addEventListener("dblclick", (event) => this.zoom(0.4, this.under(event).ppm));
      svg.addEventListener("pointerdown", (event) => {
        from = { x: event.clientX, high: this.high, low: this.low };
        svg.setPointerCapture(event.pointerId);
      });
      svg.addEventListener("pointerup", () => { from = null; });
      svg.addEventListener("pointercancel", () => { from = null; });
      svg.addEventListener("pointermove", (event) => {
        if (from) {
          const by = (event.clientX - from.x) / svg.getBoundingClientRect().width * (from.high - from.low);
          this.set(from.high + by, from.low + by);
          return;
        }
        const { ppm, mark } = this.under(event);
        this.light(mark ? mark.row : null, mark || { label: `${ppm.toFixed(3)} ppm` });
      });
      svg.addEventListener("pointerleave", () => this.light(null));
    }
  }

  /* One article: its chart, and the rows and buttons that point into it. */
  function open(article) {
    const box = article.querySelector(".live");
    if (!box.chart) { box.chart = new Chart(box, [Number(article.dataset.index)]); }
    return box.chart;
  }

  function wire(article) {
    for (const row of article.querySelectorAll("tr[data-row]")) {
      const mark = () => open(article).traces[0].marks.find((m) => m.row === row.dataset.row);
      row.addEventListener("pointerenter", () => open(article).light(row.dataset.row, mark()));
      row.addEventListener("pointerleave", () => open(article).light(null));
      row.addEventListener("focusin", () => open(article).light(row.dataset.row, mark()));
    }
    for (const button of article.querySelectorAll("button.place")) {
      button.addEventListener("click", () => {
        const chart = open(article);
        chart.go(Number(button.dataset.ppm));
        chart.box.scrollIntoView({ block: "nearest" });
      });
    }
  }

  function overview(articles) {
    const table = document.getElementById("all");
    const body = table.tBodies[0];
    const find = document.getElementById("find"), only = document.getElementById("only");
    const box = document.querySelector(".live.stack");
    let chart = null, near = false;

    // The stacked curves are read when they come into sight: the table is there at once.
    new IntersectionObserver((seen) => {
      if (!near && seen.some((s) => s.isIntersecting)) { near = true; stack(); }
    }, { rootMargin: "200px" }).observe(box.parentElement);

    function shown() { return [...body.rows].filter((row) => !row.hidden); }

    function stack() {
      const indices = shown().slice(0, STACK).map((row) => Number(row.dataset.index));
      box.parentElement.hidden = indices.length === 0;
      if (!indices.length || !near) { return; }
      if (chart) { chart.show(indices); } else { chart = new Chart(box, indices); }
    }

    function filter() {
      const words = find.value.toLowerCase();
      for (const row of body.rows) {
        const fits = row.textContent.toLowerCase().includes(words);
        row.hidden = !fits || (only.value !== "" && row.dataset.verdict !== only.value);
      }
      document.getElementById("shown").value = `${shown().length} of ${body.rows.length} shown`;
      stack();
    }

    function sort(th, kind) {
      const column = th.cellIndex;
      const down = th.getAttribute("aria-sort") === "ascending";
      for (const other of th.parentElement.cells) {
        if (other.hasAttribute("aria-sort")) { other.setAttribute("aria-sort", "none"); }
      }
      th.setAttribute("aria-sort", down ? "descending" : "ascending");
      const key = (row) => row.cells[column].dataset.key;
      const order = (a, b) => {
        if (kind === "number") {
          // What is not known stays at the end, whichever way.
          if (a === "" || b === "") { return (a === "") - (b === ""); }
          return down ? b - a : a - b;
        }
        return down ? b.localeCompare(a) : a.localeCompare(b);
      };
      body.append(...[...body.rows].sort((a, b) => order(key(a), key(b))));
      stack();
    }

    for (const button of table.tHead.querySelectorAll("button")) {
      button.addEventListener("click", () => sort(button.closest("th"), button.dataset.sort));
    }
    find.addEventListener("input", filter);
    only.addEventListener("change", filter);
    find.form.addEventListener("submit", (event) => event.preventDefault());

    function pick() {
      for (const article of articles) {
        const here = "#" + article.id === location.hash;
        article.classList.toggle("open", here);
        if (here) { open(article); article.scrollIntoView(); }
      }
    }
    window.addEventListener("hashchange", pick);
    filter();
    pick();
  }

  const articles = [...document.querySelectorAll("article")];
  articles.forEach(wire);
  if (document.getElementById("all")) { overview(articles); } else { articles.forEach(open); }
})();
