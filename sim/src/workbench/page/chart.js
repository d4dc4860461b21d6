// Draws lines over an axis, as SVG whose nodes are made once and then only moved.
//
// Asked by everything that shows a curve; `scale` does the sums. A chart is as wide as its place on
// the page and is drawn anew when that changes.

import { draw, say, set } from "./elements.js";
import { path, ticks, to_place } from "./scale.js";

const LABEL_GAP = 13;

/** Nodes that are used again from drawing to drawing; those not needed are hidden. */
class Pool {
  #parent;
  #tag;
  #nodes = [];
  #used = 0;

  constructor(parent, tag) {
    this.#parent = parent;
    this.#tag = tag;
  }

  begin() {
    this.#used = 0;
  }

  take(attributes, text) {
    let node = this.#nodes[this.#used];
    if (!node) {
      node = draw(this.#tag);
      this.#nodes.push(node);
      this.#parent.append(node);
    }
    this.#used += 1;
    for (const [name, value] of Object.entries(attributes)) set(node, name, value);
    set(node, "display", null);
    if (text !== undefined) say(node, text);
    return node;
  }

  end() {
    for (let i = this.#used; i < this.#nodes.length; i += 1) set(this.#nodes[i], "display", "none");
  }
}

/** A picture of lines. `series` are `{ id, look, test }`; `look` is a class of the style sheet. */
export class Chart {
  #host;
  #options;
  #lines = new Map();
  #picture = null;
  #width = 0;

  constructor(host, options) {
    this.#host = host;
    this.#options = { height: 120, margin: [8, 8, 22, 38], x_count: 6, y_count: 4, role: "img", ...options };
    this.svg = draw("svg", { role: this.#options.role, class: "chart", "data-test": this.#options.test });
    host.append(this.svg);
    const group = (look) => {
      const node = draw("g", { class: look });
      this.svg.append(node);
      return node;
    };
    const [below, marks] = [group("grid"), group("marks")];
    this.pools = {
      grid: new Pool(below, "line"),
      numbers: new Pool(below, "text"),
      bands: new Pool(marks, "rect"),
      bounds: new Pool(marks, "line"),
    };
    const lines = group("lines");
    for (const one of this.#options.series) {
      const node = draw("path", { class: `line ${one.look}`, "data-test": one.test });
      lines.append(node);
      this.#lines.set(one.id, node);
    }
    this.pools.labels = new Pool(group("labels"), "text");
    this.front = group("front");
    new ResizeObserver((entries) => this.#fit(Math.round(entries.at(-1).contentRect.width))).observe(host);
  }

  #fit(width) {
    if (width <= 0 || width === this.#width) return;
    this.#width = width;
    if (this.#picture) this.draw(this.#picture);
    this.#options.fitted?.();
  }

  /**
   * Draws `{ x, y, lines, bounds, bands, labels, says }`: `x` and `y` the ends, `lines` by id as
   * `[xs, ys]`, `bounds` as `{ at, look }` across, `bands` as `{ from, to, look }` along x, `labels`
   * as `{ at, text, look }` at the right end, `says` the picture in words.
   */
  draw(picture) {
    this.#picture = picture;
    // Asked once only: a width that is read between two drawings makes the browser lay out the page.
    this.#width ||= Math.round(this.#host.clientWidth) || 320;
    const { height, margin } = this.#options;
    const [top, right, bottom, left] = margin;
    set(this.svg, "viewBox", `0 0 ${this.#width} ${height}`);
    set(this.svg, "width", this.#width);
    set(this.svg, "height", height);
    if (picture.says) set(this.svg, "aria-label", picture.says);
    this.area = { left, right: this.#width - right, top, bottom: height - bottom };
    this.x_place = to_place(picture.x, [this.area.left, this.area.right]);
    this.y_place = to_place(picture.y, [this.area.bottom, this.area.top]);
    for (const pool of Object.values(this.pools)) pool.begin();
    this.#draw_grid(picture);
    this.#draw_marks(picture);
    for (const [id, node] of this.#lines) {
      const line = picture.lines[id];
      set(node, "d", line ? path(line[0], line[1], this.x_place, this.y_place) : "");
    }
    this.#draw_labels(picture.labels ?? []);
    for (const pool of Object.values(this.pools)) pool.end();
  }

  #draw_grid({ x, y }) {
    const { left, right, top, bottom } = this.area;
    const { x_count, y_count, x_number = String, y_number = String, bare } = this.#options;
    for (const value of ticks(y, y_count)) {
      const at = this.y_place(value);
      this.pools.grid.take({ x1: left, x2: right, y1: at, y2: at, class: value === 0 ? "zero" : "rule" });
      this.pools.numbers.take({ x: left - 6, y: at + 4, "text-anchor": "end" }, y_number(value));
    }
    for (const value of ticks(x, Math.min(x_count, Math.max(2, (right - left) / 45)))) {
      const at = this.x_place(value);
      this.pools.grid.take({
        x1: at,
        x2: at,
        y1: top,
        y2: bottom,
        class: value === 0 && x[0] < 0 ? "zero" : "rule",
      });
      if (!bare) this.pools.numbers.take({ x: at, y: bottom + 17, "text-anchor": "middle" }, x_number(value));
    }
    this.#draw_titles();
  }

  /** What the axes are: `y_title` over the upright one, `x_titles` under the two ends of the other. */
  #draw_titles() {
    const { left, right, top, bottom } = this.area;
    const { y_title, x_titles } = this.#options;
    if (y_title) this.pools.numbers.take({ x: left - 38, y: top - 8, "text-anchor": "start" }, y_title);
    if (!x_titles) return;
    this.pools.numbers.take({ x: left, y: bottom + 33, "text-anchor": "start" }, x_titles[0]);
    this.pools.numbers.take({ x: right, y: bottom + 33, "text-anchor": "end" }, x_titles[1]);
  }

  #draw_marks({ bounds = [], bands = [], y }) {
    const { left, right, top, bottom } = this.area;
    for (const band of bands) {
      const from = Math.max(left, this.x_place(band.from));
      const to = Math.min(right, this.x_place(band.to));
      this.pools.bands.take({
        x: from,
        y: top,
        width: Math.max(1, to - from),
        height: bottom - top,
        class: band.look,
      });
    }
    for (const bound of bounds) {
      if (bound.at < y[0] || bound.at > y[1]) continue;
      const at = this.y_place(bound.at);
      this.pools.bounds.take({ x1: left, x2: right, y1: at, y2: at, class: bound.look });
    }
  }

  /** Labels at the right end keep a distance from one another, in the order of their values. */
  #draw_labels(labels) {
    const sorted = labels
      .map((label) => ({ ...label, y: this.y_place(label.at) }))
      .sort((one, other) => one.y - other.y);
    for (let i = 1; i < sorted.length; i += 1)
      sorted[i].y = Math.max(sorted[i].y, sorted[i - 1].y + LABEL_GAP);
    const over = sorted.length > 0 ? Math.max(0, sorted.at(-1).y - this.area.bottom) : 0;
    for (const label of sorted) {
      this.pools.labels.take(
        { x: this.area.right + 6, y: label.y - over + 4, class: label.look },
        label.text,
      );
    }
  }
}
